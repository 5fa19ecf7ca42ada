"""What an error budget says."""

from dataclasses import dataclass

from soapstone.geometry.vectors import Vec3


@dataclass(frozen=True, slots=True)
class Share:
    """One source of error and its part, 0 to 1, of the variance of where the B end lands.

    `what` is a plain word ("roll", "mark", "springback" ...), `bend` 0 where it is about all bends.
    """

    what: str
    bend: int
    part: float


@dataclass(frozen=True, slots=True)
class Gain:
    """What the B end's 95 % radius would be, in mm, if one thing were better."""

    what: str
    radius: float


@dataclass(frozen=True, slots=True)
class Budget:
    """Where the B end of a tube lands when its A end is laid right, and how its ends stand apart.

    Lengths in mm, angles in degrees. Whatever is called 95 % holds 19 tubes in 20.

    Attributes
    ----------
    offset
        Where the B end lands in the mean, less where it is drawn: what rounding to the tape and the
        dial's graduations does by itself, and bends that are full at their first stop already.
    axes
        The three half axes of the ellipsoid about the mean that holds 95 % of B ends, longest
        first, each as direction times length.
    radius
        95 % of tubes have their B end this near to where it is drawn.
    turn
        95 % of tubes have their last leg within this angle of where it points.
    apart
        95 % of tubes have their ends this near to as far apart as drawn, however they are laid.
    between
        95 % of tubes have the angle between their end legs this near to as drawn.
    linear_radius
        The root of the mean square of the B end's error by the linear reckoning, and by sampling.
        Bends crept up to may set them apart: one full at its first stop is in the samples alone.
    sampled_radius
        See `linear_radius`.
    within
        mm and degrees that may pass at the B end.
    chance
        The share of tubes that pass.
    shares
        By source of error, greatest first.
    bends
        By bend, from bend 1 on: the part of the variance that its own mark, roll and angle have.
    gains
        What would help, best first.
    samples
        How many tubes were made.
    back, back_turn, back_chance
        As `radius`, `turn` and `chance`, but of the A end, when the B end and the plane of the last
        bend are laid right.
    one_sided
        The part of the mean square of `sampled_radius` that no source has by itself: what small
        errors do not explain, above all bends that are past their angle at their first stop.
    places
        Named points that the tube passes: name, and within how many mm of its drawn place 95 % of
        tubes have the place nearest to it, with the A end laid right.
    """

    tube: str
    offset: Vec3
    axes: tuple[Vec3, ...]
    radius: float
    turn: float
    apart: float
    between: float
    linear_radius: float
    sampled_radius: float
    within: tuple[float, float]
    limits: str
    chance: float
    shares: tuple[Share, ...]
    bends: tuple[float, ...]
    gains: tuple[Gain, ...]
    samples: int
    back: float = 0.0
    back_turn: float = 0.0
    back_chance: float = 0.0
    one_sided: float = 0.0
    places: tuple[tuple[str, float], ...] = ()

    @property
    def best_chance(self) -> float:
        """The chance to pass, laid by the end that is better laid by."""
        return max(self.chance, self.back_chance)
