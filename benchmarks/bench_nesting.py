"""How long nesting takes, beside the plain programme of pieces in sticks given to HiGHS.

    python benchmarks/bench_nesting.py

CPU time, warm. `plain` is a whole-number programme with one variable for each piece in each stick,
stopped after a minute of the clock: `-` says that it had proven nothing by then.
"""

import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from soapstone.yard.cut_list import Piece, Stick
from soapstone.yard.nesting import nest
from soapstone.yard.quick import first_fit

DATA = Path(__file__).parents[1] / "tests" / "truth" / "data" / "cutting_stock"
MINUTE = 60.0


def published(file: Path) -> tuple[Stick, list[Piece]]:
    """Read an instance of the BPPLIB collection."""
    rows = [line.split() for line in file.read_text("utf-8").splitlines()]
    pieces = [Piece(float(row[0]), int(row[1]), "") for row in rows[2:] if row]
    return Stick(float(rows[1][0]), None, 1.0), pieces


def drawn(kinds: int, seed: int) -> tuple[Stick, list[Piece]]:
    """Draw pieces by lot, on whole mm, for sticks of 6.1 m."""
    lot = np.random.default_rng(seed)
    lengths, counts = lot.integers(150, 2800, kinds), lot.integers(1, 6, kinds)
    rows = zip(lengths.tolist(), counts.tolist(), strict=True)
    return Stick(6096.0, None, 1.0), [Piece(float(at), n, "") for at, n in rows]


def plain(stick: Stick, pieces: Sequence[Piece], most: int) -> int | None:
    """The fewest sticks, of up to `most`, by the programme of pieces in sticks."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    kinds = len(pieces)
    counts = [piece.count for piece in pieces]
    cut = np.hstack((np.kron(np.eye(kinds), np.ones(most)), np.zeros((kinds, most))))
    lengths = np.array([piece.length for piece in pieces])
    fill = np.hstack((np.kron(lengths, np.eye(most)), -stick.length * np.eye(most)))
    found = milp(
        np.concatenate((np.zeros(kinds * most), np.ones(most))),
        constraints=[LinearConstraint(cut, counts, counts), LinearConstraint(fill, -np.inf, 0)],
        integrality=np.ones(kinds * most + most),
        bounds=Bounds(0, np.concatenate((np.repeat(counts, most), np.ones(most)))),
        options={"time_limit": MINUTE},
    )
    return round(found.fun) if found.status == 0 else None


def main() -> None:
    """Print a line for each case."""
    cases = {file.stem: published(file) for file in sorted(DATA.glob("*.txt"))}
    cases |= {f"drawn, {kinds} lengths": drawn(kinds, kinds) for kinds in (5, 10, 20, 40)}
    nest([Stick(9.0, None, 1.0)], [Piece(4.0, 5, "")], 0.0)
    print(f"{'':24}sticks  first fit  proven   CPU   plain")
    for name, (stick, pieces) in cases.items():
        start = time.process_time()
        found = nest([stick], pieces, 0.0)
        took = time.process_time() - start
        quick = len(first_fit([stick], pieces, 0.0) or ())
        start = time.process_time()
        best = plain(stick, pieces, quick)
        other = f"{time.process_time() - start:.2f} s" if best is not None else "-"
        if best is not None and found.optimal and best != len(found.ways):
            raise SystemExit(f"{name}: {len(found.ways)} beside {best}")
        proven = "yes" if found.optimal else "no"
        print(f"{name:24}{len(found.ways):6}{quick:11}{proven:>8}{took:6.2f} s  {other:>8}")


if __name__ == "__main__":
    main()
