"""The log: what is being made, how springback drifts, what is left over, what was bent."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from nicegui import ui

from soapstone.errors import InputError
from soapstone.flow.looking_back import LotDrift, ShopLog, look_back
from soapstone.log.store import LoggedTrial, Remnant, Run, log_path
from soapstone.quantities import Units, format_length
from soapstone.web.bench_desk import Benches
from soapstone.web.desks import Desks
from soapstone.web.drift import drift_svg, drift_words
from soapstone.web.look import block, choice, dress, slab, words
from soapstone.web.tabs import shop_top

SHOWN = 25
"""Bends and runs that are listed; older ones are counted."""


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @ui.page("/log")
    def show() -> None:
        dress("Log")
        with block("main", "page stack"):
            shop_top("Log", "Log")
            LogPage(desks).show()


class LogPage:
    """The log in one browser."""

    def __init__(self, desks: Desks) -> None:
        self.desks = desks
        self.picked: tuple[str, str] | None = None
        self.seen: object = None

    def show(self) -> None:
        """Build the page."""
        self.body = block("div", "stack")
        self._refresh()
        ui.timer(2.0, self._watch)

    def _watch(self) -> None:
        if _stamp(log_path()) != self.seen:
            self._refresh()

    def _refresh(self) -> None:
        self.seen = _stamp(log_path())
        self.body.clear()
        with self.body:
            try:
                log = look_back()
            except InputError as error:
                words(str(error), kind="say stop")
                return
            if not (log.runs or log.trials or log.remnants):
                words("Nothing is in the log yet.", "h2")
                words(
                    "Every tube made step by step at the bender writes its bends and what is left "
                    "of the stick here.",
                    kind="quiet",
                )
                return
            self._show(log, self._units())

    def _units(self) -> Units:
        """Write lengths as the shop's first bench does."""
        try:
            return Benches(self.desks.shop).open().shown().bench.units
        except InputError:
            return "mm"

    def _show(self, log: ShopLog, units: Units) -> None:
        opened = [run for run in log.runs if run.ended is None]
        if opened:
            words("On the bender now", "h2")
            with block("div", "cards"):
                for run in opened:
                    _run(run)
        if log.lots:
            self._drift(log.lots)
        with block("div", "split"):
            _bends(log.trials)
            with block("div", "stack"):
                _remnants(log.remnants, units)
                _made([run for run in log.runs if run.ended is not None])

    def _drift(self, lots: Sequence[LotDrift]) -> None:
        pairs = list(dict.fromkeys((lot.die, lot.tubing) for lot in lots))
        if self.picked not in pairs:
            # the pair that was bent last
            self.picked = max(pairs, key=lambda pair: max(_of(lots, pair), key=_last).last)
        mine = _of(lots, self.picked)
        with slab(), block("div", "split"):
            with block("div", "stack"):
                names = {f"{die}, {tubing}": (die, tubing) for die, tubing in pairs}
                here = f"{self.picked[0]}, {self.picked[1]}"
                choice("Die and tubing", names, here, partial(self._pick, names))
                ui.html(drift_svg(mine), sanitize=False)
            with block("div", "stack"):
                words("Does the metal change?", "h2")
                words(drift_words(mine))
                words("The bars hold what the springback may be, 19 times in 20.", kind="quiet")

    def _pick(self, names: dict[str, tuple[str, str]], name: str) -> None:
        self.picked = names.get(name)
        self._refresh()


def _last(lot: LotDrift) -> str:
    return lot.last


def _of(lots: Sequence[LotDrift], pair: tuple[str, str]) -> list[LotDrift]:
    return [lot for lot in lots if (lot.die, lot.tubing) == pair]


def _stamp(path: Path) -> object:
    """Give what changes when the log is written to; the newest steps stand beside it at first."""
    beside = (path, path.with_name(f"{path.name}-wal"))
    return [(one.stat().st_mtime_ns, one.stat().st_size) for one in beside if one.is_file()]


def _run(run: Run) -> None:
    with slab():
        words(run.tube, "h2")
        lot = f", lot {run.lot}" if run.lot else ""
        words(f"{_job(run)}, begun {run.started[:10]}{lot}", kind="quiet")


def _job(run: Run) -> str:
    return Path(run.job).stem


def _bends(trials: Sequence[LoggedTrial]) -> None:
    with slab():
        words("Bends made", "h2")
        if not trials:
            words("None yet.", kind="quiet")
            return
        with block("div", "scroll"), block("table", "chalked left"):
            with block("tr"):
                for head in ("date", "dial", "came out", "die, tubing, lot"):
                    block("th", "", head)
            for one in trials[:SHOWN]:
                with block("tr"):
                    block("td", "quiet", one.date)
                    block("td", "strong", f"{one.dial:.1f}°")
                    block("td", "strong", f"{one.angle:.1f}°")
                    block("td", "quiet", ", ".join(filter(None, (one.die, one.tubing, one.lot))))
        if len(trials) > SHOWN:
            words(f"and {len(trials) - SHOWN} before", kind="quiet")


def _remnants(remnants: Sequence[Remnant], units: Units) -> None:
    with slab():
        words("Left over, and of use", "h2")
        if not remnants:
            words("Nothing.", kind="quiet")
        longest = max((one.length for one in remnants), default=1.0)
        for one in remnants:
            with block("div", "bar-row"):
                with block("div", "row apart"):
                    words(format_length(one.length, units), kind="strong")
                    said = (one.tubing, f"lot {one.lot}" if one.lot else "", one.date)
                    words(", ".join(filter(None, said)), kind="quiet")
                block("div", "bar steel").style(f"width:{100 * one.length / longest:.1f}%")


def _made(runs: Sequence[Run]) -> None:
    if not runs:
        return
    with slab():
        words("Tubes finished", "h2")
        with block("dl", "facts"):
            for run in runs[:SHOWN]:
                block("dt", "", f"{run.tube}, {_job(run)}")
                block("dd", "", (run.ended or "")[:10])
        if len(runs) > SHOWN:
            words(f"and {len(runs) - SHOWN} before", kind="quiet")
