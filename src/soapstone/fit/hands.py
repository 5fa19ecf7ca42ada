"""A tube and its mirror images: what all hands must keep clear of, asked of the tube alone.

What an image must keep clear of, the tube must keep clear of mirrored. What else comes in is the
gap between two hands, and between a tube that has its shape and a hand that it keeps clear of.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import reduce

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.keepouts import hinges_of, keepouts_for, mirrored
from soapstone.fit.motion import Hinge
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.moves import mirror
from soapstone.geometry.solids import HalfSpace, Rod
from soapstone.geometry.vectors import Array, Vec3, norm
from soapstone.job.keepout import KeepOut as WrittenKeepOut
from soapstone.job.model import Job
from soapstone.job.tube import Tube

Rods = Mapping[str, tuple[Centreline, float]]
"""Centreline and outside diameter in mm of the tubes that have a shape, by name."""

SAME = 1e-9
"""Share, and mm, by which two hands may miss being mirror images of each other."""


@dataclass(frozen=True, slots=True)
class Hand:
    """A tube, or one of its mirror images, and the mirrors that lead there, first to last.

    A mirror is a point of its plane and its unit normal.
    """

    tube: Tube
    mirrors: tuple[tuple[Vec3, Vec3], ...] = ()

    def placed(self, line: Centreline) -> Centreline:
        """Give this hand of the tube's centreline."""
        return reduce(lambda one, plane: mirror(one, *plane), self.mirrors, line)

    def brought_back(self, keepout: KeepOut) -> KeepOut:
        """Give what the tube clears just as this hand of it clears the keep-out."""
        return reduce(lambda one, plane: mirrored(one, *plane), reversed(self.mirrors), keepout)

    @property
    def move(self) -> tuple[Array, Array]:
        """Matrix (3, 3) and shift in mm that carry the tube to this hand."""
        matrix, shift = np.eye(3), np.zeros(3)
        for at, normal in self.mirrors:
            flip = np.eye(3) - 2 * np.outer(normal, normal)
            matrix, shift = flip @ matrix, flip @ shift + 2 * np.dot(at, normal) * np.array(normal)
        return matrix, shift


def hands_of(job: Job, name: str) -> tuple[Hand, ...]:
    """Give a tube, its mirror images and theirs, each after the one that it mirrors."""
    return tuple(_hands(job, Hand(job.tube(name))))


def _hands(job: Job, hand: Hand) -> Iterator[Hand]:
    yield hand
    for tube in job.tubes:
        if tube.mirror is not None and tube.mirror.of == hand.tube.name:
            yield from _hands(job, Hand(tube, (*hand.mirrors, tube.mirror.plane)))


def all_hands_keepouts(job: Job, name: str, rods: Rods, start: Vec3) -> tuple[KeepOut, ...]:
    """Give all that a tube must keep clear of, so that no hand of it is too near to anything.

    Shapes of its own hands in `rods` are those of before and do not count. `start` is where its A
    end will be.
    """
    hands = hands_of(job, name)
    own = {hand.tube.name for hand in hands}
    others = {name: rod for name, rod in rods.items() if name not in own}
    found: list[KeepOut] = []
    for hand in hands:
        around = (*keepouts_for(job, hand.tube, others), *_kept_by_others(job, hand, others))
        found += [hand.brought_back(one) for one in around]
    for one in _between_hands(job, hands, start):
        if one not in found:
            found.append(one)
    return tuple(found)


def _kept_by_others(job: Job, hand: Hand, others: Rods) -> Iterator[KeepOut]:
    """Tubes that must keep clear of a hand: it may as well keep clear of them.

    Where the job lets the hand swing, the other tube swings back instead, the last hinge first.
    """
    for keepout in job.keepouts:
        if keepout.tube != hand.tube.name:
            continue
        back = tuple(
            Hinge(one.through, one.along, -one.stop, -one.start)
            for one in reversed(hinges_of(keepout))
        )
        for tube in job.tubes:
            if tube.name in others:
                yield KeepOut(tube.name, Rod(*others[tube.name]), _gap(keepout, tube), back)


def _gap(keepout: WrittenKeepOut, tube: Tube) -> float:
    return tube.gap if keepout.gap is None else keepout.gap


def _between_hands(job: Job, hands: tuple[Hand, ...], start: Vec3) -> Iterator[KeepOut]:
    """Give the halves of space that keep hands off each other that are mirror images in a plane.

    A tube that goes through the plane meets its image there: what lies in a plane is its own
    mirror image. So it must stay on one side; there a point at the height `h` over the plane is
    no nearer to the image of a point at the height `k` than `h + k`, and just `2 h` from its own:
    the two are twice as far from each other as the tube from the plane. Half the gap, kept from the
    plane, is the gap kept between them, no more and no less.

    Hands that are turned to each other, mirrored in two planes, are left out: with planes that are
    square to each other they keep clear where each keeps clear of its mirror images. So are hands
    that swing and never lie as drawn.
    """
    for keepout in job.keepouts:
        still = all(hinge.start <= 0 <= hinge.stop for hinge in hinges_of(keepout))
        there = [hand for hand in hands if hand.tube.name == keepout.tube and still]
        for other, hand in ((other, hand) for other in there for hand in hands):
            plane = None if hand is other else _mirror_between(hand, other)
            if plane is not None:
                at, normal = plane
                out = -normal if np.dot(np.subtract(start, at), normal) < 0 else normal
                solid = HalfSpace(vec(at), vec(out + 0.0))
                yield KeepOut(keepout.name, solid, _gap(keepout, hand.tube) / 2, counts=2.0)


def _mirror_between(hand: Hand, other: Hand) -> tuple[Array, Array] | None:
    """Plane (point, unit normal), by the tube's own place, that mirrors one hand to the other.

    None when they are not mirror images of each other in a plane.
    """
    (matrix, shift), (there, further) = hand.move, other.move
    between, along = matrix.T @ there, matrix.T @ (further - shift)
    spread = np.eye(3) - between  # 2 n n'
    column = spread[:, norm(spread.T).argmax()]
    normal = column / norm(column) if norm(column) > SAME else column
    if np.abs(spread - 2 * np.outer(normal, normal)).max() > SAME:
        return None
    if norm(along - np.dot(along, normal) * normal) > SAME * (1 + norm(along)):
        return None
    if not normal.any():
        return None
    if normal[np.abs(normal).argmax()] < 0:
        normal = -normal
    return along / 2 + 0.0, normal


def shapes_of_hands(
    job: Job, name: str, line: Centreline, od: float
) -> dict[str, tuple[Centreline, float]]:
    """Give centreline and outside diameter of every hand of a tube, by name."""
    return {hand.tube.name: (hand.placed(line), od) for hand in hands_of(job, name)}
