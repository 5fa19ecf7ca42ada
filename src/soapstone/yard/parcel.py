"""The parcel that holds tubes: its size, girth and mass."""

from collections.abc import Sequence
from dataclasses import dataclass

from soapstone.findings import Finding
from soapstone.geometry.reach import Rod
from soapstone.yard.nested import pack_together

INCH = 25.4
LONGEST = 108 * INCH
LONGEST_AND_GIRTH = 165 * INCH
HEAVIEST = 150 * 0.45359237
"""What many ground carriers take, as third parties print it; limits change, so ask the carrier."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """A box that holds tubes. Lengths in mm, mass in kg.

    Attributes
    ----------
    tubes
        Names of the tubes in it.
    length, width, height
        Its edges, the longest first, with what packing adds.
    mass
        Of tubes and packing.
    alone
        The edges of the smallest box of each tube by itself, bare.
    excess
        Share of its bare volume by which a smaller box might yet hold the tubes as they lie.
    """

    tubes: tuple[str, ...]
    length: float
    width: float
    height: float
    mass: float
    alone: tuple[tuple[float, float, float], ...]
    excess: float

    @property
    def girth(self) -> float:
        """Round the box across its length: 2 (width + height), common practice among carriers."""
        return 2 * (self.width + self.height)

    def as_json(self) -> dict[str, object]:
        """Give it as a JSON object, mm and kg."""
        return {
            "tubes": [
                {"name": name, "box": list(size)}
                for name, size in zip(self.tubes, self.alone, strict=True)
            ],
            "length": self.length,
            "width": self.width,
            "height": self.height,
            "mass": self.mass,
            "girth": self.girth,
            "length_plus_girth": self.length + self.girth,
            "excess": self.excess,
        }


def parcel_of(names: Sequence[str], rods: Sequence[Rod], mass: float, room: float = 0.0) -> Parcel:
    """Pack tubes into one parcel. `mass` in kg; packing adds `room` mm on every side.

    Of one tube the box is the smallest there is; several are laid into one another as well as a
    search finds.
    """
    packed = pack_together(rods)
    box = packed.box
    length, width, height = (edge + 2 * room for edge in box.size)
    alone = tuple(one.size for one in packed.alone)
    excess = 1 - box.least / box.volume
    return Parcel(tuple(names), length, width, height, mass, alone, excess)


def parcel_findings(parcel: Parcel) -> list[Finding]:
    """Say where a parcel is larger or heavier than what many carriers take."""
    size = parcel.length + parcel.girth
    over = [
        what
        for what, is_over in (
            ("its length", parcel.length > LONGEST),
            ("length plus girth", size > LONGEST_AND_GIRTH),
            ("its mass", parcel.mass > HEAVIEST),
        )
        if is_over
    ]
    if not over:
        return []
    what = f"{' and '.join(over)} are" if len(over) > 1 else f"{over[0]} is"
    mend = "ask the carrier, or send it as freight"
    return [Finding("note", "parcel", f"{what} more than many ground carriers take", mend)]
