"""Whether the tubes of a job come past what stands and swings about them, in one line each."""

from functools import partial

from soapstone.findings import Finding
from soapstone.fit.clearance import clearance_findings
from soapstone.flow.fitting import CheckedJob, CheckedTube
from soapstone.quantities import Units, format_fine
from soapstone.web.look import say, words


def show(checked: CheckedJob) -> None:
    """Say of each tube whether it is clear, else where it is not and what would help."""
    units = checked.plan.job.units
    for tube in checked.tubes:
        if found := in_the_way(tube, units):
            say(found)
        elif line := clear_words(tube, units):
            words(line, kind="say good")


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
