"""Tubes as CSV: both forms, both units, and files as spreadsheets leave them."""

import io
from pathlib import Path
from typing import Literal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from soapstone.errors import InputError
from soapstone.exchange.csv_files import TubeShape, not_in_csv, read_tube_csv, write_tube_csv
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import corners
from soapstone.job.files import job_from_text
from tests.job.test_files import FULL
from tests.laws.centreline_strategies import centrelines

UNITS = st.sampled_from(["mm", "in"])


def read(tmp_path: Path, text: str | bytes):
    path = tmp_path / "tubes.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_tube_csv(path)


def said(tmp_path: Path, text: str) -> str:
    """What is said about a wrong file."""
    with pytest.raises(InputError) as refused:
        read(tmp_path, text)
    line = str(refused.value)
    assert line.startswith(f"{tmp_path / 'tubes.csv'}: ")
    assert line.isprintable()
    return line.partition(".csv: ")[2]


def shape(name: str, line: Centreline) -> TubeShape:
    return TubeShape(name, "304", "die, of sorts", line, corners(line))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=st.lists(centrelines(most=4, sharpest=150), min_size=1, max_size=3), units=UNITS)
def test_legs_and_bends_are_read_back_to_the_last_digit(
    tmp_path: Path, lines: list[Centreline], units: Literal["mm", "in"]
) -> None:
    path = tmp_path / "legs.csv"
    write_tube_csv(path, [shape(f"tube {i}", x) for i, x in enumerate(lines)], "legs", units)
    job = read_tube_csv(path)
    assert job.units == units
    for line, tube in zip(lines, job.tubes, strict=True):
        bends = tube.bends
        assert bends
        assert (tube.tubing, tube.die) == ("304", "die, of sorts")
        assert (bends.start, bends.legs, bends.angles) == (line.start, line.legs, line.angles)
        assert bends.turns == line.rotations
        assert bends.along == pytest.approx(line.along, abs=1e-15)
        assert bends.up == pytest.approx(line.up, abs=1e-15)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=st.lists(centrelines(most=4, sharpest=150), min_size=1, max_size=3), units=UNITS)
def test_corners_are_read_back_to_the_last_digit(
    tmp_path: Path, lines: list[Centreline], units: Literal["mm", "in"]
) -> None:
    path = tmp_path / "corners.csv"
    tubes = [shape(f"tube {i}", line) for i, line in enumerate(lines)]
    write_tube_csv(path, tubes, "corners", units)
    job = read_tube_csv(path)
    assert [tube.name for tube in job.tubes] == [tube.name for tube in tubes]
    assert [tube.points for tube in job.tubes] == [tuple(tube.points) for tube in tubes]


def test_what_is_written_is_plain() -> None:
    line = Centreline((0, 0, 0), (0, 0, 1), (1, 0, 0), (300.0, 220.5), (80.0,), (0.0,), (115.0,))
    points = [(0.0, 0.0, 0.0), (0.0, 0.0, 400.0), (25.4, 0.0, 500.125)]
    out = io.StringIO()
    write_tube_csv(out, [TubeShape("port leg", "t", "d", line, points)], "corners")
    assert out.getvalue() == (
        "tube,tubing,die,x_mm,y_mm,z_mm\n"
        "port leg,t,d,0,0,0\nport leg,t,d,0,0,400\nport leg,t,d,25.4,0,500.125\n"
    )
    out = io.StringIO()
    write_tube_csv(out, [TubeShape("a", "t", "d", line, points)], "legs", "in")
    assert out.getvalue().splitlines() == [
        (
            "tube,tubing,die,leg_in,angle,rotation,from_x_in,from_y_in,from_z_in,"
            "along_x,along_y,along_z,up_x,up_y,up_z"
        ),
        "a,t,d,11.811023622047244,80,0,0,0,0,0,0,1,1,0,0",
        "a,t,d,8.681102362204724,,,,,,,,,,,",
    ]


@pytest.mark.parametrize(
    "text",
    [
        "tube,tubing,die,x_mm,y_mm,z_mm\na,t,d,1.5,-2,0\na,t,d,300,0,1e2\n",
        "\ufeffTube;Tubing;Die;X mm;Y mm;Z mm\r\n\r\na;t;d;1,5;-2;0\r\n;;;;;\r\n;;;300;0;100\r\n",
        (
            "# from the yard\nz_mm\tx_mm\ty_mm\tdie\ttubing\ttube\tremark\n"
            "0\t1.5\t-2\td\tt\ta\tfoot\n100\t300\t0\t\t\t\t\n"
        ),
        'tube,tubing,die,x_mm,y_mm,z_mm\n"a","t","d","1.5 mm","-0.2 cm",0\n,,,0.3 m,0,100,,\n',
    ],
)
def test_files_as_spreadsheets_leave_them_are_read(tmp_path: Path, text: str) -> None:
    job = read(tmp_path, text)
    (tube,) = job.tubes
    assert (tube.name, tube.tubing, tube.die) == ("a", "t", "d")
    assert tube.points == ((1.5, -2, 0), (300, 0, 100))


def test_inches_may_be_fractions_and_the_placement_may_be_left_out(tmp_path: Path) -> None:
    job = read(
        tmp_path,
        "tube,tubing,die,leg_in,angle,rotation\na,t,d,12 3/8,90,\na,,,5' 2,45°,-90\na,,,½,,\n",
    )
    bends = job.tubes[0].bends
    assert bends
    assert job.units == "in"
    assert bends.legs == (314.325, 1574.8, 12.7)
    assert (bends.angles, bends.turns) == ((90, 45), (0, -90))
    assert (bends.start, bends.along) == ((0, 0, 0), (1, 0, 0))


def test_one_tube_alone_needs_no_name(tmp_path: Path) -> None:
    job = read(tmp_path, "tubing,x_mm,y_mm,z_mm\nt,0,0,0\nt,100,0,0\n")
    assert [tube.name for tube in job.tubes] == ["tubes"]
    assert job.where == str(tmp_path / "tubes.csv")


CORNERS = "tube,tubing,die,x_mm,y_mm,z_mm\n"
LEGS = "tube,tubing,die,leg_mm,angle,rotation,along_x,along_y,along_z\n"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "expected a row that names the columns, the file is empty"),
        ("a,b\n1,2\n", "expected columns tube, tubing, die and either x_mm, y_mm, z_mm or leg_mm"),
        ("tube,x_mm,y_in,z_mm\n", "found tube, x_mm, y_in, z_mm"),
        ("tube,tube\n", "the column 'tube' stands twice"),
        (CORNERS, "expected rows of tubes below the row of columns"),
        (CORNERS + "a,t,d,1,2,3,4\n", "row 2: expected 6 cells, not 7"),
        (CORNERS + "a,t,d,1,2\na,t,d,1,2,3\n", "row 2: z_mm: expected a length, the cell is empty"),
        (CORNERS + "a,t,d,1,2,x\n", "row 2: z_mm: expected a length such as"),
        (CORNERS + "a,t,d,1,2,nan\na,t,d,1,2,3\n", "row 2: z_mm: expected a length"),
        (CORNERS + "a,t,d,1,2,1e9\na,t,d,1,2,3\n", "row 2: z_mm: expected a length under 1 km"),
        (CORNERS + "a,t,d,1,2,3\n", "row 2, points: expected at least 2 entries"),
        (CORNERS + "a,t,d,0,0,0\na,u,d,1,0,0\n", 'row 3: tubing: expected "t" as above, found "u"'),
        (
            CORNERS + "a,,d,0,0,0\na,,d,1,0,0\n",
            "row 2, tubing: missing; expected the name of a tubi",
        ),
        (CORNERS + "a,t,d,0,0,0\nb,t,d,1,0,0\na,t,d,1,0,0\n", 'row 4: tube "a" stands twice'),
        (CORNERS + ",t,d,0,0,0\n,t,d,1,0,0\n", "row 2, name: expected a name"),
        (LEGS + "a,t,d,10,90,0\n", "row 2: expected a row after it, as a straight follows"),
        (
            LEGS + "a,t,d,10,,\na,t,d,10,,\n",
            "row 2: angle: expected a bend after each straight but",
        ),
        (
            LEGS + "a,t,d,-1,9,\na,t,d,10,,\n",
            "row 2, bends.legs[1]: expected a length of 0 or more",
        ),
        (LEGS + "a,t,d,1,-9,\na,t,d,10,,\n", "row 2, bends.angles[1]: expected degrees above 0"),
        (LEGS + "a,t,d,1,9,x\na,t,d,10,,\n", "row 2: rotation: expected an angle"),
        (LEGS + "a,t,d,10,,,0,0,0\n", "row 2, bends.along: expected a direction"),
        (LEGS + "a,t,d,10,,,0,1_0,0\n", "row 2: along_y: expected a number, found '1_0'"),
    ],
)
def test_a_fault_names_its_row_and_what_is_expected(
    tmp_path: Path, text: str, expected: str
) -> None:
    assert expected in said(tmp_path, text)


def test_faults_of_several_rows_are_named_at_once(tmp_path: Path) -> None:
    line = said(tmp_path, CORNERS + "".join(f"t{i},t,d,1,2,x\n" for i in range(7)))
    assert all(f"row {i}: z_mm" in line for i in range(2, 7))
    assert line.endswith("; and 2 more")


def test_what_csv_cannot_hold_is_named() -> None:
    assert set(not_in_csv(job_from_text(FULL))) == {
        "keep-outs", "names of points", "supports", "joints", "loads", "copes", "the bench",
        "routes", "mirror images", "gaps", "tolerances", "notes", "tubing written in place",
        "dies written in place",
    }  # fmt: skip
    plain = 'units = "mm"\n[[tube]]\nname = "a"\ntubing = "t"\npoints = [[0, 0, 0], [1, 0, 0]]\n'
    assert not_in_csv(job_from_text(plain)) == []
