"""Random jobs that can be bent, as bench and job files, with the part each must give.

The numbers are invented. What a part must be is computed here from what was drawn, by the file
format's own rules, without the package. Millimetres and degrees.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from tests.truth.virtual_bender import PLANES, Array, Bender, Die, Part, Piece, cross, rotation

INCH = 25.4
FRAMES_MIRRORED = {"xy": (1.0, 1.0, -1.0), "yz": (-1.0, 1.0, 1.0), "xz": (1.0, -1.0, 1.0)}


@dataclass(frozen=True)
class RandomTube:
    """A tube as drawn: its file entry in words, its die, and the part it must become."""

    name: str
    die: str
    way: str
    part: Part
    mirrored: bool = False

    @property
    def up(self) -> Array:
        """Axis of the first bend."""
        return self.part.pieces[1].axis


@dataclass(frozen=True)
class RandomJob:
    """A bench and a job of several tubes, as text, with the machine and the dies they speak of."""

    seed: int
    units: str
    bench: str
    job: str
    bender: Bender
    dies: dict[str, Die]
    max_angle: float
    tubes: tuple[RandomTube, ...]

    def write(self, folder: Path) -> Path:
        """Write both files; gives the path of the job."""
        (folder / "bench.toml").write_text(self.bench, encoding="utf-8")
        job = folder / "job.toml"
        job.write_text(self.job, encoding="utf-8")
        return job


# --- lengths as people write them -----------------------------------------------------------------


def fraction_text(length: float) -> str | None:
    """A whole number of sixteenths of an inch in shop style, else None."""
    sixteenths = length / INCH * 16
    count = round(sixteenths)
    if abs(sixteenths - count) > 1e-9 or count <= 0:
        return None
    feet, rest = divmod(count, 16 * 12)
    whole, part = divmod(rest, 16)
    inches = f"{whole} {Fraction(part, 16)}" if part else f"{whole}"
    if not feet:
        return f'"{inches} in"'
    if count % 2:
        return f'"{feet} ft {inches} in"'
    hyphened = inches.replace(" ", "-")
    return f'"{feet}\' {hyphened}\\""'


def length_text(length: float, units: str, rng: np.random.Generator) -> str:
    """A length for a TOML file, bare or carrying its own unit, exact to the last digits."""
    written = fraction_text(length)
    if written is not None and rng.random() < 0.7:
        return written
    choice = rng.random()
    if choice < 0.1:
        return f'"{length!r} mm"'
    if choice < 0.2:
        return f'"{length / INCH!r} in"'
    return repr(length if units == "mm" else length / INCH)


def vector_text(vector: Array, write: Callable[[float], str] = repr) -> str:
    return "[" + ", ".join(write(float(value)) for value in vector) + "]"


# --- the part as drawn ----------------------------------------------------------------------------


def drawn(
    legs: list[float],
    angles: list[float],
    rotations: list[float],
    radius: float,
    frame: tuple[Array, Array, Array],
) -> Part:
    """The free part walked from its A end: place, direction of travel, first bend's axis.

    A piece's stock here is its drawn length.
    """
    at, along, axis = frame
    pieces = [Piece(0.0, legs[0], at, along, np.zeros(3))]
    for number, (angle, turn, leg) in enumerate(
        zip(angles, rotations, legs[1:], strict=True), start=1
    ):
        place, along = pieces[-1].at(1.0)
        axis = rotation(along, turn) @ axis
        begin = pieces[-1].stock_to
        arc_end = begin + float(radius * np.radians(angle))
        arc = Piece(begin, arc_end, place, along, axis, angle, radius, number)
        place, along = arc.at(1.0)
        pieces += [arc, Piece(arc_end, arc_end + leg, place, along, np.zeros(3))]
    return Part(tuple(pieces))


def mirrored(part: Part, across: str) -> Part:
    """The other hand. An axis is a turning sense: its mirror image points the other way."""
    flip = np.diag(FRAMES_MIRRORED[across])
    return Part(
        tuple(
            Piece(
                piece.stock_from,
                piece.stock_to,
                flip @ piece.start,
                flip @ piece.along,
                -flip @ piece.axis,
                piece.angle,
                piece.radius,
                piece.n,
            )
            for piece in part.pieces
        )
    )


def clashes(part: Part, od: float) -> bool:
    """Whether the tube runs into itself, looked at every half diameter."""
    places, lengths = [], []
    for piece in part.pieces:
        long = piece.stock
        for part_way in np.linspace(0, 1, max(2, int(long / od * 2)), endpoint=False):
            places.append(piece.at(float(part_way))[0])
            lengths.append(piece.stock_from + part_way * long)
    points, s = np.array(places), np.array(lengths)
    near = np.linalg.norm(points[:, None] - points[None], axis=2) < 1.6 * od
    return bool(np.any(near & (np.abs(s[:, None] - s[None]) > 2.5 * od)))


# --- drawing by lot -------------------------------------------------------------------------------


@dataclass(frozen=True)
class DrawnDie:
    """A die of the bench with the tube's diameter it is for."""

    name: str
    od: float
    wall: float
    die: Die


def random_die(number: int, rng: np.random.Generator) -> DrawnDie:
    od = float(rng.choice([19.05, 25.4, 31.75, 38.1, 44.45]))
    zero = float(rng.uniform(0.2, 3.0) * rng.choice([-1, 1]))
    die = Die(
        clr=round(od * float(rng.uniform(2.6, 5.0)), 1),
        mark_offset=round(float(rng.uniform(-20, 30)), 2),
        clamp=round(od * float(rng.uniform(0.8, 2.2)), 1),
        follower=round(od * float(rng.uniform(1.0, 3.0)), 1),
        springback=0.0 if rng.random() < 0.15 else round(float(rng.uniform(0.002, 0.07)), 4),
        dial_zero=round(zero, 2),
        stretch=round(float(rng.uniform(-0.02, 0.04)), 4),
    )
    return DrawnDie(f"die {number}", od, 1.65 if od < 40 else 2.11, die)


def random_angle(rng: np.random.Generator, steep: bool) -> float:
    if steep and rng.random() < 0.3:
        return round(float(rng.uniform(150, 178)), 2)
    if rng.random() < 0.4:
        return float(rng.choice([15, 30, 45, 60, 90, 120, 135]))
    return round(float(rng.uniform(3, 150)), 3)


def random_rotation(rng: np.random.Generator) -> float:
    if rng.random() < 0.5:
        return float(rng.choice([0, 180, 90, -90]))
    return round(float(rng.uniform(-179.9, 180)), 3)


def random_leg(low: float, units: str, rng: np.random.Generator) -> float:
    """A leg of at least `low`, in inch files often a whole number of sixteenths."""
    leg = low + float(rng.exponential(180)) + 0.01
    if units == "in" and rng.random() < 0.6:
        return (int(leg / INCH * 16) + 1) * INCH / 16
    return round(leg, 3)


def random_end_leg(grip: float, units: str, rng: np.random.Generator) -> float:
    """An end leg; nearly half of them too short for what must hold them."""
    if rng.random() < 0.45:
        return round(float(rng.uniform(1.0, 0.98 * grip)), 3)
    return random_leg(grip, units, rng)


def random_legs(count: int, die: Die, units: str, rng: np.random.Generator) -> list[float]:
    """One more leg than bends.

    A leg between bends must be held by the clamp or, made in the other order, by the follower; one
    in eight holds only one of them.
    """
    small, large = sorted((die.clamp, die.follower))
    between = []
    for _ in range(count - 1):
        if rng.random() < 0.125 and large - small > 1:
            between.append(round(float(rng.uniform(small + 0.01, large)), 3))
        else:
            between.append(random_leg(large, units, rng))
    ends = [random_end_leg(large, units, rng) for _ in range(2)]
    return [ends[0], *between, ends[1]]


def random_frame(rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """A place, a direction of travel and a first bend's axis; one in three square to the world."""
    at = np.round(rng.uniform(-900, 900, 3), 2)
    if rng.random() < 1 / 3:
        along, axis = np.eye(3)[rng.permutation(3)[:2]] * rng.choice([-1.0, 1.0], (2, 1))
        return at, along, axis
    along = rng.normal(size=3)
    along /= np.linalg.norm(along)
    axis = cross(along, rng.normal(size=3))
    return at, along, axis / np.linalg.norm(axis)


def random_part(chosen: DrawnDie, units: str, steep: bool, rng: np.random.Generator) -> Part:
    die = chosen.die
    radius = die.clr * (1 + die.springback)  # loaded / free = 1 + springback at every angle
    while True:
        count = int(rng.integers(1, 9))
        angles = [random_angle(rng, steep) for _ in range(count)]
        rotations = [0.0, *(random_rotation(rng) for _ in range(count - 1))]
        legs = random_legs(count, die, units, rng)
        part = drawn(legs, angles, rotations, radius, random_frame(rng))
        if part.pieces[-1].stock_to < 7000 and not clashes(part, chosen.od):
            return part


def tube_text(name: str, die: str, part: Part, way: str, write: Callable[[float], str]) -> str:
    """A `[[tube]]` given by its corners or by its legs and angles."""
    head = f'\n[[tube]]\nname = "{name}"\ntubing = "tube {die}"\ndie = "{die}"\n'
    if way == "points":
        rows = ",\n  ".join(vector_text(corner, write) for corner in part.corners)
        return f"{head}points = [\n  {rows}]\n"
    first, bend = part.pieces[0], part.pieces[1]
    toward = cross(bend.axis, first.along)
    return (
        f"{head}[tube.bends]\n"
        f"legs = [{', '.join(write(leg) for leg in part.legs)}]\n"
        f"angles = {part.angles}\n"
        f"rotations = {[round(turn, 9) for turn in part.rotations]}\n"
        f"from = {vector_text(first.start, write)}\n"
        f"along = {vector_text(first.along)}\n"
        f"up = {vector_text(toward)}\n"
    )


def bench_text(
    bender: Bender, dies: list[DrawnDie], max_angle: float, units: str, rng: np.random.Generator
) -> str:
    def write(length: float) -> str:
        return length_text(length, units, rng)

    rows = [
        "format = 1",
        f'units = "{units}"',
        "[bender]",
        'name = "invented bender"',
        f'plane = "{bender.plane}"',
        f'swing = "{bender.swing}"',
        f"die_height = {write(9000.0)}",
        f"stroke = {bender.stroke}",
        f"max_angle = {max_angle}",
    ]
    for chosen in dies:
        die = chosen.die
        rows += [
            "[[die]]",
            f'name = "{chosen.name}"',
            f"od = {write(chosen.od)}",
            f"clr = {write(die.clr)}",
            f"mark_offset = {write(die.mark_offset)}",
            f"clamp = {write(die.clamp)}",
            f"follower = {write(die.follower)}",
            f"springback = {die.springback}",
            f"dial_zero = {die.dial_zero}",
            f"stretch = {die.stretch}",
            "[[tubing]]",
            f'name = "tube {chosen.name}"',
            f"od = {write(chosen.od)}",
            f"wall = {write(chosen.wall)}",
            'material = "304"',
            f"sticks = [{write(12000.0)}]",
        ]
    return "\n".join(rows) + "\n"


def random_job(seed: int, tubes: int = 10) -> RandomJob:
    """A bench of three dies and a job of that many tubes; one in five is another's other hand."""
    rng = np.random.default_rng(seed)
    plane = str(rng.choice(["horizontal", "vertical"]))
    bender = Bender(
        swing=str(rng.choice(PLANES[plane])),
        plane=plane,
        stroke=float(rng.choice([0, 30, 45, 90])),
    )
    max_angle = 200.0  # 178 degrees and 7 % of springback are 190.5 on the die
    dies = [random_die(number, rng) for number in range(1, 4)]
    bench_units, units = (str(rng.choice(["mm", "in"])) for _ in range(2))
    made: list[RandomTube] = []
    rows = [f'format = 1\nname = "random {seed}"\nunits = "{units}"\nbench = "bench.toml"\n']
    for number in range(1, tubes + 1):
        name = f"tube {number}"
        if number % 5 == 0:
            other = made[-1]
            across = str(rng.choice(list(FRAMES_MIRRORED)))
            hand = mirrored(other.part, across)
            made.append(RandomTube(name, other.die, "mirror", hand, mirrored=True))
            rows.append(
                f'\n[[tube]]\nname = "{name}"\n'
                f'tubing = "tube {other.die}"\ndie = "{other.die}"\n'
                f'mirror = {{ of = "{other.name}", across = "{across}" }}\n'
            )
            continue
        chosen = dies[int(rng.integers(3))]
        way = str(rng.choice(["points", "bends"]))
        part = random_part(chosen, units, way == "bends", rng)
        made.append(RandomTube(name, chosen.name, way, part))
        rows.append(
            tube_text(name, chosen.name, part, way, lambda length: length_text(length, units, rng))
        )
    return RandomJob(
        seed,
        units,
        bench_text(bender, dies, max_angle, bench_units, rng),
        "".join(rows),
        bender,
        {chosen.name: chosen.die for chosen in dies},
        max_angle,
        tuple(made),
    )
