"""What the view of the room is drawn from: tubes, keep-outs and gaps as plain lists of numbers."""

import zlib
from collections.abc import Sequence
from typing import Any

import numpy as np

from soapstone.bench.bender import Bender, Body
from soapstone.bench.solids import Mesh
from soapstone.bend.machine import DIE_MARGIN, machine_for
from soapstone.bend.motion import pose_at
from soapstone.bend.pose import stick_of, swing_axis
from soapstone.fit.clearance import Clearance
from soapstone.flow.planning import JobPlan
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import arc_points, walk
from soapstone.geometry.solids import turn_matrix
from soapstone.geometry.vectors import Array, Vec3
from soapstone.job.keepout import KeepOut
from soapstone.job.tube import Tube
from soapstone.plan.model import TubePlan

ARC_STEP = 6.0
"""Degrees between the points that a bend is drawn through."""


def scene_of(planned: JobPlan) -> dict[str, Any]:
    """Give all that stands in the room of a job; lengths in mm."""
    wishes = {tube.name: tube for tube in planned.job.tubes}
    return {
        "tubes": [
            tube_scene(wishes[tube.name], tube.shape, tube.setup.od, tube.points)
            for tube in planned.planned
        ],
        "keepouts": [
            keepout_scene(keepout, number)
            for number, keepout in enumerate(planned.job.keepouts)
            if keepout.tube is None
        ],
    }


def tube_scene(wish: Tube, line: Centreline, od: float, points: Sequence[Vec3]) -> dict[str, Any]:
    """Give a tube as pieces to draw: straights and bends, and the corners that can be moved."""
    way = walk(line)
    pieces: list[dict[str, Any]] = []
    for i in range(len(line.legs)):
        pieces.append({"bend": 0, "points": _flat(way.nodes[2 * i : 2 * i + 2])})
        if i < len(line.angles):
            count = max(2, int(np.ceil(line.angles[i] / ARC_STEP)))
            angles = np.linspace(0, np.radians(line.angles[i]), count + 1)
            pieces.append({"bend": i + 1, "points": _flat(arc_points(way, i, angles))})
    drawn = wish.points is not None
    return {
        "name": wish.name,
        "od": od,
        "pieces": pieces,
        "corners": [list(point) for point in points] if drawn else [],
        "ends": [list(points[0]), list(points[-1])],
    }


def keepout_scene(keepout: KeepOut, number: int) -> dict[str, Any]:
    """Give a keep-out: its form, where it stands, and the hinges it moves on."""
    return {
        "name": keepout.name,
        "number": number,
        "form": _form(keepout),
        "hinges": [
            {"through": list(h.through), "along": list(h.along), "from": h.low, "to": h.high}
            for h in keepout.hinges
        ],
    }


def bender_scene(plan: TubePlan, step: int, bender: Bender, turned: float) -> dict[str, Any]:
    """Give the bender with a tube in it, the die turned so many degrees into one of its steps."""
    setup = plan.setup
    where = machine_for(setup, bender)
    centre = where.centre
    axis = swing_axis(where.side) * (setup.od / 2 + DIE_MARGIN / 2)
    ends = {"from": (centre - axis).tolist(), "to": (centre + axis).tolist()}
    die = {"kind": "cylinder", **ends, "diameter": 2 * setup.clr - setup.od}
    forms = [("die", die), *((body.name, _form(body)) for body in bender.bodies)]
    if bender.die_height is not None:
        floor = {"at": [0.0, 0.0, -bender.die_height], "normal": [0.0, 0.0, 1.0]}
        forms.append(("floor", {"kind": "halfspace", **floor}))
    keepouts = [
        {"name": name, "number": number, "form": form, "hinges": []}
        for number, (name, form) in enumerate(forms)
    ]
    return {"tubes": [posed_scene(plan, step, bender, turned)], "keepouts": keepouts}


def posed_scene(plan: TubePlan, step: int, bender: Bender, turned: float) -> dict[str, Any]:
    """Give a tube as it lies in the bender; as `bender_scene` says."""
    bends = plan.bends
    made = [one.n for one in bends[:step]]
    now = bends[step]
    where = machine_for(plan.setup, bender)
    pose = pose_at(stick_of(plan), made, now.n, now.lead, where, turned)
    pieces = [{"bend": bend, "points": _flat(points)} for bend, points in pose.parts]
    return {"name": plan.name, "od": plan.setup.od, "pieces": pieces, "corners": [], "ends": []}


def gap_scene(gap: Clearance, label: str) -> dict[str, Any]:
    """Give a gap as the line between its two points, with what is written on it."""
    return {"from": list(gap.point), "to": list(gap.nearest), "label": label}


def _form(keepout: KeepOut | Body) -> dict[str, Any]:
    if keepout.box:
        box = keepout.box
        matrix = turn_matrix(box.turn)
        return {
            "kind": "box",
            "at": list(box.at),
            "size": list(box.size),
            "turn": matrix.ravel().tolist(),
        }
    if keepout.cylinder:
        bar = keepout.cylinder
        return {
            "kind": "cylinder",
            "from": list(bar.start),
            "to": list(bar.end),
            "diameter": bar.diameter,
        }
    if keepout.ball:
        return {"kind": "ball", "at": list(keepout.ball.at), "diameter": keepout.ball.diameter}
    if keepout.halfspace:
        half = keepout.halfspace
        return {"kind": "halfspace", "at": list(half.at), "normal": list(half.normal)}
    scan = keepout.mesh if isinstance(keepout, KeepOut) else None
    return {"kind": "mesh", "mark": _mark(scan) if scan else ""}


def _mark(scan: Mesh) -> str:
    """Give a word that is another when a scan, or its place, is: it is fetched anew only then."""
    try:
        changed = scan.file.stat().st_mtime_ns
    except OSError:
        changed = 0
    return f"{zlib.crc32(repr(scan).encode()):x}-{changed:x}"


def _flat(points: Array) -> list[float]:
    """Give points as one list of numbers, to a hundredth of a mm: enough to look at."""
    flat: list[float] = np.round(points, 2).ravel().tolist()
    return flat
