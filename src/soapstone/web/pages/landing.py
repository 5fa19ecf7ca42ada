"""How near a job's tubes will land, how likely each passes, and what matters most."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import get_args

from soapstone.check.budget.model import Budget
from soapstone.errors import InputError
from soapstone.flow.budgeting import LIKELY, BudgetedJob, Grade, budget_job
from soapstone.quantities import Units, format_fine
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import block, choice, entry, say, slab, without_folders, words
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.reckoned import ReckonedPage

SHOWN = 0.02
"""Sources of error with a lesser part are not drawn."""

MOST = 5
"""Sources of error that are drawn."""

GRADES: tuple[Grade, ...] = get_args(Grade)


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @job_page("/landing")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            LandingPage(name, desk).show()


class LandingPage(ReckonedPage[BudgetedJob]):
    """How near the tubes of one job land, in one browser."""

    tab = "How near"
    meanwhile = "Making the tubes many times over, on paper …"

    def __init__(self, name: str, desk: Desk) -> None:
        super().__init__(name, desk)
        self.within = ""
        self.grade: Grade = "B"

    def ask(self) -> None:
        """Ask for what may pass."""
        with block("div", "row low"):
            entry("The B end may be off by", "", self._ask_within)
            choice("else by ISO 13920, class", GRADES, self.grade, self._ask_grade)

    def _ask_within(self, text: str) -> None:
        self.within = text.strip()
        self.reckon()

    def _ask_grade(self, grade: str) -> None:
        self.grade = next(one for one in GRADES if one == grade)
        self.reckon()

    def work(self) -> Callable[[], BudgetedJob]:
        """Make the tubes many times over."""
        return partial(budget_job, self.desk.path, within=self.within, grade=self.grade)

    def cannot(self, why: InputError) -> None:
        """Say what was wrong with what was asked; no answer to something else stays under it."""
        self.body.clear()
        with self.body:
            said = str(why).replace("--within", "may be off by")
            words(without_folders(said), kind="say stop")

    def show_done(self, done: BudgetedJob) -> None:
        """Show each tube, mirror images with their original."""
        if not done.budgets:
            words("No tube of this job is bent.", kind="quiet")
        budgets = {one.tube: one for one in done.budgets}
        of = {tube.name: tube.of for tube in done.plan.planned}
        for name, one in budgets.items():
            if of[name] not in budgets:
                images = [other for other in done.budgets if of[other.tube] == name]
                _tube(one, done.plan.job.units, images)
        say(done.stopping)


def _tube(one: Budget, units: Units, images: Sequence[Budget]) -> None:
    """Show a tube, and where its mirror images land: what matters is the same for them."""
    say_length = partial(format_fine, units=units)
    with slab():
        words(one.tube, "h2")
        with block("div", "split"):
            with block("div", "stack"):
                with block("div", "row sums"):
                    with block("div"):
                        words(say_length(one.radius), kind="big")
                        words("19 of 20 land this near, A end held", kind="quiet")
                    with block("div"):
                        kind = "good" if one.chance >= LIKELY else "bad"
                        words(chance_words(one.chance), kind=f"big {kind}")
                        limit, angle = one.within
                        words(
                            f"pass {say_length(limit)} and {angle:.2g}° ({one.limits})",
                            kind="quiet",
                        )
                for image in images:
                    words(
                        f"{image.tube}, its mirror image: {say_length(image.radius)}, "
                        f"{chance_words(image.chance)} pass"
                    )
                words("What matters most", "p", "strong above")
                shown = [share for share in one.shares if share.part >= SHOWN][:MOST]
                _bars([(_source(share.what, share.bend), share.part) for share in shown])
            with block("div", "stack"):
                words("Bend by bend", "p", "strong")
                _bars([(f"bend {n}", part) for n, part in enumerate(one.bends, 1)])
                if one.gains:
                    words("What would help", "p", "strong above")
                    with block("dl", "facts"):
                        for gain in one.gains[:4]:
                            block("dt", "", gain.what)
                            block("dd", "", say_length(gain.radius))


def chance_words(chance: float) -> str:
    """Say a chance so that nothing is promised that is not sure."""
    if chance >= 0.9995:
        return "nearly all"
    return f"{chance:.1%}" if chance > 0.99 else f"{chance:.0%}"


def _source(what: str, bend: int) -> str:
    return f"{what} of bend {bend}" if bend else what


def _bars(parts: list[tuple[str, float]]) -> None:
    longest = max((part for _, part in parts), default=1.0) or 1.0
    for name, part in parts:
        with block("div", "bar-row"):
            with block("div", "row apart"):
                words(name, "span")
                words(f"{part:.0%}", "span", "strong")
            block("div", "bar").style(f"width:{max(100 * part / longest, 0.5):.1f}%")
