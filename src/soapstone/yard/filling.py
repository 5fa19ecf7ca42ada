"""Fill one stick with pieces: for the most worth, or in every way that is worth enough.

Both go through the pieces one kind after the other, longest first, and leave a branch when what
the rest of the stick can be worth at most does not suffice. That most is a table over a grid of
lengths: exact where all lengths lie on the grid, never too low where they do not, since pieces are
rounded down to it. What is cut is always held against the lengths themselves.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.yard.cut_list import Piece

HAIR = 1e-6
"""mm: lengths nearer than this are one length."""

MOST_CELLS = 12_000
"""Cells of the table along one stick."""

FINEST = 1e-4
"""mm: a grid finer than this is none."""

PATIENCE = 60_000
"""Branches after which the search for the best filling makes do with what it has."""


@dataclass(frozen=True, slots=True)
class Room:
    """One length of stick and what may be cut from it.

    `room` is the stick's length and one kerf, `needs` each piece's length and a kerf, mm; `most`
    how often each may be cut; `order` goes through the pieces, longest first; `cells` and `whole`
    are needs and room on the grid, rounded down.
    """

    room: float
    needs: tuple[float, ...]
    most: tuple[int, ...]
    order: tuple[int, ...]
    cells: tuple[int, ...]
    whole: int


@dataclass(frozen=True, slots=True)
class Filling:
    """How many of each piece, what that is worth, and what no filling is worth more than."""

    takes: tuple[int, ...]
    worth: float
    bound: float


def room_of(length: float, pieces: Sequence[Piece], kerf: float) -> Room:
    """Lay a stick `length` mm long and the pieces on a grid; `kerf` is lost after each piece."""
    room = length + kerf
    needs = tuple(piece.length + kerf for piece in pieces)
    step = _step(needs, room)
    most = tuple(
        min(piece.count, int((room + HAIR) // need))
        for piece, need in zip(pieces, needs, strict=True)
    )
    fits = [k for k in range(len(pieces)) if most[k]]
    return Room(
        room=room,
        needs=needs,
        most=most,
        order=tuple(sorted(fits, key=lambda k: -needs[k])),
        cells=tuple(int(need / step + 1e-6) for need in needs),
        whole=int(room / step + 1e-6),
    )


def _step(needs: Sequence[float], room: float) -> float:
    """Give the widest grid on which all lengths lie, or one of as many cells as there may be."""
    lengths = [*needs, room]
    counts = [round(one / FINEST) for one in lengths]
    if all(abs(n * FINEST - one) < FINEST / 100 for n, one in zip(counts, lengths, strict=True)):
        step = math.gcd(*counts) * FINEST
        if room / step <= MOST_CELLS:
            return step
    return room / MOST_CELLS


def _table(room: Room, worth: Array) -> Array:
    """The most that each rest of the stick (column) can be worth with the pieces from a row on."""
    top = np.zeros((len(room.order) + 1, room.whole + 1))
    for row in range(len(room.order) - 1, -1, -1):
        k, after = room.order[row], top[row + 1]
        here = top[row]
        here[:] = after
        if worth[k] <= 0:
            continue
        for n in range(1, room.most[k] + 1):
            start = n * room.cells[k]
            if start > room.whole:
                break
            rest = after[: room.whole + 1 - start] + n * worth[k]
            np.maximum(here[start:], rest, out=here[start:])
    return top


def best_filling(room: Room, worth: Array) -> Filling:
    """Fill a stick for the most worth, each piece worth `worth[k]`."""
    top = _table(room, worth)
    bound = float(top[0, room.whole])
    best, found, tries = -1.0, (0,) * len(room.needs), 0
    enough = bound * (1 - 1e-12) - 1e-12
    takes = [0] * len(room.needs)
    # each entry: row, room left, cells left, worth so far, how many of the row's piece to undo
    stack: list[tuple[int, float, int, float, int]] = [(0, room.room + HAIR, room.whole, 0.0, -1)]
    while stack:
        row, left, cells, value, count = stack.pop()
        if count >= 0:
            takes[room.order[row - 1]] = count
        for k in room.order[row:]:
            takes[k] = 0
        if value + top[row, cells] <= best:
            continue
        tries += 1
        if tries > PATIENCE:
            return Filling(found, best, bound)
        if row == len(room.order):
            best, found = value, tuple(takes)
            if best >= enough:
                break
            continue
        stack += _branches(room, top, worth, (row, left, cells, value))
    return Filling(found, best, best)


def _branches(
    room: Room, top: Array, worth: Array, state: tuple[int, float, int, float]
) -> list[tuple[int, float, int, float, int]]:
    """Cut the row's piece so and so often; the most hopeful number comes last."""
    row, left, cells, value = state
    k = room.order[row]
    most = min(room.most[k], int(left / room.needs[k]))
    made = [
        (
            row + 1,
            left - n * room.needs[k],
            max(cells - n * room.cells[k], 0),
            value + n * float(worth[k]),
            n,
        )
        for n in range(most + 1)
    ]
    return sorted(made, key=lambda one: one[3] + top[one[0], one[2]])


def fillings_worth(
    room: Room, worth: Array, least: float, limit: int
) -> list[tuple[int, ...]] | None:
    """Give every full filling worth `least` or more; None when there are more than `limit`.

    Full: nothing more fits. What is not full is part of one that is, which is worth no less.
    """
    top = _table(room, worth)
    shortest = [
        min((room.needs[k] for k in room.order[row:]), default=math.inf)
        for row in range(len(room.order) + 1)
    ]
    found: list[tuple[int, ...]] = []
    takes = [0] * len(room.needs)
    stack: list[tuple[int, float, int, float, int]] = [(0, room.room + HAIR, room.whole, 0.0, -1)]
    tries = 0
    while stack:
        row, left, cells, value, count = stack.pop()
        if count >= 0:
            takes[room.order[row - 1]] = count
        tries += 1
        if tries > 50 * limit:
            return None
        if row == len(room.order) or left < shortest[row]:
            for k in room.order[row:]:
                takes[k] = 0
            if not _more_fits(room, takes, left):
                found.append(tuple(takes))
                if len(found) > limit:
                    return None
            continue
        stack += [
            one
            for one in _branches(room, top, worth, (row, left, cells, value))
            if one[3] + top[one[0], one[2]] >= least
        ]
    return found


def _more_fits(room: Room, takes: Sequence[int], left: float) -> bool:
    return any(takes[k] < room.most[k] and room.needs[k] <= left for k in room.order)
