"""Section properties of round tube."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TubeSection:
    """A round tube's cross-section: outside diameter and wall in mm.

    The properties are those of an annulus, exact, from any text on strength of materials.

    Raises
    ------
    ValueError
        When the wall is not thinner than half the outside diameter, or either is not positive.
    """

    od: float
    wall: float

    def __post_init__(self) -> None:
        if not (0.0 < self.wall <= self.od / 2.0 < math.inf):
            msg = f"a tube needs 0 < wall <= od / 2, got od {self.od} and wall {self.wall}"
            raise ValueError(msg)

    @property
    def bore(self) -> float:
        """Inside diameter, mm."""
        return self.od - 2.0 * self.wall

    @property
    def mean_radius(self) -> float:
        """Radius to the middle of the wall, mm."""
        return (self.od - self.wall) / 2.0

    @property
    def area(self) -> float:
        """Area of metal, mm2."""
        return math.pi * (self.od - self.wall) * self.wall

    @property
    def second_moment(self) -> float:
        """Second moment of area about a diameter, mm4."""
        return math.pi / 64.0 * (self.od**4 - self.bore**4)

    @property
    def elastic_modulus(self) -> float:
        """Elastic section modulus, mm3: bending moment over it is the greatest stress."""
        return self.second_moment / (self.od / 2.0)

    @property
    def plastic_modulus(self) -> float:
        """Plastic section modulus, mm3."""
        return (self.od**3 - self.bore**3) / 6.0

    def mass_per_metre(self, density: float) -> float:
        """Give kg per metre of tube for a density in kg/m3."""
        return self.area * density * 1e-6
