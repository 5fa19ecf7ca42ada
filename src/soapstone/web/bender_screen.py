"""One step of a run as a screen of a phone: one giant number, what to do, what to press.

What is to be done and in which words comes from the run; here it is laid out.
"""

from dataclasses import dataclass
from html import escape

from soapstone.flow.at_bender import Standing, answer, changes, distances, looked_back
from soapstone.flow.running import Running
from soapstone.plan.guide import Event, Step
from soapstone.plan.model import BendStep, TubePlan
from soapstone.sheets.words import (
    LEVEL_SAYS_LITTLE,
    Numbers,
    clock_words,
    degrees,
    is_still,
    roll_title,
    roll_way,
)
from soapstone.web.bender_pictures import pictures
from soapstone.web.plain import button, el, words
from soapstone.web.stick import NARROW, stick_svg

STEPS = (-1.0, -0.5, -0.1, 0.1, 0.5, 1.0)
"""Degrees by which a touch of the stepper changes the angle."""


_AWAKE = "Set the phone's screen to stay on: this browser does not let the page do it."


@dataclass(frozen=True, slots=True)
class Giant:
    """The number of a step: what it is, how it is written, its unit and what goes with it."""

    over: str
    number: str
    unit: str = ""
    under: str = ""


@dataclass(frozen=True, slots=True)
class Screen:
    """A screen to send: its HTML, and which step of which run it is."""

    html: str
    stamp: str
    run: str
    number: int
    back: int

    def as_json(self) -> dict[str, str | int]:
        """Give it for the page's script; `step` tells one screen from another."""
        return {
            "html": self.html,
            "stamp": self.stamp,
            "run": self.run,
            "number": self.number,
            "back": self.back,
            "step": self.step,
        }

    @property
    def step(self) -> str:
        """What tells this screen from every other one."""
        return f"{self.run}.{self.number}.{self.back}"


def screen(at: Standing, back: int = 0, learnt: tuple[str, ...] = ()) -> Screen:
    """Make the screen of a tube: its present step, one done `back` steps ago, or a beginning.

    `learnt` is said of a tube that is finished.
    """
    run = "" if at.run is None else at.run.id
    if at.now is None or not at.open:
        return Screen(_beginning(at, learnt), at.stamp, run, 0, 0)
    back = max(0, min(back, len(at.now.state.said)))
    shown = looked_back(at.now, back) if back else at.now
    body = [
        _place(at.now, back),
        _hand(at),
        *_step(shown),
        *([_was(answer(at.now, back))] if back else []),
        _presses(at, shown, back),
        *([] if back else [_anew(at)]),
    ]
    return Screen("".join(body), at.stamp, run, at.now.state.number, back)


def giant_of(now: Running) -> Giant | None:
    """Give the number that a step is about; None where it is about several, or none."""
    step, plan = now.state.step, now.state.plan
    numbers = numbers_of(now)
    if step.kind == "stock":
        return Giant("cut the stick to", *_tape(plan.stock_tape, numbers))
    if step.cut is not None:
        return Giant("saw at", *_tape(step.cut.stock_mark, numbers))
    return None if step.bend is None else _at_bend(step, step.bend, plan, numbers)


def _at_bend(step: Step, bend: BendStep, plan: TubePlan, numbers: Numbers) -> Giant:
    wanted = degrees(bend.angle)
    if step.kind == "set up":
        return _set_up(bend, plan, numbers)
    if step.kind == "pull" and step.dial is not None:
        over = "take it further, stop the dial at" if step.again else "stop the dial at"
        return Giant(over, f"{step.dial:.4g}°")
    if step.kind == "overshot":
        return Giant("measured", degrees(step.measured or 0.0), under=f"wanted {wanted}")
    return Giant("should come to", wanted)


def numbers_of(now: Running) -> Numbers:
    """Give how the numbers of a run are written."""
    setup = now.drawn.setup
    return Numbers(now.planned.job.units, setup.tape, setup.dial_step)


def _tape(mm: float, numbers: Numbers) -> tuple[str, str]:
    return numbers.length(mm, unit=False), numbers.units


def _set_up(bend: BendStep, plan: TubePlan, numbers: Numbers) -> Giant:
    """Choose what the setting up of a bend hangs on: the level, else the roll, else the mark."""
    level = bend.level
    if level is not None and level.sharpness >= LEVEL_SAYS_LITTLE:
        up = f"{level.rises} end up" if level.rises else ""
        return Giant(f"level on leg {level.leg} reads", degrees(level.reads), under=up)
    if bend.n != plan.bends[0].n and not is_still(bend.roll):
        return Giant("roll", roll_title(bend.roll), under=f"{roll_way(bend.roll)}, from the tail")
    return Giant(f"mark {bend.n}, to the die's index line", *_tape(bend.stock_mark, numbers))


# --- the parts of a screen -----------------------------------------------------------------------


def _place(now: Running, back: int) -> str:
    """Say how far on the tube is."""
    done = len(now.state.said) - back
    whole = len(now.state.said) + len(now.state.todo) - 1
    lot = f" · lot {now.run.lot}" if now.run.lot else ""
    told = words(f"Step {done + 1} of {max(whole, done + 1)}{lot}", "span")
    return el("div", told, "steps")


def _hand(at: Standing) -> str:
    """Say which hand this is, where there are two that could be taken for each other."""
    name = at.drawn.name
    if at.drawn.of:
        told = f"mirror image of {at.drawn.of}: rolls go the other way"
    elif at.images:
        told = f"its mirror image {', '.join(at.images)} rolls the other way"
    else:
        return ""
    return el("div", escape(name) + words(told, "small"), "hand", role="note")


def _step(now: Running) -> list[str]:
    title, *lines = now.words
    step, plan = now.state.step, now.state.plan
    shown = [words(title, "h2")]
    if giant := giant_of(now):
        shown.append(_giant(giant))
    if step.kind == "set up" and step.bend is not None:
        shown.append(_pair(step.bend, plan, numbers_of(now)))
    if step.kind == "mark":
        shown += [_marks(now), *([_lines(lines[:1])] if now.state.made else [])]
    elif step.kind == "check":
        shown.append(_tapes(now))
    elif step.kind != "measure":  # its one line is the giant number
        shown.append(_lines(lines))
    if step.kind == "overshot" and now.offer is not None and now.offer.sound:
        told = changes(plan, now.offer, now.planned.job.units)
        shown.append(_list("The rescue changes", told or ("nothing but where the ends lie",)))
    if step.bend is not None:
        shown.append(pictures(plan, step.bend, step.kind))
    if step.kind in ("stock", "mark", "set up", "cut"):
        lit = step.bend.n if step.bend else 0
        shown.append(stick_svg(plan, numbers_of(now), NARROW, lit))
    return shown


def _giant(giant: Giant) -> str:
    unit = words(giant.unit, "small") if giant.unit else ""
    number = el("span", escape(giant.number) + unit, "giant", style="display:inline-block")
    under = words(giant.under, kind="over") if giant.under else ""
    return el("div", words(giant.over, kind="over") + el("div", number) + under, "figure")


def _pair(bend: BendStep, plan: TubePlan, numbers: Numbers) -> str:
    """Write the mark and the roll of a bend beside each other, or the seam for the first bend."""
    mark = words(f"mark {bend.n}", "span", "quiet") + words(numbers.length(bend.stock_mark), "b")
    if bend.n == plan.bends[0].n:
        name, told = "weld seam at", clock_words(plan.seam.clock) if plan.seam else "no seam"
        mark = words("leads", "span", "quiet") + words(f"{bend.lead} end", "b")
    else:
        name, told = f"roll {roll_way(bend.roll)}", roll_title(bend.roll)
    other = words(name, "span", "quiet") + words(told, "b")
    return el("div", el("div", mark) + el("div", other), "pair")


def _lines(lines: list[str]) -> str:
    return el("div", "".join(words(line) for line in lines), "lines") if lines else ""


def _list(title: str, lines: tuple[str, ...]) -> str:
    items = "".join(words(line, "li") for line in lines)
    return el("section", words(title, kind="quiet") + el("ul", items), "slab lines")


def _marks(now: Running) -> str:
    """List what goes on the stick, along the tape."""
    plan, numbers = now.state.plan, numbers_of(now)
    left = {todo.bend.n for todo in now.state.todo if todo.kind == "set up" and todo.bend}
    rows = [
        (bend.mark, el("i", str(bend.n)), bend.stock_mark, f"{bend.lead} end leads")
        for bend in plan.bends
        if bend.n in left
    ]
    rows += [
        (cut.mark, el("i", "cut", "cut"), cut.stock_mark, f"keep toward {cut.keeps}")
        for cut in plan.cuts
        if cut.offcut > 0
    ]
    items = (
        el("li", sign + words(numbers.length(at), "b") + words(told, "span", "quiet"))
        for _, sign, at, told in sorted(rows)
    )
    return el("ol", "".join(items), "marks")


def _tapes(now: Running) -> str:
    items = (
        el("li", words(reads, "b") + words(where, "span", "quiet"))
        for where, reads in distances(now)
    )
    return el("ol", "".join(items), "marks")


def _was(said: Event) -> str:
    told = {
        "angle": f"Measured: {said.angle:.1f}°." if said.angle is not None else "",
        "rescue": "The rescue was taken.",
        "done": "Done.",
        "undo": "",
    }[said.kind]
    return words(f"{told} You are looking back: nothing is undone.", kind="past lines")


# --- what to press -------------------------------------------------------------------------------


def _presses(at: Standing, shown: Running, back: int) -> str:
    assert at.now is not None
    said = len(at.now.state.said)
    earlier = button("◀ Look back", data_back=str(back + 1)) if back < said else ""
    if back:
        later = button("Next ▶", data_back=str(back - 1))
        now = button("To where it stands", "main", data_back="0")
        return el("div", now + el("div", earlier + later, "row"), "go")
    undo = button("Undo last step", data_say="undo") if said else ""
    row = el("div", earlier + undo, "row") if said else ""
    stepper = _stepper(shown.state.step) if shown.state.step.kind == "measure" else ""
    return stepper + el("div", _forward(shown) + row, "go")


def _forward(now: Running) -> str:
    step = now.state.step
    if step.kind == "measure":
        return button("That is what it measures", "main", data_angle="")
    if step.kind == "overshot":
        take = button("Take the rescue", "main", data_say="rescue")
        sound = now.offer is not None and now.offer.sound
        keep = "Go on with it as it is"
        return (
            take + button(keep, data_say="done") if sound else button(keep, "main", data_say="done")
        )
    said = {
        "stock": "It is cut",
        "mark": "All marks are on",
        "set up": "It is set up",
        "pull": "Pulled, and released",
        "cut": "It is cut",
        "check": "Checked: the tube is finished",
    }
    return button(said.get(step.kind, "Done"), "main", data_say="done")


def _stepper(step: Step) -> str:
    field = (
        '<input class="entry" id="angle" inputmode="decimal" autocomplete="off" maxlength="12" '
        f'placeholder="measured" aria-label="Measured angle, in degrees" '
        f'data-wanted="{step.bend.angle if step.bend else 0:.1f}">'
    )
    presses = "".join(button(f"{by:+g}°".replace("-", "−"), data_by=f"{by:g}") for by in STEPS)
    return el("div", field + presses, "stepper")


def _lot_field(lot: str = "") -> str:
    return (
        '<label class="field"><span>Lot of tubing, if you mark it</span><input class="entry" '
        f'id="lot" autocomplete="off" maxlength="60" value="{escape(lot)}"></label>'
    )


def _anew(at: Standing) -> str:
    assert at.run is not None
    told = words("This run is given up; what was recorded of it stays in the log.", kind="quiet")
    press = button("Give it up and begin anew", data_begin=at.run.id)
    inner = told + _lot_field(at.run.lot) + press
    return el("details", el("summary", "Make it anew from a new stick") + el("div", inner, "stack"))


def _beginning(at: Standing, learnt: tuple[str, ...]) -> str:
    """Make the screen of a tube that is not in the making."""
    body = [_hand(at)]
    finished = at.now is not None and at.now.state.finished
    if finished and at.now is not None:
        body.append(words("Finished", "h2"))
        body.append(words("Tape it, outside to outside", kind="over") + _tapes(at.now))
        body.append(_list("What it taught", learnt) if learnt else "")
    if at.trouble:
        body += [words("This run cannot be gone on with", "h2"), words(at.trouble, kind="say stop")]
    body += [words(str(one), kind="say stop") for one in _stopping(at.drawn)]
    given_up = at.run.id if at.trouble and at.run is not None else ""
    label = "Make another" if finished else "Give it up and begin anew" if given_up else "Begin"
    aware = words(
        "Hands clear of die, clamp and follower: they pinch, and a loaded ram lets go at once.",
        kind="say warn",
    ) + el("p", _AWAKE, "quiet", id="awake", hidden="")
    lot = _lot_field(at.run.lot if at.run is not None else "")
    press = button(label, "" if finished else "main whole", data_begin=given_up)
    body.append(el("div", aware + lot + press, "stack"))
    return "".join(body)


def _stopping(plan: TubePlan) -> list[str]:
    return [str(found) for found in plan.problems if found.severity == "stop"]
