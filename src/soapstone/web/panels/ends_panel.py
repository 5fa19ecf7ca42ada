"""A tube's ends: cut square, or coped onto a tube or a plate, with the cut and its template."""

import math
from collections.abc import Sequence
from functools import partial
from html import escape

from nicegui import run, ui

from soapstone.check.cope.joint import LEAST, Cope, End
from soapstone.errors import InputError
from soapstone.findings import stops
from soapstone.flow.coping import templates_of
from soapstone.flow.reshaping import bare
from soapstone.flow.seating import (
    ENDS,
    Seat,
    nearest_first,
    plate_at,
    seats_of,
    with_ends_of_its_tube,
    with_longer_end,
    with_plate_part,
    with_seat,
    without_seat,
)
from soapstone.geometry.vectors import Vec3
from soapstone.job.tube import Plane
from soapstone.plan.model import TubePlan
from soapstone.quantities import format_fine, parse_length
from soapstone.sheets.contents import Paper
from soapstone.sheets.cope_wrap import wrap_svg
from soapstone.web.look import (
    block,
    choice,
    complain,
    fold,
    press,
    slab,
    without_folders,
    words,
)
from soapstone.web.panels.desk_page import DeskPage
from soapstone.web.panels.tables import bare_text, three_fields
from soapstone.web.shop import plain_name

SQUARE, PLATE = "cut square", "onto a plate"
ONTO = "onto "
NOTHING_ELSE = "nothing else"
EVERY = 30
"""Degrees between the columns of the depths shown."""

MOST_SHARE = 1000.0
"""A direction's numbers say how they stand to each other; more than this is a slip."""

Part = tuple[End, int, str]
"""Which three numbers of a plate: of which end, which of those it sits on, "at" or "normal"."""


def show(page: DeskPage) -> None:
    """Show what both ends of the picked tube sit on, and how they are cut."""
    tube = page.tube
    if tube is None:
        return
    seats = seats_of(page.desk.now.planned, tube.name)
    for end in ENDS:
        with slab("ends"):
            _end(page, tube.name, end, seats.of(end))
    if seats.trouble:
        words(f"No cut can be told: {without_folders(seats.trouble)}", kind="say stop")
    cuts = [seat.cut for seat in seats.seats if seat.cut is not None]
    if any(not stops(cut.problems) for cut in cuts):
        with slab("ends"):
            _template(page, tube.name)
    _image(page, tube.name)


def _end(page: DeskPage, tube: str, end: End, seats: Sequence[Seat]) -> None:
    words(f"{end} end", "h2")
    if not seats:
        choice(
            f"{end} end is", _ways(page, tube, end), SQUARE, partial(_seat, page, tube, end, None)
        )
        return
    for seat in seats:
        named = f"{end} end is" if seat.number == 0 else f"{end} end, and also"
        options, now = (
            _ways(page, tube, end),
            PLATE if isinstance(seat.onto, Plane) else _onto(seat.onto),
        )
        choice(named, options, now, partial(_seat, page, tube, end, seat.number))
        if isinstance(seat.onto, Plane):
            _plate(page, tube, seat, seat.onto)
        if seat.cut is not None:
            _cut(page, tube, seat, seat.cut)
    options = [NOTHING_ELSE, *_ways(page, tube, end)[1:]]
    choice(f"{end} end meets also", options, NOTHING_ELSE, partial(_seat, page, tube, end, None))


def _onto(name: str) -> str:
    return f"{ONTO}{name}"


def _ways(page: DeskPage, tube: str, end: End) -> list[str]:
    others = nearest_first(page.desk.now.planned, tube, end)
    return [SQUARE, *map(_onto, others), PLATE]


def _seat(page: DeskPage, tube: str, end: End, number: int | None, way: str) -> None:
    """Let an end sit on what was chosen, in place of what it sat on."""
    if way == NOTHING_ELSE or (way == SQUARE and number is None):
        return
    if way == SQUARE:
        edit = partial(without_seat, tube=tube, end=end, number=number or 0)
        page.change(edit, f"{end} end of {tube} off what it sat on")
        return
    plan = page.tube
    if way == PLATE and not isinstance(plan, TubePlan):
        complain(f"{tube}: it has no shape yet that a plate could be put to")
        return

    def put(text: str) -> str:
        job = page.desk.now.job
        if way == PLATE and isinstance(plan, TubePlan):
            return with_seat(text, job, tube, end, plate_at(plan, end), number)
        return with_seat(text, job, tube, end, way.removeprefix(ONTO), number)

    page.change(put, f"{end} end of {tube} {way}")


def _plate(page: DeskPage, tube: str, seat: Seat, plate: Plane) -> None:
    units = page.desk.now.job.units
    place, way = (seat.end, seat.number, "at"), (seat.end, seat.number, "normal")
    shown = [bare_text(value, units) for value in plate.at]
    _three(page, tube, place, "A point on the plate", shown, plate.at)
    turned = [f"{value:g}" for value in plate.normal]
    _three(page, tube, way, "Square to the plate (0, 0, 1 for a level one)", turned, plate.normal)


def _three(
    page: DeskPage, tube: str, part: Part, label: str, shown: Sequence[str], values: Vec3
) -> None:
    put = partial(_put, page, tube, part, values)
    three_fields(label, lambda axis: f"{label}, {part[0]} end, {axis}", shown, put)


def _put(page: DeskPage, tube: str, part: Part, values: Vec3, axis: int, typed: str) -> None:
    end, number, key = part

    def edit(text: str) -> str:
        job = page.desk.now.job
        now = list(values)
        if key == "at":
            now[axis] = parse_length(typed, job.units)
            return with_plate_part(
                text, tube, end, number, key, axis, [bare(value, job) for value in now]
            )
        now[axis] = share_typed(typed)
        return with_plate_part(text, tube, end, number, key, axis, now)

    page.change(edit, f"plate of the {end} end of {tube}")


def share_typed(typed: str) -> float:
    """Read one of the three numbers of a direction; a ValueError says what it may be."""
    try:
        share = float(typed)
    except ValueError:
        share = math.inf
    if not abs(share) <= MOST_SHARE:
        raise ValueError(f"expected a number such as 0, 1 or 0.5, found {typed[:40]!r}")
    return share


def facts(cut: Cope, units: str) -> list[tuple[str, str]]:
    """Say a cut in numbers, as a fabricator asks for them."""
    length = partial(format_fine, units="in" if units == "in" else "mm")
    more = "Add to the drawn length" if cut.added >= 0 else "Take off the drawn length"
    return [
        ("Meets it at", f"{cut.angle:.1f}°"),
        ("Centre lines apart", length(cut.offset)),
        ("Saw it square on the stick at", length(cut.saw)),
        (more, length(abs(cut.added))),
        ("Deepest cut", length(cut.deepest)),
        ("Weld round it", length(cut.weld)),
    ]


def _cut(page: DeskPage, tube: str, seat: Seat, cut: Cope) -> None:
    if stops(cut.problems):
        words("It cannot be cut so; what is in the way is said below.", kind="say stop")
        if cut.short and page.desk.now.job.tube(tube).points is not None:
            _longer(page, tube, cut)
        return
    units = page.desk.now.job.units
    with block("dl", "facts"):
        for what, value in facts(cut, units):
            block("dt", "", what)
            block("dd", "", value)
    if cut.deepest < LEAST:
        words("It meets it square: there is no saddle to cut.", kind="quiet")
        return
    key = f"cut {tube} {seat.end} {seat.number}"
    with fold(page.unfolded, key, "The saddle all round"):
        _saddle(page, cut)


def _longer(page: DeskPage, tube: str, cut: Cope) -> None:
    """Offer to draw an end as much longer as its cut needs, rounded up to a half millimetre."""
    more = math.ceil(2 * cut.short) / 2
    said = format_fine(more, page.desk.now.job.units)

    def edit(text: str) -> str:
        return with_longer_end(text, page.desk.now.job, tube, cut.end, more)

    done = f"{cut.end} end of {tube} drawn {said} longer"
    press(f"Draw it {said} longer", lambda: page.change(edit, done))


def _saddle(page: DeskPage, cut: Cope) -> None:
    tube, units = page.tube, page.desk.now.job.units
    if cut.from_bend is not None:
        turn = f"0° lies {cut.from_bend:.0f}° round from the inside of the bend next to it."
        words(turn, kind="quiet small")
    with block("div", "scroll"), block("table", "chalked"):
        with block("tr"):
            block("th", "", "round the tube")
            block("th", "", "deep")
        for degrees, depth in cut.clear:
            if degrees % EVERY == 0:
                with block("tr"):
                    block("td", "", f"{degrees:g}°")
                    block("td", "", format_fine(depth - cut.tip, units))
    if isinstance(tube, TubePlan):
        drawn = wrap_svg(cut, tube.setup.od, units)
        named = escape(f"Template of the {cut.end} end, not to scale here")
        ui.html(
            f'<figure class="paper" role="img" aria-label="{named}">{drawn}</figure>',
            sanitize=False,
        )


def _template(page: DeskPage, tube: str) -> None:
    usual: Paper = "Letter" if page.desk.now.job.units == "in" else "A4"
    asked: dict[str, Paper] = {"paper": usual}

    def turned(paper: str) -> None:
        asked["paper"] = "Letter" if paper == "Letter" else "A4"

    async def take() -> None:
        planned = page.desk.now.planned
        try:
            made = await run.io_bound(templates_of, planned, tube, asked["paper"])
        except InputError as error:
            complain(error)
            return
        if made is not None:
            named = f"{page.name}, {plain_name(tube) or 'tube'}, templates.pdf"
            ui.download.content(made, named, "application/pdf")

    words("Templates to wrap round", "h2")
    words("Print at 100 %, measure the check line, wrap, scribe along the red edge.", kind="quiet")
    with block("div", "row low"):
        choice("Paper", ("A4", "Letter"), usual, turned)
        press("Take the templates (PDF)", take, "main")


def _image(page: DeskPage, tube: str) -> None:
    """Say how the ends of mirror images go."""
    job = page.desk.now.job
    of = job.tube(tube).mirror
    images = [one.name for one in job.tubes if one.mirror and one.mirror.of == tube]
    if of is not None:
        with slab("ends"):
            words(
                f"{tube} is the mirror image of {of.of}: its ends lie and move with those of that "
                "tube. What they are cut to sit on is said here, for this one alone.",
                kind="quiet",
            )
            if any(one.tube == of.of for one in job.copes):
                press(f"Cut both ends as those of {of.of}", partial(_as_its_tube, page, tube))
    elif images:
        what = "its ends follow" if len(images) == 1 else "their ends follow"
        words(
            f"{' and '.join(images)}: mirror image{'s' if len(images) > 1 else ''} of {tube}; "
            f"{what}. What an image's ends are cut to sit on is said at the image.",
            kind="quiet",
        )


def _as_its_tube(page: DeskPage, tube: str) -> None:
    page.change(
        lambda text: with_ends_of_its_tube(text, page.desk.now.job, tube),
        f"ends of {tube} cut as those of the tube it mirrors",
    )
