"""What a shop owns and has measured, as typed data: bender, dies, tubing, materials, trial bends.

The models mirror the bench file table by table. Lengths are in mm and angles in degrees once read;
a model made by code takes mm.
"""

from pathlib import Path
from typing import Annotated, Literal, Protocol, Self, TypeVar

from pydantic import Field, PrivateAttr, model_validator

from soapstone.bench.accuracy import Accuracy
from soapstone.bench.bender import Bender
from soapstone.bench.fields import (
    Density,
    Entry,
    Flag,
    Length,
    Name,
    PositiveLength,
    Room,
    Stress,
    TapeStep,
    Text,
)
from soapstone.bench.materials import Material, material
from soapstone.bench.ranges import DEGREES, Between
from soapstone.bench.rates import Rates
from soapstone.bench.trials import Trial
from soapstone.errors import InputError
from soapstone.faults import KeyedError, near
from soapstone.quantities import Units, usual_tape
from soapstone.textfiles import one_line

__all__ = ["Bench", "Bender", "Die", "DieFigures", "OwnMaterial", "Trial", "Tubing"]


class DieFigures(Entry):
    """What is known of a die apart from its name and the tube it is cut for."""

    clr: PositiveLength = Field(description="the centreline radius, a length")
    mark_offset: Length = Field(
        0.0,
        description="how far, toward the lead end, the index line lies from where the bend starts",
    )
    clamp: Room = Field(0.0, description="the straight that must be held ahead of a bend, a length")
    follower: Room = Field(0.0, description="the straight that must stand behind a bend, a length")
    springback: Annotated[float, Between(0, 0.5, "a ratio")] | None = Field(
        None, description="springback over bent angle, as known before any trial bend"
    )
    dial_zero: Annotated[float, Between(-45, 45, DEGREES)] | None = Field(
        None, description="dial reading less true loaded angle, in degrees"
    )
    stretch: Annotated[float, Between(-0.2, 0.5, "a ratio")] = Field(
        0.0, description="stretch of a bend: it uses (1 - stretch) x CLR x loaded angle of stock"
    )


class Die(DieFigures):
    """One die, with the clamp, follower and index line that belong to it."""

    name: Name = Field(description="what the shop calls it")
    od: PositiveLength = Field(description="the outside diameter of its tube, a length")

    @model_validator(mode="after")
    def _turns_outside_itself(self) -> Self:
        check_radius(self.clr, self.od)
        return self


class TubingFigures(Entry):
    """What is known of a tubing apart from its name."""

    od: PositiveLength = Field(description="the outside diameter, a length")
    wall: PositiveLength = Field(description="the wall thickness, a length")
    material: Name = Field(description="what it is made of")
    seam: Flag = Field(False, description="whether it has a weld seam")
    sticks: tuple[PositiveLength, ...] = Field(
        (), max_length=50, description="the lengths it is bought in"
    )
    price: Annotated[float, Between(0, 1e6, "a price")] | None = Field(
        None, description="its price per metre"
    )

    @model_validator(mode="after")
    def _hollow(self) -> Self:
        if self.wall >= self.od / 2:
            raise KeyedError("wall", "expected a wall under half the outside diameter od")
        return self


class Tubing(TubingFigures):
    """One kind of tube that the shop buys."""

    name: Name = Field(description="what the shop calls it")


class OwnMaterial(Entry):
    """A material of the shop's own, or some figures of a known one put right."""

    name: Name = Field(description="what the shop calls it")
    density: Density | None = Field(None, description="kg/m3")
    e: Stress | None = Field(None, alias="E", description="modulus of elasticity, MPa")
    yield_strength: Stress | None = Field(None, alias="yield", description="yield strength, MPa")
    welded_yield: Stress | None = Field(None, description="yield strength beside a weld, MPa")

    def over(self, known: Material | None) -> Material:
        """Give the material, with what is not said here taken from the known one of that name.

        Raises
        ------
        ValueError
            There is none of that name, and a figure is left out.
        """
        if known is None:
            wanted = {"density": self.density, "E": self.e, "yield": self.yield_strength}
            missing = [key for key, value in wanted.items() if value is None]
            if missing:
                raise ValueError(
                    f"{' and '.join(missing)} missing, and no material of this name is known"
                )
        hardens = known is not None and self.yield_strength is None
        return Material(
            name=self.name,
            density=self.density or (known.density if known else 0.0),
            e=self.e or (known.e if known else 0.0),
            yield_strength=self.yield_strength or (known.yield_strength if known else 0.0),
            source="the shop's own bench file",
            strength_k=known.strength_k if known and hardens else None,
            hardening_n=known.hardening_n if known and hardens else None,
            welded_yield=self.welded_yield or (known.welded_yield if known else None),
        )

    @model_validator(mode="after")
    def _complete(self) -> Self:
        self.as_material()
        return self

    def as_material(self) -> Material:
        """Give the material; `over` what the table of materials holds under its name."""
        try:
            known = material(self.name)
        except InputError:
            known = None
        return self.over(known)


class Bench(Entry):
    """What a shop owns."""

    format: Literal[1] = Field(1, description="the number of this file format, 1")
    name: Text = Field("", description="what the shop calls it")
    units: Units = Field(description='the unit of bare lengths, "mm" or "in"')
    tape: TapeStep = Field(
        default_factory=lambda given: usual_tape(given.get("units", "mm")),
        description='the graduations of the shop\'s tape, such as "1 mm" or "1/16 in"',
    )
    dial_step: Annotated[float, Between(0, 15, DEGREES, above=True)] = Field(
        0.5, description="degrees between the dial's graduations"
    )
    tolerance: Annotated[float, Between(0, 15, DEGREES, above=True)] = Field(
        0.5, description="the error of a bend's angle that may pass, in degrees"
    )
    kerf: Room | None = Field(None, description="what the saw takes with each cut, a length")
    accuracy: Accuracy = Field(
        default_factory=Accuracy, description="what marks, cuts and readings may be off by"
    )
    rates: Rates = Field(default_factory=Rates, description="what its work costs")
    bender: Bender = Field(default_factory=Bender, description="the bender")
    dies: tuple[Die, ...] = Field((), alias="die", description="the dies")
    tubings: tuple[Tubing, ...] = Field((), alias="tubing", description="the tubing")
    materials: tuple[OwnMaterial, ...] = Field(
        (), alias="material", description="materials of the shop's own"
    )
    trials: tuple[Trial, ...] = Field((), alias="trial", description="trial bends")
    _path: Path | None = PrivateAttr(None)

    @property
    def path(self) -> Path | None:
        """The file it was read from, if any."""
        return self._path

    @property
    def where(self) -> str:
        """The bench as messages name it."""
        return str(self._path) if self._path else (self.name or "the bench")

    def at_path(self, path: Path) -> Self:
        """Say which file it was read from."""
        self._path = path
        return self

    def die(self, name: str) -> Die:
        """Give the die of that name; an InputError names the nearest ones."""
        return self._named("die", name, self.dies)

    def tubing(self, name: str) -> Tubing:
        """Give the tubing of that name; an InputError names the nearest ones."""
        return self._named("tubing", name, self.tubings)

    def material(self, name: str) -> Material:
        """Give the material of that name, the shop's own first; an InputError names near ones."""
        return material(name, [own.as_material() for own in self.materials])

    def dies_for(self, od: float) -> tuple[Die, ...]:
        """Give the dies cut for a tube of outside diameter `od` in mm."""
        return tuple(die for die in self.dies if fits(die.od, od))

    def _named(self, kind: str, name: str, entries: "tuple[_Named, ...]") -> "_Named":
        for entry in entries:
            if entry.name == name:
                return entry
        hint = near(name, [entry.name for entry in entries])
        raise InputError(one_line(f'{self.where}: no {kind} "{name}"{hint}'))


class _HasName(Protocol):
    @property
    def name(self) -> str: ...


_Named = TypeVar("_Named", bound=_HasName)


def check_radius(clr: float, od: float) -> None:
    """Refuse a die whose centreline radius lies within its own tube."""
    if clr <= od / 2:
        raise KeyedError("clr", "expected a centreline radius above half the outside diameter od")


def fits(die_od: float, od: float) -> bool:
    """Whether a die of one outside diameter takes a tube of another: within 0.25 mm, 0.01 in.

    Common practice: that much is drawn tube's own tolerance; a groove wider than that flattens it.
    """
    return abs(die_od - od) <= 0.2541
