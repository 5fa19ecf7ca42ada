"""How fast and how exact certified clearance is.

Run it with `python benchmarks/bench_clearance.py` from the repository, beside a general collision
library if `coal` is installed (it is no dependency of soapstone, and only measured here).

The chain is 200 straights that wind about a lumpy ball of some 80,000 triangles. Standing, the
least distance is wanted; swinging, the least over 90 degrees, certified to 0.1 mm. A general
library finds the distance of two bodies that stand; over a swing it can only be asked again and
again, here at every degree, which certifies nothing. Times are processor time, best of several.
"""

import argparse
import importlib
import sys
import time
from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise
from math import inf
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from soapstone.fit.clearance import KeepOut, least_gap, piece_clearance  # noqa: E402
from soapstone.fit.motion import Hinge, poses  # noqa: E402
from soapstone.geometry.distance import polyline_pieces  # noqa: E402
from soapstone.geometry.solids import Mesh  # noqa: E402
from soapstone.geometry.vectors import Array  # noqa: E402
from tests.geometry.meshes import lumpy_ball  # noqa: E402
from tests.truth.random_keepouts import KINDS, random_case, round_about  # noqa: E402

RINGS = 142
CAPSULES = 200
OD = 38.0


def main(arguments: Sequence[str]) -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--cases", type=int, default=1000, help="random cases judged by sampling")
    options.add_argument("--runs", type=int, default=5, help="runs of each, the best counts")
    chosen = options.parse_args(arguments)
    vertices, faces = lumpy_ball(RINGS)
    mesh = Mesh(vertices, faces)
    beside(mesh, winding(), chosen.runs)
    judge(chosen.cases)
    all_round(chosen.cases // 40)


def winding() -> Array:
    """Corners of a chain that winds about the ball at some distance."""
    u = np.linspace(0, 1, CAPSULES + 1)
    across = 480 * np.cos(6 * u), 480 * np.sin(6 * u)
    return np.stack([*across, 600 * u - 300 + 20 * np.sin(30 * u)], axis=1)


def best(action: Callable[[], object], runs: int) -> float:
    """Least processor time of several runs, in ms, after one that does not count."""
    action()
    times = []
    for _ in range(runs):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return min(times) * 1e3


def beside(mesh: Mesh, corners: Array, runs: int) -> None:
    """Measure the chain against the mesh, standing and swinging, here and in the other library."""
    pieces = polyline_pieces(corners)
    standing = KeepOut("ball", mesh, 10.0)
    swinging = KeepOut("ball", mesh, 10.0, (clear_of(corners),))
    start = time.process_time()
    packed = standing.packed, swinging.packed
    print(f"{len(mesh.faces):,} triangles, tree built twice in {time.process_time() - start:.2f} s")
    assert all(one.closed for one in packed)
    ours = []
    for name, keepout in (("standing", standing), ("swinging", swinging)):
        took = best(partial(piece_clearance, pieces, OD, keepout, 0.1), runs)
        found = piece_clearance(pieces, OD, keepout, 0.1)
        print(f"{name}: {took:8.3f} ms, gap {found.gap:.3f}..{found.high:.3f} mm")
        ours.append(took)
    other = general_library(mesh, corners, swinging.hinges)
    if other is None:
        print("no general collision library is installed beside it")
        return
    for name, action, took in zip(("standing", "swinging"), other, ours, strict=True):
        theirs = best(action, 1 if name == "swinging" else runs)
        print(f"{name}, coal: {theirs:8.3f} ms, gap {action():.3f} mm; {theirs / took:.1f} x")


def clear_of(corners: Array) -> Hinge:
    """A quarter turn of the ball about the axis the chain winds about, so that it stays clear."""
    middle = corners.mean(axis=0)
    return Hinge((float(middle[0]) / 9, float(middle[1]) / 9, 0.0), (0.0, 0.0, 1.0), 0.0, 90.0)


def general_library(
    mesh: Mesh, corners: Array, hinges: tuple[Hinge, ...]
) -> tuple[Callable[[], float], Callable[[], float]] | None:
    """The same distance, standing and at every degree of the swing, from the library coal."""
    try:
        coal: Any = importlib.import_module("coal")
    except ImportError:
        return None
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(mesh.faces), len(mesh.vertices))
    points = coal.StdVec_Vec3s()
    points.extend(list(mesh.triangles().reshape(-1, 3)))
    triangles = coal.StdVec_Triangle()
    triangles.extend([coal.Triangle(3 * i, 3 * i + 1, 3 * i + 2) for i in range(len(mesh.faces))])
    model.addSubModel(points, triangles)
    model.endModel()
    capsules = [capsule(coal, a, b) for a, b in pairwise(corners)]
    request = coal.DistanceRequest()

    def least(pose: Any) -> float:
        result = coal.DistanceResult()
        found = inf
        for shape, place in capsules:
            # one result carries the least distance over, which lets the rest stop sooner
            found = min(found, coal.distance(model, pose, shape, place, request, result))
        return float(found)

    def pose_at(angle: float) -> Any:
        row = poses(hinges, np.array([[angle]]))[0]
        turned = row[:9].reshape(3, 3).T
        return coal.Transform3s(turned, -turned @ row[9:])

    still = coal.Transform3s.Identity()
    turns = [pose_at(angle) for angle in np.linspace(hinges[0].start, hinges[0].stop, 91)]
    return lambda: least(still), lambda: min(least(pose) for pose in turns)


def capsule(coal: Any, a: Array, b: Array) -> tuple[Any, Any]:
    """A capsule of the tube's diameter from a to b."""
    along = (b - a) / np.linalg.norm(b - a)
    other = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    first = other / np.linalg.norm(other)
    turned = np.stack([first, np.cross(along, first), along], axis=1)
    shape = coal.Capsule(OD / 2, float(np.linalg.norm(b - a)))
    return shape, coal.Transform3s(turned, (a + b) / 2)


def judge(cases: int) -> None:
    """Hold the certificate against dense sampling, and print the time each kind takes."""
    gaps: Any = importlib.import_module("tests.truth.gaps")
    above, below, wide = -inf, -inf, 0
    times: dict[tuple[str, int], list[float]] = {}
    for seed in range(cases):
        line, od, keepout = random_case(seed)
        assert keepout.packed
        start = time.process_time()
        found = least_gap(line, od, [keepout])
        assert found
        times.setdefault((keepout.name, len(keepout.hinges)), []).append(
            (time.process_time() - start) * 1e3
        )
        there = gaps.gap_at(line, od, keepout, found.along, found.angles)
        sampled = min(gaps.sampled_gap(line, od, keepout, rounds=4, places=9), there)
        above, below = max(above, found.gap - sampled), max(below, sampled - found.gap)
        wide += not -0.05 <= found.gap - sampled <= 0.02
    print(f"{cases} random cases: certificate at most {above:.4f} mm above the sampled gap and")
    print(f"{below:.4f} mm below it; {wide} outside of +0.02, -0.05 mm")
    for kind in KINDS:
        for hinges in range(3):
            took = times.get((kind, hinges))
            if took:
                print(f"{kind:<12} {hinges} hinges: median {np.median(took):7.2f} ms,", end=" ")
                print(f"longest {max(took):7.1f} ms")


def all_round(cases: int) -> None:
    """Print how exact and how fast it is inside scans of 200,000 triangles all round the tube."""
    kinds: dict[str, list[tuple[float, float]]] = {}
    for seed in range(cases):
        line, od, keepout = round_about(seed, 200_000)
        assert keepout.packed
        start = time.process_time()
        found = least_gap(line, od, [keepout])
        assert found
        name = f"{keepout.name}, {'hose' if seed % 2 else 'egg'}, {len(keepout.hinges)} hinges"
        took = time.process_time() - start
        kinds.setdefault(name, []).append((found.high - found.gap, took))
    for name, each in sorted(kinds.items()):
        width, took = map(max, zip(*each, strict=True))
        print(f"{name:<28} all round: at most {width:.4f} mm wide, longest {took:.2f} s")


if __name__ == "__main__":
    main(sys.argv[1:])
