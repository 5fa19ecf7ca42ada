"""The frame under its load, drawn as it gives, far more than it does, and coloured by its stress.

Tubes are drawn in their true width. What is written stands beside the drawing as text of the page,
placed in per cent, so that letters keep their size on a phone.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from math import cos, floor, log10, radians, sin

import numpy as np

from soapstone.check.strength.model import CaseResult
from soapstone.flow.strength import StrongJob
from soapstone.geometry.along import places_at
from soapstone.geometry.vectors import Array

VIEWS = {
    "from the corner": (-35.0, 22.0),
    "from the side": (0.0, 0.0),
    "from ahead": (90.0, 0.0),
    "from above": (0.0, 90.0),
}
"""Where one looks from: degrees round the upright axis from where x runs right, degrees up."""

LOOKS = 0.12
"""Share of the frame's size that its largest move is drawn as, about."""

SHADES = 24
"""Steps of colour from nothing to yield."""

ROOM = 0.09
"""Share of the drawing's size left free round it."""

ARROW = 0.13
"""Length of a load's arrow, as a share of the frame's size."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A way to look: places in the world become places across and down the paper, and depth."""

    right: Array
    up: Array
    toward: Array

    def flat(self, points: Array) -> Array:
        """Give places (n, 2) across and down of points (n, 3)."""
        result: Array = np.stack((points @ self.right, -(points @ self.up)), axis=-1)
        return result


def seen_from(view: str) -> Seen:
    """Look as one of `VIEWS` has it."""
    round_rad, up_rad = (radians(value) for value in VIEWS[view])
    right = np.array([cos(round_rad), sin(round_rad), 0.0])
    ahead = np.array([-sin(round_rad), cos(round_rad), 0.0])
    up = ahead * sin(up_rad) + np.array([0.0, 0.0, cos(up_rad)])
    return Seen(right, up, np.cross(right, up))


def enlarged(one: CaseResult) -> float:
    """Give how many times too large the moves are drawn: a round number, 1 at least."""
    points = np.array([point for shape in one.shapes for point in shape.points])
    size = float(np.ptp(points, axis=0).max())
    if one.deflection <= 0 or not size:
        return 1.0
    wanted = LOOKS * size / one.deflection
    step = 10.0 ** floor(log10(wanted))
    return max(1.0, float(max(step * n for n in (1, 2, 5) if step * n <= wanted * (1 + 1e-9))))


def frame_drawing(done: StrongJob, one: CaseResult, view: str, times: float) -> str:
    """Draw a load case: the tubes as they give, the places they stand at, their loads."""
    seen = seen_from(view)
    rest = [seen.flat(np.array(shape.points)) for shape in one.shapes]
    bent = [
        seen.flat(np.array(shape.points) + times * np.array(shape.moves)) for shape in one.shapes
    ]
    arrows = _arrows(done, one, seen)
    everything = np.concatenate([*rest, *bent, *(arrow for _, arrow in arrows)])
    low, high = everything.min(axis=0), everything.max(axis=0)
    edge = ROOM * float((high - low).max()) + 30.0
    low, size = low - edge, high - low + 2 * edge
    box = f"{low[0]:.1f} {low[1]:.1f} {size[0]:.1f} {size[1]:.1f}"
    wide = {tube.name: tube.setup.od for tube in done.plan.planned}
    parts = [
        *(_thread(line) for line in rest),
        *(_thread(line) for line in _arms(done, one, seen, times)),
        *_tubes(one, bent, seen, times, wide),
        *(_arrow(points, max(wide.values())) for _, points in arrows),
    ]
    name = f"The frame under {one.case}, its give drawn {times:g} times too large"
    tags = "".join(_tags(done, one, seen, times, (low, size)))
    return (
        f'<div class="bent" style="--across:{size[0]:.0f};--down:{size[1]:.0f}">'
        f'<svg viewBox="{box}" role="img" aria-label="{escape(name)}">{"".join(parts)}</svg>'
        f"{tags}</div>"
    )


def _thread(line: Array) -> str:
    return f'<polyline class="rest" points="{_points(line)}"/>'


def _points(line: Array) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in line)


def _tubes(
    one: CaseResult, bent: list[Array], seen: Seen, times: float, wide: dict[str, float]
) -> Iterable[str]:
    """Draw the tubes piece by piece, what is farthest first."""
    pieces: list[tuple[float, str]] = []
    for shape, line in zip(one.shapes, bent, strict=True):
        depth = (np.array(shape.points) + times * np.array(shape.moves)) @ seen.toward
        for i in range(len(line) - 1):
            used = max(shape.used[i], shape.used[i + 1])
            style = f"stroke:{shade(used)};stroke-width:{wide[shape.tube]:.1f}"
            ends = _points(line[i : i + 2])
            pieces.append(
                (float(depth[i] + depth[i + 1]), f'<polyline style="{style}" points="{ends}"/>')
            )
    return (piece for _, piece in sorted(pieces, key=lambda piece: piece[0]))


def shade(used: float) -> str:
    """Give the colour of a share of yield: cool at nothing, warm at half, hot where it yields."""
    step = min(max(round(used * SHADES), 0), SHADES) / SHADES
    low, high = ("--cool", "--warm") if step <= 0.5 else ("--warm", "--hot")
    share = 100 * (step * 2 if step <= 0.5 else step * 2 - 1)
    return f"color-mix(in oklab, var({high}) {share:.0f}%, var({low}))"


def _arrows(done: StrongJob, one: CaseResult, seen: Seen) -> list[tuple[float, Array]]:
    """Give each load's force in N and its arrow, as places on the paper: tail and tip."""
    points = np.array([point for shape in one.shapes for point in shape.points])
    long = ARROW * float(np.ptp(points, axis=0).max())
    found = []
    for load in done.plan.job.loads:
        force = np.array(load.vector)
        size = float(np.linalg.norm(force))
        if load.case == one.case and size > 0:
            tip = np.array(load.at)
            found.append((size, seen.flat(np.array([tip - force / size * long, tip]))))
    return found


def _arms(done: StrongJob, one: CaseResult, seen: Seen, times: float) -> Iterable[Array]:
    """Draw from where a load acts to where the tubes carry it."""
    stands = {shape.tube: np.array(shape.points) for shape in one.shapes}
    gives = {shape.tube: stands[shape.tube] + times * np.array(shape.moves) for shape in one.shapes}
    for load in done.plan.job.loads:
        for onto in load.onto if load.case == one.case else ():
            near = np.array(load.at if isinstance(onto, str) else onto)
            names = [onto] if isinstance(onto, str) else list(stands)
            away = {name: np.linalg.norm(stands[name] - near, axis=1) for name in names}
            name = min(names, key=lambda name: float(away[name].min()))
            place = gives[name][int(away[name].argmin())]
            yield seen.flat(np.array([load.at, place]))


def _arrow(points: Array, od: float) -> str:
    tail, tip = points
    along = tip - tail
    size = float(np.hypot(*along))
    if size < 1e-6:
        return f'<circle class="load" cx="{tip[0]:.1f}" cy="{tip[1]:.1f}" r="{od / 2:.1f}"/>'
    along = along / size
    across = np.array([-along[1], along[0]])
    neck = tip - 1.1 * od * along
    head = (tip, neck + 0.5 * od * across, neck - 0.5 * od * across)
    return (
        f'<polyline class="load-line" style="stroke-width:{od * 0.22:.1f}" '
        f'points="{_points(np.array([tail, neck]))}"/>'
        f'<polygon class="load" points="{_points(np.array(head))}"/>'
    )


def _tags(
    done: StrongJob, one: CaseResult, seen: Seen, times: float, frame: tuple[Array, Array]
) -> Iterable[str]:
    """Number the feet, and point out where it comes nearest to yielding."""
    low, size = frame
    shapes = {shape.tube: shape for shape in one.shapes}
    for number, (place, _) in enumerate(zip(feet(done), one.supports, strict=True), 1):
        yield _tag(str(number), (seen.flat(place[None])[0] - low) / size, "foot")
    if one.reserve < 1e6:
        shape = shapes[one.worst.tube]
        points = np.array(shape.points)
        near = int(np.linalg.norm(points - np.array(one.worst.point), axis=1).argmin())
        moved = points[near] + times * np.array(shape.moves[near])
        yield _tag("", (seen.flat(moved[None])[0] - low) / size, "worst")


def feet(done: StrongJob) -> list[Array]:
    """Give where the frame is held, in the order of its supports."""
    lines = {tube.name: tube.line for tube in done.frame.tubes}
    return [places_at(lines[one.tube], np.array([one.along]))[0][0] for one in done.frame.supports]


def _tag(text: str, share: Array, kind: str) -> str:
    style = f"left:{100 * share[0]:.2f}%;top:{100 * share[1]:.2f}%"
    return f'<span class="{kind}" style="{style}">{escape(text)}</span>'
