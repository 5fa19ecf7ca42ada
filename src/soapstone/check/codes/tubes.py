"""Rules about a tube: its bends, its section, its material."""

from collections.abc import Callable, Mapping

from soapstone.check.codes.model import Checked, Kind, Rule, Ruling
from soapstone.check.wall import ovality, wall_change
from soapstone.findings import Say

HAIR = 1e-6
CALLIPER = "a calliper on the first bend"

Judge = Callable[[str, Rule, Checked, Say], Ruling]


def judged(code: str, rule: Rule, tube: Checked, ok: bool, found: str) -> Ruling:
    """Give what comes of a rule that could be checked."""
    return Ruling(code, rule, tube.plan.name, "pass" if ok else "fail", found)


def _radius(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    """Judge the die's radius: that of the released bend is a little larger."""
    setup = tube.plan.setup
    ratio = setup.clr / setup.od
    found = f"{ratio:.2f} x OD: {say(setup.clr)} on {say(setup.od)}"
    return judged(code, rule, tube, rule.low - HAIR <= ratio <= rule.high + HAIR, found)


def _roundness(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    """Never pass by reckoning: what the bender does to the section shows on a made bend only.

    (max - min) / OD of u leaves minor over major at (1 - u/2) / (1 + u/2) about a mean of OD.
    """
    del say
    flat = _expected(tube) / 100
    ratio = (1 - flat / 2) / (1 + flat / 2)
    would = "would pass" if ratio >= rule.low else "would fail"
    words = f"down to {ratio:.2f} is to be expected, which {would}"
    return Ruling(code, rule, tube.plan.name, "not checked", words, CALLIPER)


def _flattening(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    del say
    flat = _expected(tube)
    would = "would pass" if flat <= rule.high + HAIR else "would fail"
    words = f"up to {flat:.1f} % is to be expected, which {would}"
    return Ruling(code, rule, tube.plan.name, "not checked", words, CALLIPER)


def _expected(tube: Checked) -> float:
    """Out-of-roundness to expect, %: what good bends stay under (see `check/wall.py`)."""
    setup = tube.plan.setup
    return ovality(setup.clr / setup.od)


def _thinning(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    """Pass when even plane strain thins it no more, fail when uniaxial strain thins it more."""
    setup = tube.plan.setup
    change = wall_change(setup.od, setup.wall, setup.clr)
    least, most = change.thinning(setup.wall)
    thin = " to ".join(say(wall) for wall in change.thinnest)
    found = f"loses {100 * least:.0f} to {100 * most:.0f} %, down to {thin}"
    if most <= rule.high + HAIR or least > rule.high + HAIR:
        return judged(code, rule, tube, most <= rule.high + HAIR, found)
    return Ruling(
        code, rule, tube.plan.name, "not checked", found, "the wall of a cut-up trial bend"
    )


def _seamless(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    del say
    if tube.plan.setup.seam:
        return judged(code, rule, tube, False, "the tubing has a weld seam")
    needs = "the mill certificate, for how it was drawn and of what steel"
    return Ruling(code, rule, tube.plan.name, "not checked", "no weld seam is given", needs)


def _yield(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    del say
    found = f"{tube.yield_strength:.0f} MPa by the bench or its standard"
    return judged(code, rule, tube, tube.yield_strength >= rule.low - HAIR, found)


def _section(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    setup = tube.plan.setup
    ok = any(setup.od >= od - HAIR and setup.wall >= wall - HAIR for od, wall in rule.sections)
    return judged(code, rule, tube, ok, f"{say(setup.od)} x {say(setup.wall)}")


def grip(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    """Judge the diameter that a hand closes round."""
    od = tube.plan.setup.od
    return judged(code, rule, tube, rule.low - HAIR <= od <= rule.high + HAIR, say(od))


def grip_gap(code: str, rule: Rule, tube: Checked, say: Say) -> Ruling:
    """Pass by the certified gap of the rail's whole length; under it, where a hand goes decides."""
    if tube.clearance is None:
        needs = "what is beside the rail as a keep-out"
        return Ruling(code, rule, tube.plan.name, "not checked", "nothing stands in the job", needs)
    found = f"{say(tube.clearance)} to {tube.nearest}"
    if tube.clearance >= rule.low - HAIR:
        return judged(code, rule, tube, True, found)
    needs = "a look at whether a hand grips it there"
    return Ruling(code, rule, tube.plan.name, "not checked", found, needs)


BENT: Mapping[Kind, Judge] = {
    "radius": _radius,
    "roundness": _roundness,
    "flattening": _flattening,
    "thinning": _thinning,
}
"""Rules of bends: tubes without any are passed over."""

WHOLE: Mapping[Kind, Judge] = {"seamless": _seamless, "yield": _yield, "section": _section}
"""Rules of every tube."""

GRIP: Mapping[Kind, Judge] = {"grip": grip, "grip gap": grip_gap}
"""Rules of rails to hold on to."""
