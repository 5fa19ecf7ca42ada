"""What physics says of springback before a single trial bend is made.

A bend held at the angle L on the die releases elastically: its curvature falls by M / (E I), and
because the arc keeps its length the angle falls by the same fraction, f = R M / (E I) of L (beam
theory). The files give springback as a fraction of the finished angle t instead, L = t (1 + s), so
s = f / (1 - f).

Published models of this kind miss measured springback by 15 to 40 % (Science Progress 2021,
10.1177/0036850420984303: 38.9, 14.4 and 14.2 % for three of them): they only start a calibration.
"""

import math
from dataclasses import dataclass

from soapstone.bench.materials import Material
from soapstone.bench.sections import TubeSection

MODEL_MISS = 0.30  # one standard deviation, of the springback itself
MODEL_FLOOR = 0.008  # what a stiff tube still leaves open: spring of bender and die
UNKNOWN = (0.05, 0.05)  # mean and sd when nothing is known; trade notes speak of 3 to 8 %
GREATEST = 0.4  # beyond this the tube is a spring rather than bent


@dataclass(frozen=True, slots=True)
class SpringbackGuess:
    """Springback as a fraction of the finished angle: mean and standard deviation."""

    mean: float
    sd: float


def moment_thin(section: TubeSection, clr: float, e: float, yield_strength: float) -> float:
    """Bending moment in N mm that holds a thin tube of elastic, then perfectly plastic metal.

    M = 2 sy r^2 t (phi0 / sin phi0 + cos phi0) with sin phi0 = sy R / (E r): the wall within phi0
    of the neutral axis is still elastic. Integrated here round the mean radius r; it meets first
    yield pi r^2 t sy and full plasticity 4 r^2 t sy at its two ends.

    Raises
    ------
    ValueError
        When the radius is so large that no metal yields.
    """
    radius = section.mean_radius
    sine = yield_strength * clr / (e * radius)
    if sine > 1.0:
        msg = f"a tube of mean radius {radius} mm bent to {clr} mm never yields"
        raise ValueError(msg)
    elastic_rad = math.asin(sine)
    shape = elastic_rad / sine + math.cos(elastic_rad) if sine > 0.0 else 2.0
    return 2.0 * yield_strength * radius**2 * section.wall * shape


def moment_thick(section: TubeSection, yield_strength: float) -> float:
    """Full plastic moment of the annulus in N mm, sy (D^3 - d^3) / 6, without elastic core."""
    return yield_strength * section.plastic_modulus


def moment_hardening(section: TubeSection, clr: float, k: float, n: float) -> float:
    """Bending moment in N mm of a thin tube whose metal hardens as k strain^n.

    M = 2 K r^(n+2) t sqrt(pi) Gamma((n+2)/2) / Gamma((n+3)/2) / R^n, the same integral with strain
    r sin(phi) / R and no elastic part.
    """
    radius = section.mean_radius
    shape = math.sqrt(math.pi) * math.gamma((n + 2.0) / 2.0) / math.gamma((n + 3.0) / 2.0)
    moment: float = 2.0 * k * radius ** (n + 2.0) * section.wall * shape / clr**n
    return moment


def unloading_fraction(moment: float, clr: float, e: float, second_moment: float) -> float:
    """Share of the loaded angle that is lost on release: R M / (E I)."""
    return clr * moment / (e * second_moment)


def thin_second_moment(section: TubeSection) -> float:
    """Second moment of the tube as a thin ring, pi r^3 t in mm4, for the thin moments."""
    return math.pi * section.mean_radius**3 * section.wall


def springback(section: TubeSection, clr: float, material: Material) -> float:
    """Springback as a fraction of the finished angle, by the model that suits the metal.

    Metal with a flow curve is taken to harden along it, other metal to flow at its yield strength.

    Parameters
    ----------
    section
        The tube.
    clr
        Centreline radius of the die, mm.
    material
        Its stiffness and strength.

    Raises
    ------
    ValueError
        When the tube is so slender and the radius so large that it springs back entirely.
    """
    if material.strength_k is not None and material.hardening_n is not None:
        moment = moment_hardening(section, clr, material.strength_k, material.hardening_n)
    else:
        moment = moment_thin(section, clr, material.e, material.yield_strength)
    lost = unloading_fraction(moment, clr, material.e, thin_second_moment(section))
    if lost >= 1.0:
        msg = f"a tube bent to {clr} mm of this metal springs back entirely"
        raise ValueError(msg)
    return lost / (1.0 - lost)


def springback_guess(
    section: TubeSection | None, clr: float | None, material: Material | None
) -> SpringbackGuess:
    """Guess springback and how far the guess may be off; what is not known may be None.

    The standard deviation is the models' published miss (30 % of the springback) together with a
    floor for the spring of the machine.
    """
    if section is None or clr is None or material is None:
        return SpringbackGuess(*UNKNOWN)
    try:
        mean = min(springback(section, clr, material), GREATEST)
    except ValueError:
        mean = GREATEST
    return SpringbackGuess(mean, math.hypot(MODEL_MISS * mean, MODEL_FLOOR))
