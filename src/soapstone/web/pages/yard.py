"""The yard: jobs chosen, and how to saw their pieces out of sticks for the least money."""

from collections import Counter
from collections.abc import Sequence
from functools import partial
from urllib.parse import urlencode

from nicegui import background_tasks, run, ui

from soapstone.bench.rates import Rates
from soapstone.errors import InputError
from soapstone.flow.sawing import MOST_TIMES, TubingCut, Wanted, saw_jobs, unplanned
from soapstone.flow.yard_stock import in_yard
from soapstone.job.files import bench_of, read_job
from soapstone.quantities import Units, format_size, parse_length
from soapstone.sheets.words import Numbers
from soapstone.web.desks import Desks
from soapstone.web.look import anew, block, dress, entry, press, say, slab, without_folders, words
from soapstone.web.sawn_stick import pieces_words, sawn_svg
from soapstone.web.shop import JobEntry
from soapstone.web.stick import NARROW, WIDE
from soapstone.web.tabs import shop_top

Cuts = tuple[tuple[TubingCut, ...], tuple[Wanted, ...], dict[str, str]]
"""What is sawn, for which jobs, and what is wrong with those that cannot be opened."""


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @ui.page("/yard")
    def show() -> None:
        dress("Yard")
        with block("main", "page stack"):
            shop_top("Yard", "Yard")
            YardPage(desks).show()


def told_apart(jobs: Sequence[JobEntry]) -> dict[str, str]:
    """Give what each job is called in a list, by name: its title, its file too where two share it.

    Titles are the same where they read the same.
    """
    alike = Counter(_as_read(job.title) for job in jobs)
    return {
        job.name: f"{job.title} ({job.name}.toml)" if alike[_as_read(job.title)] > 1 else job.title
        for job in jobs
    }


def _as_read(title: str) -> str:
    return " ".join(title.split()).casefold()


class YardPage:
    """The yard in one browser."""

    def __init__(self, desks: Desks) -> None:
        self.desks = desks
        self.jobs: tuple[JobEntry, ...] = ()
        self.called: dict[str, str] = {}
        self.times: dict[str, int] = {}
        self.kerf = ""
        self.with_remnants = False
        self.asked = 0
        self.seen: object = None

    def show(self) -> None:
        """Build the page."""
        self.jobs = tuple(job for job in self.desks.shop.jobs() if not job.trouble)
        if not self.jobs:
            words("No job yet: start one under Jobs.", kind="quiet")
            return
        self.called = told_apart(self.jobs)
        self.times = {job.name: 0 for job in self.jobs} | {self.jobs[0].name: 1}
        with slab():
            words("What is to be made", "h2")
            self.list = block("div", "stack")
            with block("div", "fields"):
                units, kerf = self._first()
                entry("The saw takes (kerf)", format_size(kerf, units), self._kerf)
            self.use = press("Use what is left over", self._use, "left", aria_pressed="false")
        self.result = block("section", "stack", aria_label="What to saw", aria_live="polite")
        self._list()
        self._saw()
        ui.timer(2.0, self._watch)

    # --- what happens ----------------------------------------------------------------------------

    def _first(self) -> tuple[Units, float]:
        """Give the units and the saw of the job changed last."""
        try:
            job = read_job(self.desks.shop.path(self.jobs[0].name))
            return job.units, bench_of(job).rates.kerf
        except InputError:
            return "mm", Rates().kerf

    def _use(self) -> None:
        self.with_remnants = not self.with_remnants
        self.use.props["aria-pressed"] = "true" if self.with_remnants else "false"
        self._saw()

    def _kerf(self, text: str) -> None:
        self.kerf = text
        self._saw()

    def _count(self, name: str, step: int) -> None:
        self.times[name] = min(max(0, self.times[name] + step), MOST_TIMES)
        self._list()
        self._saw()

    def _watch(self) -> None:
        """Saw anew when jobs or benches were changed, here or elsewhere."""
        if self._stamp() != self.seen:
            self._saw()

    def _stamp(self) -> object:
        return self.desks.shop.stamp()

    def _chosen(self) -> list[str]:
        return [name for name, times in self.times.items() if times]

    def _saw(self) -> None:
        background_tasks.create(self._reckon())

    async def _reckon(self) -> None:
        """Saw beside everything else; of two answers on their way the later asked for counts."""
        self.asked += 1
        mine = self.asked
        self.seen = self._stamp()
        self.result.classes("waiting")
        try:
            units, kerf = self._first()
            if self.kerf.strip():
                kerf = parse_length(self.kerf, units)
            cuts: Cuts | None = await run.io_bound(self._cuts, dict(self.times), kerf)
        except (InputError, ValueError) as error:
            cuts = None
            if mine == self.asked:
                self._refuse(f"kerf: {error}" if isinstance(error, ValueError) else str(error))
        if cuts is not None and mine == self.asked:
            self._show(*cuts)
        self.result.classes(remove="waiting")

    def _refuse(self, why: str) -> None:
        """Say why nothing is sawn; cuts by other numbers than those asked for do not stay."""
        self.result.clear()
        with self.result:
            words(without_folders(why), kind="say stop")

    def _cuts(self, times: dict[str, int], kerf: float) -> Cuts:
        wanted, faults = [], {}
        for name, count in times.items():
            if count:
                try:
                    desk = self.desks.open(name)
                    desk.look()
                    wanted.append(Wanted(desk.now.planned, count))
                except InputError as error:
                    faults[name] = str(error)
        remnants = in_yard(None) if self.with_remnants else ()
        return saw_jobs(wanted, kerf, remnants), tuple(wanted), faults

    # --- what is shown ---------------------------------------------------------------------------

    def _list(self) -> None:
        with anew(self.list):
            for job in self.jobs:
                count, called = self.times[job.name], self.called[job.name]
                with block("div", "row counter"):
                    less = press(
                        "−",
                        partial(self._count, job.name, -1),
                        aria_label=f"One {called} less",
                    )
                    less.props["disabled"] = not count
                    words(str(count), "span", "count" if count else "count quiet")
                    press("+", partial(self._count, job.name, 1), aria_label=f"One {called} more")
                    words(called, "span", "grow" if count else "grow quiet")

    def _show(
        self, cuts: tuple[TubingCut, ...], wanted: tuple[Wanted, ...], faults: dict[str, str]
    ) -> None:
        self.result.clear()
        with self.result:
            for fault in faults.values():
                words(without_folders(fault), kind="say stop")
            if not wanted:
                words("Choose what is to be made.", kind="quiet")
            for cut in cuts:
                self._tubing(cut)
            say(unplanned(wanted))
            if cuts:
                words(
                    "Numbers over a stick are read on the tape from its left end; saw on the far "
                    "side of each mark. Lengths are before bending.",
                    kind="quiet",
                )
                if any(cut.cut for cut in cuts):
                    block("a", "tab print", "The cuts as a PDF", href=self._address(cuts))

    def _address(self, cuts: Sequence[TubingCut]) -> str:
        asked = [("job", name) for name in self._chosen()]
        asked += [("times", str(self.times[name])) for name in self._chosen()]
        kerf = next(cut.cut.asked.kerf for cut in cuts if cut.cut)
        asked += [("kerf", repr(kerf))]
        if self.with_remnants:
            asked += [("left", "true")]
        return f"/print/cuts.pdf?{urlencode(asked)}"

    def _tubing(self, cut: TubingCut) -> None:
        numbers = Numbers(cut.units, cut.tape, 1.0)
        with slab():
            words(cut.tubing, "h2")
            say(cut.findings)
            if cut.cut is None:
                return
            with block("div", "row sums"):
                for value, name in _sums(cut, numbers):
                    with block("div"):
                        words(value, kind="big")
                        words(name, kind="quiet")
            words(_proof(cut), kind="quiet")
            longest = max(one.length for one in cut.sticks)
            for stick in cut.sticks:
                with block("div", "sawn"):
                    again = f"{stick.count} × " if stick.count > 1 else ""
                    source = "" if stick.bought else f", {stick.source}"
                    words(f"{again}{numbers.length(stick.length)}{source}", kind="strong")
                    for width, kind in ((WIDE, "wide"), (NARROW, "narrow")):
                        drawn = sawn_svg(stick, cut, longest, width)
                        ui.html(drawn, sanitize=False).classes(kind)
                    words(pieces_words(stick, numbers), kind="quiet")


def _sums(cut: TubingCut, numbers: Numbers) -> list[tuple[str, str]]:
    assert cut.cut is not None
    sawn = sum(one.length * one.count for one in cut.sticks)
    sums = [
        (str(cut.bought), "stick to buy" if cut.bought == 1 else "sticks to buy"),
        (f"{cut.offcuts / sawn:.0%}", f"left over, {numbers.length(cut.offcuts)}"),
    ]
    if cut.priced:
        sums.insert(1, (f"{cut.cut.nest.cost:.2f}", "what the sticks cost"))
    return sums


def _proof(cut: TubingCut) -> str:
    """Say how good the answer is, and that it is proven."""
    assert cut.cut is not None
    nest = cut.cut.nest
    pieces = f"{cut.pieces} piece{'' if cut.pieces == 1 else 's'}"
    if nest.optimal:
        return f"{pieces}. Proven: no other way of sawing costs less."
    over = nest.cost / max(nest.least_cost, 1e-9) - 1
    return f"{pieces}. Proven: at most {over:.1%} dearer than the best there can be."
