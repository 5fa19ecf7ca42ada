"""Which tubing and die each tube of a job is made with: named in the bench, or written in place."""

from typing import Literal

from soapstone.bench.model import Bench, Die, Tubing, check_radius
from soapstone.errors import InputError
from soapstone.faults import Fault, near, refuse_faults
from soapstone.job.model import Job
from soapstone.job.tube import InlineDie, InlineTubing, Tube
from soapstone.quantities import INCH
from soapstone.textfiles import one_line

NO_DIE = "no die"
"""Name of the die that stands in for a tube without bends."""


def tubing_of(job: Job, tube: Tube, bench: Bench) -> Tubing:
    """Give the tubing of a tube; that of the tube it mirrors, when it names none.

    Raises
    ------
    InputError
        The bench has no such tubing, or its material is not known.
    """
    owner = _owner(job, tube, "tubing")
    choice = owner.tubing
    if choice is None:
        raise _refuse(job, owner, "tubing", "missing; expected the name of a tubing of the bench")
    if isinstance(choice, InlineTubing):
        name = choice.name or _tubing_name(choice, job.units)
        tubing = Tubing.model_construct(**{**dict(choice), "name": name})
    else:
        names = [one.name for one in bench.tubings]
        found = next((one for one in bench.tubings if one.name == choice), None)
        if found is None:
            raise _refuse(job, owner, "tubing", _no_such("tubing", choice, bench, names))
        tubing = found
    try:
        bench.material(tubing.material)
    except InputError as error:
        raise _refuse(job, owner, "tubing.material", str(error)) from None
    return tubing


def die_of(job: Job, tube: Tube, bench: Bench) -> Die:
    """Give the die of a tube; that of the tube it mirrors, when it names none.

    When none is named at all, the bench's only die for the tubing's diameter is taken; a tube
    without bends then needs none, and one named `NO_DIE` stands in.

    Raises
    ------
    InputError
        The bench has no such die, or which one is meant cannot be told.
    """
    owner = _owner(job, tube, "die")
    choice = owner.die
    if isinstance(choice, InlineDie):
        return _inline_die(job, owner, choice, tubing_of(job, tube, bench))
    if choice is None:
        return _only_die(job, owner, bench, tubing_of(job, tube, bench).od)
    for die in bench.dies:
        if die.name == choice:
            return die
    names = [die.name for die in bench.dies]
    raise _refuse(job, owner, "die", _no_such("die", choice, bench, names))


def _owner(job: Job, tube: Tube, key: Literal["tubing", "die"]) -> Tube:
    """Give the tube that says which: itself, or the first one it mirrors that does."""
    at = tube
    for _ in job.tubes:
        if getattr(at, key) is not None or at.mirror is None:
            break
        at = job.tube(at.mirror.of)
    return at


def _inline_die(job: Job, tube: Tube, choice: InlineDie, tubing: Tubing) -> Die:
    od = choice.od or tubing.od
    try:
        check_radius(choice.clr, od)
    except ValueError as error:
        raise _refuse(job, tube, "die.clr", str(error)) from None
    name = choice.name or f"CLR {_figure(choice.clr, job.units)}"
    return Die.model_construct(**{**dict(choice), "name": name, "od": od})


def _only_die(job: Job, tube: Tube, bench: Bench, od: float) -> Die:
    fitting = bench.dies_for(od)
    if len(fitting) == 1:
        return fitting[0]
    if tube.straight:
        return Die(name=NO_DIE, od=od, clr=3 * od)
    size = _figure(od, job.units)
    if not fitting:
        what = f"missing; expected a die for OD {size}, {one_line(bench.where)} has none"
    else:
        listed = ", ".join(f'"{die.name}"' for die in fitting[:6])
        what = f"missing; expected one of the dies for OD {size}: {listed}"
    raise _refuse(job, tube, "die", what)


def _no_such(kind: str, name: str, bench: Bench, names: list[str]) -> str:
    return f'no {kind} "{name}" in {bench.where}{near(name, names)}'


def _refuse(job: Job, tube: Tube, key: str, what: str) -> InputError:
    return refuse_faults(job.where, [Fault(f'tube "{tube.name}".{key}', what)])


def _tubing_name(figures: InlineTubing, units: str) -> str:
    od, wall = _figure(figures.od, units), _figure(figures.wall, units)
    return f"{figures.material} {od}x{wall}"


def _figure(mm: float, units: str) -> str:
    """Write a length as a bare decimal in the job's units."""
    return f"{mm / float(INCH):.4g}" if units == "in" else f"{mm:.6g}"
