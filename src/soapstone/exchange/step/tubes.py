"""Tubes in a STEP file: each with its centreline, its section, and what there is to say of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from soapstone.exchange.step import apart
from soapstone.exchange.step.chain import Chain, centreline, chains
from soapstone.exchange.step.model import NEAR, Body
from soapstone.exchange.step.stretches import Stretch, put_together, same_line
from soapstone.findings import Finding
from soapstone.geometry.centreline import Centreline

ROUND = 0.6
"""Part of the round that must be there: a coped end and holes leave more, a rounded corner less."""

SHORTEST, SHORTEST_BAR = 0.2, 1.0
"""Diameters: a shorter ring is a washer, a shorter bar a disc or a pin, and no tube."""

SPARE = 0.25
"""Part of a body's surface that may be neither tube nor cut: more, and it is something else."""

ODD = 0.02
"""Part of a body's surface beyond tube and ends that goes without saying."""

SQUARE = 0.01
"""mm that the edge of an end may be out of square and pass for a square cut."""

NO_ROUND = "it has no round outside that goes all round"

FARTHEST = 1e6
"""mm from the origin that a part may lie."""


@dataclass(frozen=True, slots=True)
class FoundTube:
    """A tube of the file: centreline as drawn, outside diameter and wall in mm.

    `wall` is None where the file has a solid bar; `residual` is how far in mm its faces are from
    the straights and bends they were taken for, 0 where the file says them.
    """

    name: str
    line: Centreline
    od: float
    wall: float | None
    residual: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class StepTubes:
    """What a STEP file holds: its tubes, and what was left out or is doubtful."""

    path: Path
    tubes: tuple[FoundTube, ...]
    left_out: tuple[Finding, ...]


def read_step(path: Path) -> StepTubes:
    """Find the tubes in a STEP file: centreline, outside diameter and wall, in mm.

    Solids of cylinders and tori are read as they stand, however they are split, moved or turned;
    free surfaces (B-splines) are fitted. What is no tube is named and left out.

    Raises
    ------
    InputError
        The kernel is not installed, or the file cannot be read; one line names it.
    """
    return tubes_in(path, apart.bodies(path))


def tubes_in(path: Path, bodies: Sequence[Body]) -> StepTubes:
    """Find the tubes among the bodies of a STEP file."""
    tubes: list[FoundTube] = []
    left_out: list[Finding] = []
    names = _names([body.name for body in bodies])
    for name, body in zip(names, bodies, strict=True):
        found, faults = tubes_of(replace(body, name=name))
        tubes += found
        left_out += faults
    return StepTubes(path, tuple(tubes), tuple(left_out))


def _names(given: Sequence[str]) -> list[str]:
    """Give each a name of its own: the file's, counted on where several have it."""
    taken: set[str] = set()
    names = []
    for raw in given:
        base = " ".join("".join(c if c.isprintable() else " " for c in raw).split())[:80] or "tube"
        number = 1
        name = base if raw or given.count(raw) == 1 else f"{base} 1"
        while name in taken:
            number += 1
            name = f"{base} {number}"
        taken.add(name)
        names.append(name)
    return names


def tubes_of(body: Body) -> tuple[list[FoundTube], list[Finding]]:
    """Find the tubes that a solid is made of; without any, a finding says what it is not."""
    where = body.name
    reach = [float(np.abs(piece.rim).max()) for piece in body.pieces if len(piece.rim)]
    if body.damaged:
        return [], [Finding("stop", where, "left out: it is damaged in the file", "export it anew")]
    if not all(far < FARTHEST for far in reach):
        return [], [_left_out(where, "it lies farther than a kilometre away, or nowhere")]
    outer, inner = _sides(body)
    found = [chain for chain in chains(outer) if _is_round(chain)]
    if not found:
        lost = body.free > SPARE * (sum(piece.area for piece in body.pieces) + body.other)
        why = "its free surfaces are no round on straights and arcs" if lost else NO_ROUND
        return [], [_left_out(where, why)]
    tubes, faults = [], []
    used = 0.0
    for number, chain in enumerate(found, 1):
        name = where if len(found) == 1 else f"{where}, {number}"
        tube, fault, area = _tube(name, chain, inner)
        used += area
        if tube:
            tubes.append(tube)
        if fault:
            faults.append(fault)
    area = sum(piece.area for piece in body.pieces) + body.other
    ends = sum(4 * np.pi * chain.stretches[0].surface.radius ** 2 for chain in found)
    if tubes and area - used > SPARE * area + ends:
        spare = 100 * (area - used) / area
        return [], [_left_out(where, f"{spare:.0f} % of its surface is no round tube")]
    if tubes and area - used > ODD * area + ends:
        spare = 100 * (area - used) / area
        what = f"{spare:.0f} % of its surface is neither tube nor cut end, and not in the job"
        faults.append(Finding("note", where, what, "look for a flange or a hole in the drawing"))
    return tubes, faults


def _left_out(where: str, why: str) -> Finding:
    return Finding("note", where, f"no tube, left out: {why}")


def _sides(body: Body) -> tuple[list[Stretch], list[Stretch]]:
    """Stretches of the outside and of the bore; without a closed solid the larger are outside."""
    out = put_together(piece for piece in body.pieces if piece.outside)
    within = put_together(piece for piece in body.pieces if not piece.outside)
    if not body.closed or _wrong_way_round(out, within):
        everything = sorted(put_together(body.pieces), key=lambda one: -one.surface.radius)
        out, within = [], []
        for one in everything:
            bored = any(_in_line(one, larger) for larger in out)
            (within if bored else out).append(one)
    return out, within


def _wrong_way_round(out: Sequence[Stretch], within: Sequence[Stretch]) -> bool:
    """Whether what should be the bore lies around what should be the outside: a mirrored part."""
    return any(
        other.surface.radius > one.surface.radius + NEAR and _in_line(one, other)
        for one in out
        for other in within
    )


def _in_line(one: Stretch, other: Stretch) -> bool:
    """Whether two stretches share their centreline, and overlap on it."""
    slack = 4 * NEAR + 10 * (one.residual + other.residual)
    if not same_line(one.surface, other.surface, slack):
        return False
    if one.surface.bend:
        return True
    ends = [(other.end(high)[0] - one.surface.at) @ one.surface.axis for high in (False, True)]
    return bool(min(ends) < one.high and max(ends) > one.low)


def _is_round(chain: Chain) -> bool:
    whole = sum(one.length * one.around for one in chain.stretches)
    length = sum(one.length for one in chain.stretches)
    wide = 2 * chain.stretches[0].surface.radius
    return length > SHORTEST * wide and whole > ROUND * length


def _tube(
    name: str, chain: Chain, inner: Sequence[Stretch]
) -> tuple[FoundTube | None, Finding | None, float]:
    """Give a chain as a tube, or why it is none; and the area that belongs to it."""
    radius = float(np.mean([one.surface.radius for one in chain.stretches]))
    bores = [one for one in inner if any(_in_line(one, outer) for outer in chain.stretches)]
    bores = [one for one in bores if one.surface.radius < radius - NEAR]
    area = sum(one.area for one in (*chain.stretches, *bores))
    if chain.ring or any(one.ring for one in chain.stretches):
        why = "it is a closed ring and has no ends: cut it apart in the drawing"
        return None, Finding("warn", name, f"left out: {why}"), area
    line, missed = centreline(chain)
    residual = max(one.residual for one in chain.stretches)
    if not bores and sum(one.length for one in chain.stretches) < SHORTEST_BAR * 2 * radius:
        return None, _left_out(name, "it is a disc or a pin"), area
    wall, walls = _wall(chain, bores, radius)
    notes = [*walls, *_cuts(name, chain)]
    residual = max(residual, missed if residual else 0.0)
    if residual:
        said = f"{residual:.4f} mm" if residual >= 5e-5 else "less than 0.0001 mm"
        notes.append(
            Finding("note", name, f"its faces are free surfaces: fitted, off by {said} at most")
        )
    notes = [Finding(n.severity, name, n.what, n.mend) for n in notes]
    return FoundTube(name, line, 2 * radius, wall, residual, tuple(notes)), None, area


def _wall(
    chain: Chain, bores: Sequence[Stretch], radius: float
) -> tuple[float | None, list[Finding]]:
    """Wall in mm by the bore that most of the tube has."""
    length = sum(one.length for one in chain.stretches)
    sizes: dict[float, float] = {}
    for one in bores:
        near = next((r for r in sizes if abs(r - one.surface.radius) < 2 * NEAR), None)
        key = one.surface.radius if near is None else near
        sizes[key] = sizes.get(key, 0.0) + one.length
    if not sizes or sum(sizes.values()) < length / 2:
        return None, []
    bore = max(sizes, key=lambda r: sizes[r])
    several = [f"{radius - r:.2f}" for r in sizes if sizes[r] > 0.05 * length]
    if len(several) > 1:
        what = f"its wall changes ({', '.join(several)} mm): the wall of most of it is taken"
        return radius - bore, [Finding("warn", "", what, "check the drawing")]
    return radius - bore, []


def _cuts(name: str, chain: Chain) -> list[Finding]:
    """Say which ends are not cut square."""
    ends = (
        ("A", chain.stretches[0], not chain.ways[0]),
        ("B", chain.stretches[-1], chain.ways[-1]),
    )
    return [
        Finding(
            "note",
            name,
            f"end {letter} is cut about {max(1, round(stretch.cut[high]))} mm out of square: its "
            "centreline goes to the farthest reach",
            "write a cope for it into the job",
        )
        for letter, stretch, high in ends
        if stretch.cut[high] > SQUARE + 10 * stretch.residual
    ]
