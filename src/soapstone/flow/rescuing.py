"""A tube whose bends did not come out as planned: what is still to do so that it lands."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.faults import near
from soapstone.fit.keepouts import keepouts_for
from soapstone.flow.asked import length_asked
from soapstone.flow.fitting import shapes_of
from soapstone.flow.packing import Pack, write_pack
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.plan.as_json import problems_json, tube_json
from soapstone.plan.model import TubePlan
from soapstone.plan.rescue.model import MadeBend, Rescue
from soapstone.plan.rescue.rescue import rescue
from soapstone.plan.rescue.solve import Tolerance
from soapstone.plan.rescue.written import is_file, made_from, made_in
from soapstone.quantities import format_fine
from soapstone.textfiles import one_line


@dataclass(frozen=True, slots=True)
class RescuedTube:
    """A tube with the rest of it solved anew, and the sheets for the rest, if they were printed."""

    planned: JobPlan
    result: Rescue
    pack: Pack | None = None

    @property
    def sound(self) -> bool:
        """Whether it lands, and can be made so."""
        return self.result.sound

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object, mm and degrees."""
        done = self.result
        return {
            "job": self.planned.job.name,
            "tube": done.plan.name,
            "lands": done.lands,
            "ends": [{"end": one.end, "off": one.off, "askew": one.askew} for one in done.ends],
            "moved": done.moved,
            "moved_at": done.moved_at,
            "made": list(done.plan.made),
            "further": [
                {
                    "n": one.n,
                    "from": one.angle_now,
                    "to": one.angle,
                    "dial": one.dial,
                    "dial_stop": one.dial_stop,
                }
                for one in done.further
            ],
            "plan": tube_json(done.plan),
            "usable": list(done.usable),
            "problems": problems_json(done.problems),
            "file": str(self.pack.file) if self.pack else None,
            "sound": self.sound,
        }


def rescue_tube(
    path: Path,
    tube: str,
    made: Sequence[str],
    *,
    within: str = "",
    angle: float | None = None,
    stick: str = "",
    sheet: Path | None = None,
    date: str = "",
) -> RescuedTube:
    """Solve anew what is still to be made of one tube of a job.

    Parameters
    ----------
    tube
        Its name; may be left out where the job has one bent tube.
    made
        The bends made, as written, or files of them: see `plan.rescue.written`.
    within, angle
        What counts as landed: a length in words and degrees; left out, 1 mm and 0.3 degrees.
    stick
        The stick's real length in words; left out, what the plan says on the tape.
    sheet
        A PDF to print the rest to.

    Raises
    ------
    InputError
        One line naming what is wrong.
    """
    planned = plan_job(path)
    plan = tube_of(planned, tube, path)
    if not made:
        raise InputError('--made: expected the bends made, such as --made "2: 44.2"')
    units = planned.job.units
    bends = [
        bend
        for text in made
        for bend in (made_in(Path(text), units) if is_file(text) else [made_from(text, units)])
    ]
    usual = Tolerance()
    off = length_asked(within, units, "--within") if within else usual.off
    askew = usual.askew if angle is None else angle
    if not 0 < askew < 180:
        raise InputError("--angle: expected degrees above 0 and below 180")
    long = length_asked(stick, units, "--stick") if stick else None
    done = _rescued(planned, plan, bends, Tolerance(off, askew), long)
    pack = None
    if sheet is not None:
        rest = replace(planned, tubes=(replace(done.plan, problems=done.problems),), unseen=())
        pack = write_pack(rest, sheet, None, date)
    return RescuedTube(planned, done, pack)


def _rescued(
    planned: JobPlan,
    plan: TubePlan,
    made: Sequence[MadeBend],
    within: Tolerance,
    stick: float | None,
) -> Rescue:
    wish = planned.job.tube(plan.name)
    keepouts = keepouts_for(planned.job, wish, shapes_of(planned))
    say = partial(format_fine, units=planned.job.units)
    return rescue(plan, made, keepouts=keepouts, within=within, stick=stick, say=say)


def rescue_of(planned: JobPlan, plan: TubePlan, made: Sequence[MadeBend]) -> Rescue:
    """Solve the rest of a job's tube anew, to the usual tolerance, on the stick as planned."""
    return _rescued(planned, plan, made, Tolerance(), None)


def tube_of(planned: JobPlan, name: str, path: Path) -> TubePlan:
    """Give the bent tube of that name; a job with one of them needs no name.

    Raises
    ------
    InputError
        There is none, or several and no name.
    """
    bent = {tube.name: tube for tube in planned.planned if tube.bends}
    if not name and len(bent) == 1:
        return next(iter(bent.values()))
    if name not in bent:
        listed = ", ".join(f'"{one}"' for one in list(bent)[:6])
        hint = near(name, list(bent)) if name else ""
        raise InputError(
            one_line(f'--tube: {path.name} has no bent tube "{name}"{hint}')
            if name
            else one_line(f"--tube: expected one of {listed or 'the bent tubes; there is none'}")
        )
    return bent[name]
