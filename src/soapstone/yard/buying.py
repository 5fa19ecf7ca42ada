"""Tubing to buy: the sticks that pieces are cut from for the least money, or metres."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from soapstone.errors import InputError
from soapstone.findings import Finding, Say, say_mm
from soapstone.yard.cut_list import Piece, Stick
from soapstone.yard.nesting import Nest, nest
from soapstone.yard.quote import Material

METRE = Decimal(1000)


@dataclass(frozen=True, slots=True)
class Bought:
    """What is bought of one tubing, what is left of it in mm, and what is doubtful."""

    material: Material
    cuts: int
    offcuts: tuple[float, ...]
    findings: tuple[Finding, ...] = ()


def buy(
    tubing: str,
    price: float | None,
    sticks: Sequence[float],
    pieces: Sequence[tuple[str, float]],
    kerf: float,
    count: int = 1,
    say: Say = say_mm,
) -> Bought:
    """Choose sticks (mm) of one tubing for `count` sets of pieces (name, length in mm).

    Without sticks, or where a piece is longer than all of them, tubing is bought by the metre:
    the pieces and a kerf for each.
    """
    longest = max(length for _, length in pieces)
    if not sticks or longest > max(sticks):
        return _by_the_metre(tubing, price, sticks, pieces, kerf, count, say)
    stock = [Stick(length, None, length) for length in sorted(set(sticks), reverse=True)]
    wanted = [Piece(length, count, name) for name, length in pieces]
    try:
        found = nest(stock, wanted, kerf)
    except InputError:
        return _by_the_metre(tubing, price, sticks, pieces, kerf, count, say)
    return _by_the_stick(tubing, price, stock, wanted, kerf, found, say)


def _by_the_stick(
    tubing: str,
    price: float | None,
    stock: Sequence[Stick],
    wanted: Sequence[Piece],
    kerf: float,
    found: Nest,
    say: Say,
) -> Bought:
    offcuts, cuts = [], 0
    for way in found.ways:
        used = sum((piece.length + kerf) * n for piece, n in zip(wanted, way.takes, strict=True))
        left = max(0.0, stock[way.stick].length - used)
        # the last piece needs no cut where it ends with the stick
        exactly = used - kerf >= stock[way.stick].length - 1e-6
        cuts += sum(way.takes) - exactly
        offcuts.append(round(left, 3))
    bought = Counter(stock[way.stick].length for way in found.ways)
    metres = sum((Decimal(repr(length)) * n for length, n in bought.items()), Decimal(0)) / METRE
    how = " and ".join(
        f"{n} {'stick' if n == 1 else 'sticks'} of {say(length)}" for length, n in bought.items()
    )
    sure = () if found.optimal else (_unproven(tubing, found),)
    return Bought(Material(tubing, price, metres, how), cuts, tuple(offcuts), sure)


def _unproven(tubing: str, found: Nest) -> Finding:
    what = f"{len(found.ways)} sticks were found to do; it takes {found.bound} at least"
    return Finding("note", tubing, what)


def _by_the_metre(
    tubing: str,
    price: float | None,
    sticks: Sequence[float],
    pieces: Sequence[tuple[str, float]],
    kerf: float,
    count: int,
    say: Say,
) -> Bought:
    total = sum((Decimal(repr(length + kerf)) for _, length in pieces), Decimal(0)) * count
    metres = (total / METRE).quantize(Decimal("0.001"))
    made = Material(tubing, price, metres, "by length")
    if not sticks:
        return Bought(made, len(pieces) * count, ())
    name, longest = max(pieces, key=lambda piece: piece[1])
    what = f"{name} needs {say(longest)}, more than the longest stick, {say(max(sticks))}"
    mend = "it is reckoned by length; ask for a longer stick, or make it of two"
    return Bought(made, len(pieces) * count, (), (Finding("warn", tubing, what, mend),))
