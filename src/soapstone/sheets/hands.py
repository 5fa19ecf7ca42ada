"""Which tubes share a sheet: a tube and its mirror image are made from the same marks and stops."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from soapstone.findings import Finding
from soapstone.plan.model import BendStep, TubePlan

SAME = 1e-6
"""Lengths in mm and angles in degrees that differ by less are the same."""

BOTH = " (both hands)"
"""Added to where a finding is, when it is said of a tube and of its mirror image."""


@dataclass(frozen=True, slots=True)
class Hands:
    """One tube, or a tube and its mirror image."""

    first: TubePlan
    second: TubePlan | None = None

    @property
    def plans(self) -> tuple[TubePlan, ...]:
        """Give the one or two plans."""
        return (self.first,) if self.second is None else (self.first, self.second)


def pair_hands(tubes: Sequence[TubePlan]) -> list[Hands]:
    """Put each mirror image beside its tube, in the tubes' order; no tube is in two pairs."""
    taken: set[int] = set()
    pairs = []
    for i, tube in enumerate(tubes):
        if i in taken:
            continue
        taken.add(i)
        match = next(
            (
                j
                for j, other in enumerate(tubes)
                if j not in taken
                and (other.of == tube.name or tube.of == other.name)
                and mirror_images(tube, other)
            ),
            None,
        )
        if match is None:
            pairs.append(Hands(tube))
            continue
        taken.add(match)
        first, second = (
            (tube, tubes[match]) if tubes[match].of == tube.name else (tubes[match], tube)
        )
        pairs.append(Hands(first, second))
    return pairs


def mirror_images(a: TubePlan, b: TubePlan) -> bool:
    """Tell whether two plans differ in the way of their rolls alone, level readings aside."""
    cuts = zip(a.cuts, b.cuts, strict=True)
    return (
        a.setup == b.setup
        and len(a.bends) == len(b.bends)
        and abs(a.stock - b.stock) < SAME
        and all(abs(x.mark - y.mark) < SAME for x, y in cuts)
        and all(_opposite(x, y) for x, y in zip(a.bends, b.bends, strict=True))
    )


def _opposite(x: BendStep, y: BendStep) -> bool:
    same = ((x.mark, y.mark), (x.angle, y.angle), (x.dial, y.dial), (x.loaded, y.loaded))
    half_turn = abs(abs(x.roll) - 180) < SAME and abs(abs(y.roll) - 180) < SAME
    return (
        (x.n, x.lead) == (y.n, y.lead)
        and all(abs(p - q) < SAME for p, q in same)
        and (half_turn or abs(x.roll + y.roll) < SAME)
    )


def own_findings(hands: Hands) -> list[Finding]:
    """Give the findings of one tube or of both hands; what is said of both is said once."""
    found = list(hands.first.problems)
    if hands.second is None:
        return found
    said = {(f.severity, f.what, f.mend): i for i, f in enumerate(found)}
    for finding in hands.second.problems:
        i = said.get((finding.severity, finding.what, finding.mend))
        if i is None:
            found.append(finding)
        else:
            where = found[i].where.removesuffix(BOTH)
            found[i] = replace(found[i], where=f"{where}{BOTH}")
    return found
