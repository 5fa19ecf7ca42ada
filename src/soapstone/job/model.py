"""A job as typed data: points, keep-outs, tubes as wished, supports, joints, loads and copes.

The models mirror the job file table by table. Once read, lengths are in mm, angles in degrees,
forces in N, masses in kg, and named points have become coordinates.
"""

from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import (
    Discriminator,
    Field,
    PrivateAttr,
    Tag,
)

from soapstone.bench.fields import (
    Entry,
    Name,
    Place,
    PositiveLength,
    Text,
)
from soapstone.errors import InputError
from soapstone.faults import INLINE, NAMED, near
from soapstone.job.frame import Joint, Load, Support
from soapstone.job.keepout import Hinge, KeepOut
from soapstone.job.rail import Rail
from soapstone.job.tube import (
    Bends,
    InlineDie,
    InlineTubing,
    Mirror,
    Plane,
    Route,
    RouteEnd,
    Tube,
    TubeName,
    Waypoint,
    form_of,
)
from soapstone.quantities import Units
from soapstone.textfiles import one_line

__all__ = [
    "Bends",
    "Cope",
    "Hinge",
    "InlineDie",
    "InlineTubing",
    "Job",
    "Joint",
    "KeepOut",
    "Load",
    "Mirror",
    "Plane",
    "Rail",
    "Route",
    "RouteEnd",
    "Support",
    "Tube",
    "Waypoint",
]


Grade: TypeAlias = Literal["A", "B", "C", "D"]


class Cope(Entry):
    """A tube's end cut to sit on another tube, or on a plate."""

    tube: TubeName = Field(description="the name of the tube to cut")
    end: Literal["A", "B"] = Field(description='the end to cut, "A" or "B"')
    onto: Annotated[TubeName, Tag(NAMED)] | Annotated[Plane, Tag(INLINE)] = Field(
        discriminator=Discriminator(form_of),
        description="the name of the tube it sits on, or { at, normal } for a plate",
    )


class Job(Entry):
    """What is to be made, and around what."""

    format: Literal[1] = Field(1, description="the number of this file format, 1")
    name: Text = Field("", description="what the job is called")
    units: Units = Field(description='the unit of bare lengths, "mm" or "in"')
    bench: Text | None = Field(None, description="the bench file, from this file's folder")
    note: Text = Field("", description="a remark for the sheet")
    tolerance: PositiveLength | None = Field(
        None, description="how far ends may be off where a tube says nothing, a length"
    )
    iso_13920: Literal["A", "B", "C", "D"] | None = Field(
        None, description='the class of ISO 13920 where a tube says nothing, "A" to "D"'
    )
    points: dict[str, Place] = Field({}, description="points with names")
    keepouts: tuple[KeepOut, ...] = Field((), alias="keepout", description="what to stay clear of")
    tubes: tuple[Tube, ...] = Field((), alias="tube", description="the tubes")
    supports: tuple[Support, ...] = Field((), alias="support", description="where it is held")
    joints: tuple[Joint, ...] = Field((), alias="joint", description="where tubes are welded")
    loads: tuple[Load, ...] = Field((), alias="load", description="what it carries")
    copes: tuple[Cope, ...] = Field((), alias="cope", description="ends cut to fit")
    rails: tuple[Rail, ...] = Field((), alias="rail", description="tubes that make rails")
    codes: tuple[Name, ...] = Field(
        (), max_length=20, description="names of rule sets to hold it against"
    )
    _path: Path | None = PrivateAttr(None)

    @property
    def path(self) -> Path | None:
        """The file it was read from, if any."""
        return self._path

    @property
    def where(self) -> str:
        """The job as messages name it."""
        return str(self._path) if self._path else (self.name or "the job")

    @property
    def bench_path(self) -> Path | None:
        """The bench file it names, if any."""
        if self.bench is None:
            return None
        return self._path.parent / self.bench if self._path else Path(self.bench)

    def at_path(self, path: Path | None) -> Self:
        """Say which file it was read from."""
        self._path = path
        return self

    def tube(self, name: str) -> Tube:
        """Give the tube of that name; an InputError names the nearest ones."""
        for tube in self.tubes:
            if tube.name == name:
                return tube
        hint = near(name, [tube.name for tube in self.tubes])
        raise InputError(one_line(f'{self.where}: no tube "{name}"{hint}'))

    def tolerance_of(self, name: str) -> tuple[float | None, Grade | None]:
        """What a tube's ends may be off, in mm, and its class of ISO 13920; the tube's own first.

        A tube that says either for itself takes neither from the job.
        """
        tube = self.tube(name)
        own = tube if tube.tolerance is not None or tube.iso_13920 is not None else self
        return own.tolerance, own.iso_13920

    def with_tubes(self, tubes: tuple[Tube, ...]) -> "Job":
        """Give the same job with other tubes."""
        changed: dict[str, Any] = {"tubes": tubes}
        return self.model_copy(update=changed)
