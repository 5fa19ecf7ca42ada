"""Whatever a file holds, its reader gives data or an error of one line that names the file."""

import tomllib
from collections.abc import Callable, Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from soapstone.bench.files import bench_from_tables, read_bench, starter_text
from soapstone.errors import InputError
from soapstone.exchange.csv_files import read_tube_csv
from soapstone.exchange.job_toml import job_toml
from soapstone.job.files import job_from_tables, job_from_text, read_job
from tests.bench.test_files import FULL as FULL_BENCH
from tests.exchange.test_job_toml import same
from tests.job.test_files import FULL as FULL_JOB

SEEDS = {"job": FULL_JOB, "bench": FULL_BENCH, "starter": starter_text("in")}
CSV_SEEDS = {
    "corners": "tube,tubing,die,x_mm,y_mm,z_mm\na,t,d,1.5,-2,0\na,t,d,300,0,100\n",
    "legs": "tube;tubing;die;leg_in;angle;rotation;up_x;up_y;up_z\n"
    "a;t;d;12 3/8;90;;0;0;1\na;;;1,5;;\n",
    "trials": "dial,angle,lot\n31,30,a\n62,60,b\n",
}
READERS: list[Callable[[Path], Any]] = [read_job, read_bench, read_tube_csv]
quick = settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])

ODD = st.sampled_from(
    [0, -1, 1e308, 5e-324, float("nan"), float("inf"), -float("inf"), 2**63, True, "", " ", "nan",
     "1e999 mm", "-0", "½", "A", "x" * 5000, "a\nb", "\0", "\x1b[31m", "12 3/8 in", [], [[]], {},
     [1, 2, 3], [0, 0, 0], ["foot"], {"at": [0, 0, 0]}, {"name": "d"}, {"od": 1}, [{}], [1] * 300,
     {"": 0}, {"a\nb": 0}, "port leg", "foot", "all", [None][:0]]
)  # fmt: skip


def read_or_refuse(read: Callable[[Path], Any], path: Path) -> None:
    try:
        read(path)
    except InputError as refused:
        line = str(refused)
    else:
        return
    assert str(path.parent) in line
    assert line.isprintable()
    assert len(line) < 1500


@quick
@given(content=st.binary(max_size=300))
@pytest.mark.parametrize("read", READERS)
def test_any_bytes(read: Callable[[Path], Any], tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "file"
    path.write_bytes(content)
    read_or_refuse(read, path)


@st.composite
def torn(draw: st.DrawFn, seeds: dict[str, str]) -> bytes:
    """A sound file with pieces cut out, doubled, or overwritten by bytes."""
    content = seeds[draw(st.sampled_from(list(seeds)))].encode()
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(content)))
        to = min(len(content), at + draw(st.integers(0, 40)))
        middle = draw(st.one_of(st.just(b""), st.binary(max_size=6), st.just(content[at:to] * 2)))
        content = content[:at] + middle + content[to:]
    return content


@quick
@given(content=torn(SEEDS))
@pytest.mark.parametrize("read", [read_job, read_bench])
def test_torn_tables(read: Callable[[Path], Any], tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "file.toml"
    path.write_bytes(content)
    read_or_refuse(read, path)


@quick
@given(content=torn(CSV_SEEDS))
def test_torn_rows(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "file.csv"
    path.write_bytes(content)
    read_or_refuse(read_tube_csv, path)
    bench = tmp_path / "bench.toml"
    bench.write_text(
        'units = "mm"\n[[trial]]\ndie = "d"\ntubing = "t"\nfile = "file.csv"\n', encoding="utf-8"
    )
    read_or_refuse(read_bench, bench)


def places(node: Any, above: tuple[int | str, ...] = ()) -> Iterator[tuple[int | str, ...]]:
    """All places in nested tables and lists."""
    if above:
        yield above
    if isinstance(node, (dict, list)):
        for key, value in node.items() if isinstance(node, dict) else enumerate(node):
            yield from places(value, (*above, key))


@st.composite
def twisted(draw: st.DrawFn, seeds: dict[str, str]) -> dict[str, Any]:
    """A sound file with values swapped for odd ones, keys renamed, entries doubled or gone."""
    tables = tomllib.loads(seeds[draw(st.sampled_from(list(seeds)))])
    for _ in range(draw(st.integers(1, 4))):
        *above, key = draw(st.sampled_from(list(places(tables))))
        node: Any = tables
        for step in above:
            node = node[step]
        how = draw(st.sampled_from(["swap", "swap", "drop", "rename", "double", "move"]))
        if how == "swap":
            node[key] = deepcopy(draw(ODD))
        elif how == "move":
            node[key] = deepcopy(tables.get("name", [node[key]]))
        elif how == "double" and isinstance(node, list):
            node.append(deepcopy(node[key]))
        elif how == "rename" and isinstance(node, dict):
            node[f"{key}x"] = node.pop(key)
        else:
            del node[key]
    return tables


@quick
@given(tables=twisted({key: SEEDS[key] for key in ("job", "bench")}))
@pytest.mark.parametrize("read", [job_from_tables, bench_from_tables])
def test_twisted_values(read: Callable[..., Any], tables: dict[str, Any]) -> None:
    try:
        read(tables, "file.toml", None)
    except InputError as refused:
        line = str(refused)
    else:
        return
    assert line.startswith("file.toml: ")
    assert line.isprintable()
    assert len(line) < 1500


@quick
@given(tables=twisted({"job": FULL_JOB}))
def test_a_twisted_job_that_is_read_can_be_written_and_read_again(tables: dict[str, Any]) -> None:
    try:
        job = job_from_tables(tables, "job.toml", None)
    except InputError:
        return
    assert same(job_from_text(job_toml(job)).model_dump(), job.model_dump(), rel=1e-15)
