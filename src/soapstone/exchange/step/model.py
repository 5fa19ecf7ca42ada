"""What is found on the way from a STEP file's faces to tubes."""

from dataclasses import dataclass

from soapstone.geometry.vectors import Array

NEAR = 0.02
"""mm: faces nearer to one cylinder or torus than this lie on it. A hundredth of the play in a die,
and a hundred times what CAD programs lose in writing and reading a file."""


@dataclass(frozen=True, slots=True)
class Surface:
    """A cylinder (`bend` 0) or a torus, in mm.

    Attributes
    ----------
    at, axis
        A point on the cylinder's axis, or the torus' centre, and the unit direction of its axis.
    bend
        Radius from the axis of a torus to the middle of its section; 0 for a cylinder.
    radius
        Radius of the round section.
    """

    at: Array
    axis: Array
    bend: float
    radius: float


@dataclass(frozen=True, slots=True)
class Piece:
    """A face, or a part of one, on such a surface.

    Attributes
    ----------
    surface
        What it lies on.
    rim
        Points (n, 3) along its edges.
    middle
        A point on it, about its middle.
    area
        mm2.
    outside
        Whether metal lies on the side of the axis: the outside of a tube, not its bore.
    residual
        mm that sampled points lie off the surface at most; 0 where the file says the surface.
    """

    surface: Surface
    rim: Array
    middle: Array
    area: float
    outside: bool
    residual: float = 0.0


@dataclass(frozen=True, slots=True)
class Body:
    """A solid of the file, where its assembly puts it: its name and what was seen of its faces.

    `other` is the area in mm2 of faces that are neither cylinder nor torus, `free` that of the free
    surfaces among them; `closed` whether the file says on which side of the faces metal lies;
    `damaged` that the kernel could not look at all of it.
    """

    name: str
    pieces: tuple[Piece, ...]
    other: float
    free: float
    closed: bool
    damaged: bool = False
