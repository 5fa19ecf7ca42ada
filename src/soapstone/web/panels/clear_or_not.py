"""Whether the tubes of a job come past what stands and swings about them, in one line each."""

from functools import partial

from soapstone.findings import Finding
from soapstone.fit.clearance import clearance_findings
from soapstone.flow.fitting import CheckedJob, CheckedTube
from soapstone.quantities import Units, format_fine
from soapstone.web.look import say, words


def show(checked: CheckedJob) -> None:
    """Say what comes too near, and what would help; then that all is clear, or which tube is."""
    units = checked.plan.job.units
    for tube in checked.tubes:
        say(in_the_way(tube, units))
    for line in all_clear(checked):
        words(line, kind="say good")


def all_clear(checked: CheckedJob) -> list[str]:
    """Say which tubes are clear, a line each; of many, first whether all of them are."""
    units = checked.plan.job.units
    clear = [tube for tube in checked.tubes if not in_the_way(tube, units)]
    lines = [line for tube in clear if (line := clear_words(tube, units))]
    if len(lines) > 1 and len(clear) == len(checked.plan.tubes):
        lines.insert(0, f"All {len(clear)} tubes are clear.")
    return lines


def in_the_way(tube: CheckedTube, units: Units) -> list[Finding]:
    """Give what a tube comes too near to, the worst first."""
    return clearance_findings(tube.plan.name, tube.gaps, partial(format_fine, units=units))


def clear_words(tube: CheckedTube, units: Units) -> str:
    """Say how near a tube that is clear comes to anything; nothing where nothing is about it."""
    if tube.tightest is None:
        return ""
    near = min(tube.gaps, key=lambda one: one.gap - one.wanted)
    gap, wanted = format_fine(near.gap, units), format_fine(near.wanted, units)
    return f"{tube.plan.name} is clear: {gap} from {near.keepout}, {wanted} wanted."
