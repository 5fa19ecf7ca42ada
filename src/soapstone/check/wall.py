"""What bending does to the tube's wall and roundness, and where it is likely to go wrong.

With the neutral axis on the centreline, the outside of a bend is stretched by ln(1 + D / 2R) and
the inside squeezed likewise (D outside diameter, R centreline radius). How much of that comes out
of the wall lies between two limits: plane strain (none of it comes out of the girth) and uniaxial
(half of it does). Real bends lie between them. `ratio` is R / D throughout.
"""

from dataclasses import dataclass

import numpy as np

from soapstone.findings import Finding, Say, say_mm

TEMA_THINNING = 0.17  # RCB-2.31, class R, from memory
FLATTENING = 8.0  # %, what ASME B31.1 practice lets pass (UFC 4-159-01 table 5-4)
EASY = 10.0  # (OD / wall) / (CLR / OD) up to which a bare tube bends well: common practice
HARD = 15.0  # and beyond which it buckles without a mandrel: common practice
TIGHT = 2.0  # CLR / OD under which bare tube flattens whatever its wall: common practice
TIGHTEST = 1.0  # CLR / OD that even a mandrel and a wiper hardly reach: common practice

# ASME B31.1 table 102.4.5: wall before bending over least wall, by R / D (UFC 4-159-01 table 5-4).
_B31_1 = ((3.0, 1.25), (4.0, 1.14), (5.0, 1.08), (6.0, 1.06))


@dataclass(frozen=True, slots=True)
class WallChange:
    """Wall and roundness of a bend.

    Attributes
    ----------
    thinnest
        Least and greatest wall to expect on the outside, mm.
    thickest
        Least and greatest wall to expect on the inside, mm.
    ovality
        Greatest less least diameter over the nominal one, %, as the European rule lets it be.
    """

    thinnest: tuple[float, float]
    thickest: tuple[float, float]
    ovality: float

    def thinning(self, wall: float) -> tuple[float, float]:
        """Share of the straight tube's wall that the outside loses: least and greatest."""
        return 1.0 - self.thinnest[1] / wall, 1.0 - self.thinnest[0] / wall


@dataclass(frozen=True, slots=True)
class RuleWall:
    """The wall that a code's rule reckons with on the outside of a bend, in mm."""

    rule: str
    outside: float


def wall_change(od: float, wall: float, clr: float) -> WallChange:
    """Give wall and ovality to expect of a bend; all in mm.

    Raises
    ------
    ValueError
        When the centreline radius is not larger than half the outside diameter.
    """
    ratio = _ratio(od, clr)
    return WallChange(
        (wall * plane_strain_outside(ratio), wall * uniaxial_outside(ratio)),
        (wall * uniaxial_inside(ratio), wall * plane_strain_inside(ratio)),
        ovality(ratio),
    )


def plane_strain_outside(ratio: float) -> float:
    """Wall over straight wall outside, when the girth does not shrink: 1 / (1 + D / 2R)."""
    return 1.0 / (1.0 + 0.5 / ratio)


def uniaxial_outside(ratio: float) -> float:
    """Wall over straight wall outside, when girth and wall share alike: (1 + D / 2R)^-1/2."""
    return float((1.0 + 0.5 / ratio) ** -0.5)


def plane_strain_inside(ratio: float) -> float:
    """Wall over straight wall inside, when the girth does not grow: 1 / (1 - D / 2R)."""
    return 1.0 / (1.0 - 0.5 / ratio)


def uniaxial_inside(ratio: float) -> float:
    """Wall over straight wall inside, when girth and wall share alike: (1 - D / 2R)^-1/2."""
    return float((1.0 - 0.5 / ratio) ** -0.5)


def tema_wall_before(ratio: float) -> float:
    """Wall before bending over wall wanted after, TEMA RCB-2.31: 1 + D / 4R."""
    return 1.0 + 0.25 / ratio


def b31_1_wall_before(ratio: float) -> float | None:
    """Wall before bending over least wall, ASME B31.1 table 102.4.5; None under 3 diameters."""
    if ratio < _B31_1[0][0]:
        return None
    diameters, factors = zip(*_B31_1, strict=True)
    return float(np.interp(ratio, diameters, factors))


def b31_3_factor_inside(ratio: float) -> float:
    """Pressure wall inside over that of straight pipe, B31.3 304.2.1: (4R/D - 1)/(4R/D - 2)."""
    return (4.0 * ratio - 1.0) / (4.0 * ratio - 2.0)


def b31_3_factor_outside(ratio: float) -> float:
    """Pressure wall outside over that of straight pipe, B31.3 304.2.1: (4R/D + 1)/(4R/D + 2)."""
    return (4.0 * ratio + 1.0) / (4.0 * ratio + 2.0)


def ovality(ratio: float) -> float:
    """Out-of-roundness in % that the European rule lets pass: 20 D / R, and 5 beyond R = 4 D.

    The form is printed by a maker of U-tubes; EN 13480-4 and EN 12952-5 have the same, from memory.
    It is a limit: good bends stay under it.
    """
    return max(20.0 / ratio, 5.0)


def rule_walls(od: float, wall: float, clr: float) -> tuple[RuleWall, ...]:
    """Give the outside wall, mm, that the codes' allowances reckon with, to set beside a bend's."""
    ratio = _ratio(od, clr)
    walls = [RuleWall("TEMA RCB-2.31", wall / tema_wall_before(ratio))]
    allowance = b31_1_wall_before(ratio)
    if allowance is not None:
        walls.append(RuleWall("ASME B31.1 table 102.4.5", wall / allowance))
    return tuple(walls)


def least_clr(od: float, wall: float) -> float:
    """Least centreline radius, mm, that bare tube takes without a mandrel: common practice."""
    return max(TIGHT * od, od * od / wall / EASY)


def wall_findings(
    od: float, wall: float, clr: float, where: str, size: Say = say_mm
) -> list[Finding]:
    """Say what about a bend's tube and radius is likely to go wrong; lengths in mm.

    `size` writes diameters, radii and walls for the findings.
    """
    if clr <= od / 2.0:
        what = f"a centreline radius of {size(clr)} is not even half the tube's {size(od)}"
        return [Finding("stop", where, what, "see whether the die's clr is right")]
    ratio = clr / od
    found = [*_tight(ratio, od, wall, where, size), *_buckling(ratio, od, wall, where, size)]
    least, most = wall_change(od, wall, clr).thinning(wall)
    if most > TEMA_THINNING:
        what = (
            f"the outside wall loses {100 * least:.0f} to {100 * most:.0f} %, down to "
            f"{size(wall * (1 - most))}; TEMA lets {100 * TEMA_THINNING:.0f} % pass"
        )
        found.append(Finding("warn", where, what, "take a thicker wall or a larger radius"))
    if ovality(ratio) > FLATTENING:
        what = f"expect it up to {ovality(ratio):.0f} % out of round; codes mostly ask for 8 %"
        found.append(Finding("note", where, what, "calliper the first bend"))
    return found


def _tight(ratio: float, od: float, wall: float, where: str, size: Say) -> list[Finding]:
    if ratio >= TIGHT:
        return []
    need = "a mandrel and a wiper" if ratio >= TIGHTEST else "more than a mandrel and a wiper"
    what = (
        f"the radius is {ratio:.1f} times the outside diameter: it takes {need} (common practice)"
    )
    mend = f"take a radius of {size(least_clr(od, wall))} or more"
    return [Finding("warn", where, what, mend)]


def _buckling(ratio: float, od: float, wall: float, where: str, size: Say) -> list[Finding]:
    difficulty = od / wall / ratio
    if difficulty <= EASY:
        return []
    will = "buckles" if difficulty > HARD else "may buckle or flatten"
    what = (
        f"bent bare, a wall {od / wall:.0f} times thinner than the tube on {ratio:.1f} diameters "
        f"{will} on the inside (common practice)"
    )
    thicker = od / ratio / EASY
    mend = f"take a wall of {size(thicker)}, a radius of {size(least_clr(od, wall))}, or a filling"
    return [Finding("warn", where, what, mend)]


def _ratio(od: float, clr: float) -> float:
    if clr <= od / 2.0:
        msg = f"a centreline radius of {clr} mm is no more than half the outside diameter {od} mm"
        raise ValueError(msg)
    return clr / od
