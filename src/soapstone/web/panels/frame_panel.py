"""What holds a job, where its tubes are welded to each other and what it carries."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Protocol

from soapstone.exchange.job_edits import without_entry
from soapstone.flow.holding import FASTENED, PLACES, WELDED, with_support, with_weight, with_weld
from soapstone.job.frame import Joint, Load, Support
from soapstone.job.model import Job
from soapstone.quantities import format_force, format_mass
from soapstone.web.desk import Desk, Edit
from soapstone.web.look import anew, block, choice, entry, fold, press, words

ENDS = {"A end": "A", "B end": "B"}


class Page(Protocol):
    """The page of a job's strength, as its panel sees it."""

    desk: Desk

    def change(self, edit: Edit, done: str) -> None:
        """Change the job's file, or say why that cannot be."""


class FramePanel:
    """The lists of what holds and loads a job, each with a way to put one more down."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.place = block("div", "stack")
        now = page.desk.now.job
        self.unfolded = set() if now.supports and now.loads else {"frame"}

    def show(self) -> None:
        """Show it as the job is now."""
        job = self.page.desk.now.job
        tubes = [tube.name for tube in job.tubes]
        title = "What holds it, what it carries"
        with anew(self.place), fold(self.unfolded, "frame", title), block("div", "cards"):
            self._supports(job, tubes)
            self._welds(job, tubes)
            self._loads(job, tubes)

    def _supports(self, job: Job, tubes: list[str]) -> None:
        with block("div", "stack tighter"):
            words("Held at", "h3")
            self._list("support", map(support_words, job.supports))
            asked = {"tube": tubes[0], "end": "A end", "how": next(iter(FASTENED))}
            choice("Tube held", tubes, asked["tube"], partial(asked.__setitem__, "tube"))
            with block("div", "fields"):
                choice("At its", ENDS, asked["end"], partial(asked.__setitem__, "end"))
                choice(
                    "Held",
                    FASTENED,
                    asked["how"],
                    partial(asked.__setitem__, "how"),
                    whole=True,
                )

            def edit(text: str) -> str:
                fix, end = FASTENED[asked["how"]], ENDS[asked["end"]]
                return with_support(text, self.page.desk.now.job, asked["tube"], end, fix)

            self._put("Hold it there", edit, lambda: f"{asked['tube']} held at its {asked['end']}")

    def _welds(self, job: Job, tubes: list[str]) -> None:
        with block("div", "stack tighter"):
            words("Welded to each other", "h3")
            self._list("joint", map(weld_words, job.joints))
            if len(tubes) < 2:
                words("It takes two tubes.", kind="quiet")
                return
            asked = {"one": tubes[-1], "other": tubes[0], "where": next(iter(WELDED))}
            choice("One tube", tubes, asked["one"], partial(asked.__setitem__, "one"))
            choice("At", WELDED, asked["where"], partial(asked.__setitem__, "where"))
            choice("To the other", tubes, asked["other"], partial(asked.__setitem__, "other"))

            def edit(text: str) -> str:
                planned, where = self.page.desk.now.planned, asked["where"]
                return with_weld(text, planned, asked["one"], asked["other"], where)

            self._put("Weld it on", edit, lambda: f"{asked['one']} welded to {asked['other']}")

    def _loads(self, job: Job, tubes: list[str]) -> None:
        with block("div", "stack tighter"):
            words("Carries", "h3")
            self._list("load", (load_words(load, job) for load in job.loads))
            asked = {"tube": tubes[0], "where": "its middle", "mass": "", "times": "1", "case": ""}
            asked["case"] = job.loads[-1].case if job.loads else "load"
            choice("Tube that carries", tubes, asked["tube"], partial(asked.__setitem__, "tube"))
            with block("div", "fields"):
                choice("Hung at", PLACES, asked["where"], partial(asked.__setitem__, "where"))
                entry("It weighs, kg or lb", "", partial(asked.__setitem__, "mass"))
                entry("Times that, as it slams", "1", partial(asked.__setitem__, "times"))
                entry("Goes with the case", asked["case"], partial(asked.__setitem__, "case"))

            def edit(text: str) -> str:
                planned, times = self.page.desk.now.planned, times_typed(asked["times"])
                where, mass = asked["where"], asked["mass"]
                return with_weight(text, planned, asked["tube"], where, mass, times, asked["case"])

            self._put("Hang it there", edit, lambda: f"{asked['mass']} on {asked['tube']}")

    def _list(self, table: str, rows: Iterator[str]) -> None:
        for number, row in enumerate(rows):
            with block("div", "row apart"):
                words(row)
                away = partial(_without, table=table, number=number, row=row)
                done = f"{row}: taken away"
                press(
                    "−",
                    partial(self.page.change, away, done),
                    "small",
                    aria_label=f"Take away: {row}",
                )

    def _put(self, label: str, edit: Edit, done: Callable[[], str]) -> None:
        press(label, lambda: self.page.change(edit, done()), "left")


def _without(text: str, table: str, number: int, row: str) -> str:
    try:
        return without_entry(text, table, number)
    except ValueError:
        raise ValueError(f"{row}: it is gone already") from None


def times_typed(typed: str) -> float:
    """Read how many times its weight something pulls; a ValueError says what it may be."""
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        raise ValueError(f"times its weight: expected a number, found {typed[:40]!r}") from None


def support_words(support: Support) -> str:
    """Say where a job is held, and how."""
    at = f"{support.at} end" if isinstance(support.at, str) else "a place on it"
    how = {6: "fast", 3: "pinned"}.get(len(support.fix), "along " + ", ".join(support.fix))
    return f"{support.tube}, {at}: {how}"


def weld_words(joint: Joint) -> str:
    """Say which tubes are welded to each other."""
    return " and ".join(joint.tubes)


def load_words(load: Load, job: Job) -> str:
    """Say what a load is, and on what."""
    onto = ", ".join(one if isinstance(one, str) else "a place" for one in load.onto)
    if load.mass is None:
        weight = format_force(max(map(abs, load.vector)), job.units)
    else:
        times = max(map(abs, load.g)) if load.g else 1.0
        weight = format_mass(load.mass, job.units) + (f" × {times:g}" if times != 1 else "")
    return f"{load.case}: {weight} on {onto}"
