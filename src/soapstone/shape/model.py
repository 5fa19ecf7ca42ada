"""A tube's wish made into a shape, or the reasons why it has none."""

from dataclasses import dataclass

from soapstone.findings import Finding
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Vec3


@dataclass(frozen=True, slots=True)
class Shape:
    """The free shape of one tube.

    `line` is None when there is no such tube, and `findings` then say why; `points` are the corners
    as drawn, as far as known. `of` names the tube that this is the mirror image of, else empty.
    """

    name: str
    line: Centreline | None
    points: tuple[Vec3, ...]
    of: str = ""
    findings: tuple[Finding, ...] = ()
