"""Frames against textbook closed forms and against a general frame programme.

Closed forms: slender beams (Timoshenko; Kleinlogel's portal), each with its source beside it.
PyNiteFEA 3 solves the same random frames with its own code.
"""

from math import pi, sqrt

import numpy as np
import pytest
from Pynite import FEModel3D

from soapstone.check.strength.beams import beams_of
from soapstone.check.strength.bolts import BoltGroup, at_corners, bolt_loads, on_circle
from soapstone.check.strength.cases import solve_cases
from soapstone.check.strength.frame import solver_of
from soapstone.check.strength.mesh import mesh_of
from soapstone.check.strength.model import Carried, Frame, FrameTube, Held, Weld
from soapstone.check.strength.modes import first_note
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.measure import length

ALL = (True,) * 6
OD, WALL, E = 38.1, 2.108, 205_000.0
INERTIA = pi / 64 * (OD**4 - (OD - 2 * WALL) ** 4)
AREA = pi / 4 * (OD**2 - (OD - 2 * WALL) ** 2)


def tube(name, line, od=OD, wall=WALL, e=E):
    return FrameTube(name, line, od, wall, e, 400.0, 300.0, 7850.0)


def straight(start, end):
    step = np.subtract(end, start)
    size = float(np.linalg.norm(step))
    up = (0.0, 0.0, 1.0) if abs(step[2]) < 0.9 * size else (1.0, 0.0, 0.0)
    up = np.array(up) - (up @ step) * step / size**2
    return Centreline(
        tuple(map(float, start)), tuple(step / size), tuple(up / np.linalg.norm(up)), (size,)
    )


def quarter(radius):
    return Centreline((0, 0, 0), (1, 0, 0), (0, 1, 0), (0.0, 0.0), (90.0,), (0.0,), (radius,))


def held(line, force, od=OD, wall=WALL, e=E, arc_step=4.0):
    """One tube held at its A end and loaded at its B end: how its B end moves."""
    long = length(line)
    frame = Frame(
        (tube("t", line, od, wall, e),),
        (Held("t", 0.0, "A", ALL),),
        (),
        (Carried("c", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (("t", long),)),),
    )
    end = mesh_of(frame).points[-2]
    load = Carried("c", tuple(end), force, (("t", long),))
    frame = Frame(frame.tubes, frame.supports, (), (load,))
    solver = solver_of(frame, mesh_of(frame, arc_step))
    case = solve_cases(solver)[0]
    return np.array(case.shapes[0].moves[-1]), case, solver


def test_quarter_ring_in_and_out_of_its_plane():
    # Timoshenko, Strength of Materials; values reckoned from the closed forms
    radius, load = 500.0, 200.0
    bend, twist = E * INERTIA, E / 2.6 * 2 * INERTIA
    out, _, _ = held(quarter(radius), (0, 0, load))
    whole = load * radius**3 * (pi / (4 * bend) + (3 * pi / 4 - 2) / twist)
    assert out[2] == pytest.approx(whole, rel=0.005)
    assert whole == pytest.approx(3.9312, abs=2e-4)
    across, _, _ = held(quarter(radius), (load, 0, 0))  # square to the end's direction
    assert across[0] == pytest.approx(pi * load * radius**3 / (4 * bend), rel=0.005)
    assert abs(across[1]) == pytest.approx(load * radius**3 / (2 * bend), rel=0.005)
    along, _, _ = held(quarter(radius), (0, load, 0))
    assert along[1] == pytest.approx(load * radius**3 * (3 * pi / 4 - 2) / bend, rel=0.005)


def test_solid_quarter_ring_as_published():
    # Timoshenko, Strength of Materials I, 3rd ed. 1955: 100 in, 2 in round bar, 30e6 psi, 50 lb:
    # 2.648 in and 6,366 psi of bending, as a solver's verification page quotes it
    inch, psi, pound = 25.4, 0.006894757, 4.4482216
    moves, case, _ = held(
        quarter(100 * inch), (0, 0, 50 * pound), 2 * inch, 0.9999 * inch, 30e6 * psi
    )
    assert moves[2] / inch == pytest.approx(2.648, rel=0.002)
    foot = case.supports[0]
    bending = 1000 * foot.moment[0] / (pi / 32 * (2 * inch) ** 3)
    assert abs(bending) / psi == pytest.approx(6366, rel=0.001)


def test_hollow_bow():
    # VPCS SSLL07/89, from memory: 134.62 mm; at 15 degrees 74.118 N m of twist, -96.593 of bending
    moves, _, _ = held(quarter(1000.0), (0, 0, 100.0), 20.0, 2.0, 2e5)
    assert moves[2] == pytest.approx(134.62, rel=0.005)


def test_finer_pieces_come_nearer_with_the_square_of_their_size():
    exact = 200 * 500**3 * (pi / (4 * E * INERTIA) + (3 * pi / 4 - 2) / (E / 2.6 * 2 * INERTIA))
    off = [
        abs(held(quarter(500.0), (0, 0, 200.0), arc_step=step)[0][2] - exact)
        for step in (15, 7.5, 3.75)
    ]
    assert off[0] / off[1] == pytest.approx(4, rel=0.1)
    assert off[1] / off[2] == pytest.approx(4, rel=0.1)


def joined(lines, welds, supports, loads):
    tubes = tuple(tube(name, line) for name, line in lines.items())
    return Frame(tubes, supports, welds, loads)


def test_bracket_out_of_its_plane():
    # superposition of cantilevers: P a3/3EI + P b3/3EI + P a2 b/GJ
    a, b, load = 400.0, 600.0, 150.0
    lines = {"b": straight((0, 0, 0), (0, b, 0)), "a": straight((0, b, 0), (a, b, 0))}
    frame = joined(
        lines,
        (Weld((("b", b), ("a", 0.0))),),
        (Held("b", 0.0, "A", ALL),),
        (Carried("c", (a, b, 0), (0, 0, -load), (("a", a),)),),
    )
    case = solve_cases(solver_of(frame))[0]
    twist = E / 2.6 * 2 * INERTIA
    wanted = load * (a**3 + b**3) / (3 * E * INERTIA) + load * a**2 * b / twist
    assert case.deflection == pytest.approx(wanted, rel=0.005)


def test_portal_with_fixed_feet():
    # Kleinlogel's form with beam as stiff as columns: sway P h3/(12 EI) (3k + 2)/(6k + 1), k = h/L
    h, span, load = 800.0, 1000.0, 500.0
    lines = {
        "left": straight((0, 0, 0), (0, 0, h)),
        "beam": straight((0, 0, h), (span, 0, h)),
        "right": straight((span, 0, 0), (span, 0, h)),
    }
    frame = joined(
        lines,
        (Weld((("left", h), ("beam", 0.0))), Weld((("beam", span), ("right", h)))),
        (Held("left", 0.0, "A", ALL), Held("right", 0.0, "A", ALL)),
        (Carried("c", (0, 0, h), (load, 0, 0), (("left", h),)),),
    )
    case = solve_cases(solver_of(frame))[0]
    k = h / span
    assert case.deflection == pytest.approx(
        load * h**3 / (12 * E * INERTIA) * (3 * k + 2) / (6 * k + 1), rel=0.005
    )
    foot = load * h / 2 * (3 * k + 1) / (6 * k + 1) / 1000
    assert abs(case.supports[0].moment[1]) == pytest.approx(foot, rel=0.005)


def test_column_buckles_as_euler_says_and_hums_as_a_cantilever():
    _, case, solver = held(straight((0, 0, 0), (1000, 0, 0)), (-1000.0, 0, 0))
    assert case.buckling == pytest.approx(pi**2 * E * INERTIA / (4 * 1000**2) / 1000, rel=1e-3)
    _, pulled, _ = held(straight((0, 0, 0), (1000, 0, 0)), (1000.0, 0, 0))
    assert pulled.buckling == np.inf
    per_metre = AREA * 7850e-9  # kg/mm
    note = 1.8751**2 / (2 * pi) * sqrt(E * INERTIA * 1000 / (per_metre * 1000**4))
    assert first_note(solver) == pytest.approx(note, rel=0.01)


def random_frame(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 7))
    joints = rng.uniform(-800, 800, (count, 3))
    pairs = [(i, i + 1) for i in range(count - 1)] + [(0, int(rng.integers(2, count)))]
    lines = {f"t{k}": straight(joints[i], joints[j]) for k, (i, j) in enumerate(pairs)}
    ends = [[] for _ in range(count)]
    for k, (i, j) in enumerate(pairs):
        ends[i].append((f"t{k}", 0.0))
        ends[j].append((f"t{k}", float(np.linalg.norm(joints[j] - joints[i]))))
    welds = tuple(Weld(tuple(group)) for group in ends if len(group) > 1)
    tubes = tuple(
        FrameTube(n, one, float(rng.uniform(20, 60)), float(rng.uniform(1, 4)), E, 400, 400, 7850)
        for n, one in lines.items()
    )
    force = tuple(rng.normal(size=3) * 300)
    tip = ends[-1][0]
    loads = (Carried("c", tuple(joints[-1]), force, (tip,)),)
    return Frame(tubes, (Held("t0", 0.0, "A", ALL),), welds, loads), joints, pairs, force


@pytest.mark.parametrize("seed", range(12))
def test_random_frames_as_another_programme_solves_them(seed):
    frame, joints, pairs, force = random_frame(seed)
    mesh = mesh_of(frame, leg_pieces=1)
    solver = solver_of(frame, mesh)
    case = solve_cases(solver)[0]
    other = FEModel3D()
    other.add_material("m", E, E / 2.6, 0.3, 0.0)
    for i, at in enumerate(joints):
        other.add_node(f"n{i}", *map(float, at))
    beams = beams_of(mesh, frame.tubes)
    for k, (i, j) in enumerate(pairs):
        inertia = float(beams.stiff_inertia[k])
        other.add_section(f"s{k}", float(beams.area[k]), inertia, inertia, 2 * inertia)
        other.add_member(f"t{k}", f"n{i}", f"n{j}", "m", f"s{k}")
    other.def_support("n0", *ALL)
    for name, value in zip(("FX", "FY", "FZ"), force, strict=True):
        other.add_node_load(f"n{len(joints) - 1}", name, float(value), "c")
    other.add_load_combo("one", {"c": 1.0})
    other.analyze(check_statics=False)
    node = other.nodes[f"n{len(joints) - 1}"]
    theirs = np.array([node.DX["one"], node.DY["one"], node.DZ["one"]])
    tip = next(s for s in case.shapes if s.tube == frame.loads[0].onto[0][0])
    at = np.linalg.norm(np.array(tip.points) - joints[-1], axis=1).argmin()
    assert np.array(tip.moves[at]) == pytest.approx(theirs, rel=1e-6, abs=1e-9)
    foot = other.nodes["n0"]
    told = np.array([foot.RxnFX["one"], foot.RxnFY["one"], foot.RxnFZ["one"]])
    assert np.array(case.supports[0].force) == pytest.approx(told, rel=1e-6, abs=1e-6)
    turned = np.array([foot.RxnMX["one"], foot.RxnMY["one"], foot.RxnMZ["one"]]) / 1000
    assert np.array(case.supports[0].moment) == pytest.approx(turned, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("seed", range(12, 20))
def test_what_the_feet_hold_balances_the_loads(seed):
    frame, joints, _, force = random_frame(seed)
    foot = solve_cases(solver_of(frame))[0].supports[0]
    assert np.array(foot.force) == pytest.approx(-np.array(force), abs=1e-6)
    arm = joints[-1] - joints[0]
    assert np.array(foot.moment) == pytest.approx(-np.cross(arm, force) / 1000, abs=1e-6)


def test_a_tube_pulled_bent_and_twisted_is_stressed_as_by_hand():
    long, pull, side, arm = 500.0, 1000.0, 100.0, 200.0
    line = straight((0, 0, 0), (long, 0, 0))
    load = Carried("c", (long, arm, 0.0), (pull, 0.0, side), (("t", long),))
    frame = Frame((tube("t", line),), (Held("t", 0.0, "A", ALL),), (), (load,))
    case = solve_cases(solver_of(frame))[0]
    modulus = INERTIA / (OD / 2)
    # at the foot: bending from the side force and from the pull on the arm, twist from the arm
    bending = sqrt((side * long) ** 2 + (pull * arm) ** 2) / modulus
    along, round_ = pull / AREA + bending, side * arm / (2 * modulus)
    shear = 2 * side / AREA
    low = sqrt(along**2 + 3 * round_**2)
    assert low * 0.99 <= case.stress <= sqrt(along**2 + 3 * (round_ + shear) ** 2)
    assert case.worst.by_weld
    assert case.reserve == pytest.approx(300 / case.stress, rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_a_load_carried_from_off_the_tube_turns_its_foot_by_its_arm(seed):
    rng = np.random.default_rng(seed)
    foot, tip = rng.uniform(-500, 500, (2, 3))
    at, force = tip + rng.uniform(-300, 300, 3), rng.normal(size=3) * 100
    line = straight(foot, tip)
    load = Carried("c", tuple(at), tuple(force), (("t", length(line)),))
    frame = Frame((tube("t", line),), (Held("t", 0.0, "A", ALL),), (), (load,))
    held_by = solve_cases(solver_of(frame))[0].supports[0]
    assert np.array(held_by.force) == pytest.approx(-force, abs=1e-6)
    turned = -np.cross(at - foot, force) / 1000
    assert np.array(held_by.moment) == pytest.approx(turned, abs=1e-6)


def under_its_own_weight(fix_b):
    long = 1200.0
    supports = [Held("t", 0.0, "A", ALL)] + [Held("t", long, "B", ALL)] * fix_b
    line = straight((0, 0, 0), (long, 0, 0))
    frame = Frame((tube("t", line),), tuple(supports), (), (), own_weight=True)
    return solve_cases(solver_of(frame))[0], AREA * 7850e-9 * 9.80665, long


def test_own_weight_bends_as_spread_along_the_tube():
    # q l^4 / 8 E I and q l^2 / 2 for one end held, q l^4 / 384 E I for both (any textbook)
    case, q, long = under_its_own_weight(fix_b=False)
    assert case.deflection == pytest.approx(q * long**4 / (8 * E * INERTIA), rel=1e-6)
    assert abs(case.supports[0].moment[1]) == pytest.approx(q * long**2 / 2 / 1000, rel=1e-6)
    assert case.stress == pytest.approx(q * long**2 / 2 * OD / 2 / INERTIA, rel=1e-6)
    case, q, long = under_its_own_weight(fix_b=True)
    assert case.deflection == pytest.approx(q * long**4 / (384 * E * INERTIA), rel=1e-6)
    assert abs(case.supports[0].moment[1]) == pytest.approx(q * long**2 / 12 / 1000, rel=1e-6)


def test_bolts_share_a_load_as_by_hand():
    # the elastic method by hand: M y / sum y^2 in pull, M r / sum r^2 and V / n in shear
    group = BoltGroup(at_corners(100.0, 60.0), (0, 0, 1), (1, 0, 0), 10.0)
    found = bolt_loads(group, (400.0, 0.0, -1000.0), (0.0, 300.0, 0.0))
    assert found.tension == pytest.approx(300e3 * 50 / (4 * 50**2) + 250)
    assert found.pulls.count(0.0) == 2, "pressed onto the base, a bolt has no pull"
    assert found.shears == pytest.approx((100.0,) * 4)
    assert found.stress == pytest.approx(
        sqrt(found.tension**2 + 3 * 100**2) / (0.7 * pi / 4 * 10**2)
    )
    ring = BoltGroup(on_circle(6, 120.0), (0, 1, 0), (1, 0, 0))
    twisted = bolt_loads(ring, (0.0, 0.0, 0.0), (0.0, 90.0, 0.0))
    assert twisted.shears == pytest.approx((90e3 / (6 * 60),) * 6)
    assert max(twisted.pulls) == pytest.approx(0.0, abs=1e-9)
    four = BoltGroup(on_circle(4, 120.0), (0, 1, 0), (1, 0, 0))
    both = bolt_loads(four, (600.0, 0.0, 0.0), (0.0, 90.0, 0.0))
    # shear and twist add up on one side and take from each other on the other
    assert max(both.shears) == pytest.approx(150 + 90e3 / (4 * 60))
    assert min(both.shears) == pytest.approx(90e3 / (4 * 60) - 150)
