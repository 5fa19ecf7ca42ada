"""However wrong a file is, a command ends with 0, 1 or 2, and for 2 with one line. No traceback."""

import copy
import tomllib
from importlib.resources import files

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tomlkit.exceptions import TOMLKitError

from tests.cli.running import is_clean, soapstone

DEMO = files("soapstone.demo")
JOB = tomllib.loads((DEMO / "stern-arch.toml").read_text(encoding="utf-8"))
BENCH = tomllib.loads((DEMO / "bench.toml").read_text(encoding="utf-8"))
# trial bends slow every one of thousands of plans down; they have a test of their own
BENCH.pop("trial")
JOB["tube"].append(
    {
        "name": "coil",
        "tubing": {"od": 25.4, "wall": 2.0, "material": "304"},
        "die": {"clr": "3 in", "clamp": 45, "follower": 60},
        "bends": {
            "legs": [300, 80, 80, "12 in"],
            "angles": [200, 45, 0.5],
            "rotations": [0, -170, 180],
            "from": [0, 0, 0],
            "along": [1, 0, 0],
            "up": [0, 0, 1],
        },
    }
)

ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from([0, -0.0, 1e-9, -1e-9, 1e9, 180, 179.999999, 360, -180, 1e308, 5e-324]),
    st.sampled_from(
        ["", "12 3/8 in", "1/0 in", "-5 mm", "nan", "é", "\x00", "xz", "304", "A" * 5000]
    ),
    st.text(max_size=12),
    st.lists(st.floats(-1e4, 1e4), max_size=5),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=2),
)


def places(node, path=()):
    """Every key and list place in nested tables."""
    found = [path] if path else []
    items = node.items() if isinstance(node, dict) else enumerate(node)
    for key, value in items:
        if isinstance(value, (dict, list)):
            found += places(value, (*path, key))
        else:
            found.append((*path, key))
    return found


@st.composite
def spoilt(draw, whole):
    """The tables with one to three values changed, moved, doubled or taken out."""
    tables = copy.deepcopy(whole)
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(places(tables)))
        node = tables
        for key in path[:-1]:
            node = node[key]
        key, what = path[-1], draw(st.integers(0, 9))
        if what == 0:
            del node[key]
        elif what == 1 and isinstance(node, list):
            node.append(copy.deepcopy(node[key]))
        elif what == 2 and isinstance(node, dict):
            node[draw(st.sampled_from(["nmae", "swing", "points", "od", "clr", "x"]))] = node[key]
        elif what < 6 and isinstance(node[key], (int, float)) and not isinstance(node[key], bool):
            node[key] = node[key] * draw(st.floats(-3, 3))
        else:
            node[key] = draw(ODD)
    return tables


def written(tables):
    """The tables as TOML, or None where TOML has no way to say them."""
    try:
        return tomlkit.dumps(tables).encode()
    except (ValueError, TypeError, AttributeError, RecursionError, TOMLKitError):
        return None


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("fuzz")
    (place / "bench.toml").write_bytes(written(BENCH))
    (place / "trials-38.csv").write_bytes((DEMO / "trials-38.csv").read_bytes())
    return place


def fuzz(examples):
    return settings(
        max_examples=examples,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
    )


@fuzz(700)
@given(spoilt(JOB), st.booleans())
def test_a_spoilt_job(folder, tables, as_json):
    content = written(tables)
    if content is None:
        return
    (folder / "job.toml").write_bytes(content)
    done = soapstone("plan", folder / "job.toml", *(["--json"] if as_json else []))
    assert is_clean(done), done.err
    if as_json and done.code != 2:
        assert len(done.json["tubes"]) == len(tables.get("tube", []))
    if done.code == 2:
        assert "job.toml" in done.err or "bench" in done.err


@fuzz(400)
@given(spoilt(BENCH))
def test_a_spoilt_bench(folder, tables):
    content = written(tables)
    if content is None:
        return
    (folder / "spoilt.toml").write_bytes(content)
    done = soapstone("bench", folder / "spoilt.toml")
    assert is_clean(done), done.err
    job = dict(JOB, bench="spoilt.toml")
    (folder / "on-it.toml").write_bytes(written(job))
    done = soapstone("plan", folder / "on-it.toml")
    assert is_clean(done), done.err


@fuzz(250)
@given(st.binary(max_size=400), st.integers(0, 3000), st.integers(0, 400))
def test_bytes_struck_through_a_job(folder, strike, at, length):
    whole = (DEMO / "stern-arch.toml").read_bytes()
    (folder / "struck.toml").write_bytes(whole[:at] + strike + whole[at + length :])
    done = soapstone("plan", folder / "struck.toml")
    assert is_clean(done), done.err


CELL = st.one_of(
    st.floats(-400, 800).map(repr),
    st.sampled_from(["", "nan", "1e400", "31,5", "30°", '"', "a", "0", "-0", "1;2", "lot 1", "#"]),
    st.text(max_size=6),
)


@fuzz(400)
@given(
    st.sampled_from(["dial,angle", "angle;dial;lot", "dial", "", "\ufeffDial, Angle", "x\ty"]),
    st.lists(st.lists(CELL, max_size=4), max_size=8),
    st.sampled_from([",", ";", "\t"]),
)
def test_odd_trial_bends(folder, head, rows, mark):
    lines = [head, *(mark.join(row) for row in rows)]
    (folder / "odd.csv").write_text("\n".join(lines), encoding="utf-8", errors="replace")
    done = soapstone("calibrate", folder / "odd.csv", "--at", "30,90")
    assert is_clean(done), done.err
    if done.code == 0:
        assert "nan" not in done.out


@fuzz(250)
@given(
    st.sampled_from(
        ["tube,tubing,die,x_mm,y_mm,z_mm", "tube,tubing,leg_in,angle,rotation", "tube"]
    ),
    st.lists(st.lists(CELL, max_size=7), max_size=6),
)
def test_odd_tubes_in_csv(folder, head, rows):
    lines = [head, *(",".join(row) for row in rows)]
    (folder / "tubes.csv").write_text("\n".join(lines), encoding="utf-8", errors="replace")
    done = soapstone("convert", folder / "tubes.csv", folder / "back.toml")
    assert is_clean(done), done.err
    if done.code == 0:
        again = soapstone("plan", folder / "back.toml")
        assert is_clean(again), again.err


@fuzz(250)
@given(st.text(max_size=20))
def test_a_length_written_any_way(folder, text):
    tables = {
        "units": "in",
        "tube": [
            {
                "name": "rail",
                "tubing": {"od": 1.5, "wall": 0.065, "material": "304"},
                "points": [[0, 0, 0], [text, 0, 0]],
            }
        ],
    }
    content = written(tables)
    if content is None:
        return
    (folder / "length.toml").write_bytes(content)
    done = soapstone("plan", folder / "length.toml")
    assert is_clean(done), done.err
    if done.code == 2:
        assert "points" in done.err
