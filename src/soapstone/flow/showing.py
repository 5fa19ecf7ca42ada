"""The bench as the shop has it."""

from pathlib import Path

from soapstone.bench.files import read_bench, starter_bench
from soapstone.bench.model import Bench
from soapstone.job.files import own_bench_path


def bench_at(path: Path | None) -> Bench:
    """Give the bench of a file, else the shop's own, else the starter bench."""
    if path is not None:
        return read_bench(path)
    own = own_bench_path()
    if own is not None:
        return read_bench(own)
    return starter_bench()
