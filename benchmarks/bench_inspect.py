"""How often what an inspection says a number may be off by holds, and how long one takes.

    python benchmarks/bench_inspect.py --parts 300

Parts are made by the virtual bender of tests/truth, taped and inspected as the tests there do it.
"""

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.truth.test_inspection import results


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--parts", type=int, default=300)
    parts = parser.parse_args().parts
    began = time.process_time()
    found = results(parts)
    each = (time.process_time() - began) / parts
    for what in ("leg", "angle", "roll"):
        shares = [share for kind, share, _ in found if kind == what]
        held = sum(share <= 1 for share in shares) / len(shares)
        print(f"{what}: {len(shares)} numbers, {100 * held:.1f} % within what was said")
    print(f"making, taping and inspecting a part: {each:.2f} s")


if __name__ == "__main__":
    main()
