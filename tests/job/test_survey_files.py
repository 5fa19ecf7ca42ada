"""What is said about survey files that are wrong."""

from pathlib import Path

import pytest

from soapstone.errors import InputError
from soapstone.job.survey import read_survey, survey, survey_from
from soapstone.job.survey.files import MOST_POINTS

DATUM = "[datum]\na = [0, 0, 0]\nb = [1000, 0, 0]\n"
TAPE = '[[tape]]\nfrom = "p"\nto = "a"\nlength = 500\n'


def said(tmp_path: Path, text: str) -> str:
    path = tmp_path / "survey.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_survey(path)
    line = str(refused.value)
    assert line.startswith(f"{path}: ")
    assert line.isprintable()
    return line.removeprefix(f"{path}: ")


FAULTS = [
    ("", "tape: missing; expected [[tape]] rows of from, to and length"),
    ("[tape]\nfrom = 'a'", "tape: expected a list [ ... ], found a table"),
    ("units = 'cm'\n" + TAPE, 'units: expected "mm" or "in", found'),
    ("fromat = 1\n" + TAPE, 'fromat: unknown key; did you mean "format"?'),
    ("format = 2\n" + TAPE, "format: expected 1, found 2"),
    ("[datum]\na = [0, 0]\n" + TAPE, "datum.a: expected a point [x, y, z], found a list of 2"),
    ("[datum]\na = [0, 'x', 0]\n" + TAPE, "datum.a.y: expected a length such as"),
    ("[datum]\na = [0, 0, 0]\nb = [0, 0, 0]\n" + TAPE, 'it is where "a" is'),
    (TAPE.replace("500", "-5"), "tape[1].length: expected a length above 0, found -5"),
    (TAPE.replace("500", "'5 cubits'"), "tape[1].length: expected a length such as"),
    (TAPE.replace("to =", "too ="), 'tape[1].too: unknown key; did you mean "to"?'),
    (TAPE.replace('from = "p"\n', ""), "tape[1].from: missing; expected the name of a point"),
    (TAPE.replace('"p"', '"a"'), 'tape[1].from: expected different points, "a" stands twice'),
    (TAPE + "plus_minus = 0", "tape[1].plus_minus: expected a length above 0, found 0"),
    (TAPE + "[[level]]\npoints = ['a']", "level[1].points: expected at least 2 entries"),
    (TAPE + "[[plumb]]\npoints = ['a', 'p', 'a']", "plumb[1].points: expected different points"),
    (TAPE + "[[midpoint]]\npoint = 'm'", "midpoint[1].between: missing; expected the names of the"),
    (
        TAPE + "[[midpoint]]\npoint = 'm'\nbetween = ['m', 'p']",
        'midpoint[1].between: expected different points, "m" stands twice',
    ),
    (
        DATUM + TAPE + "[[side]]\npoint = 'pp'\ntoward = 'up'",
        'side[1].point: no point named "pp"; did you mean "p"?',
    ),
    (DATUM + TAPE + "[[side]]\npoint = 'a'\ntoward = 'up'", '"a" is known'),
    (DATUM + TAPE + "[[side]]\npoint = 'p'\ntoward = 'upp'", 'did you mean "up"?'),
    (DATUM + TAPE + "[[side]]\npoint = 'p'\ntoward = [0, 0, 0]", "side[1].toward: expected a dir"),
    (DATUM + TAPE + "[[side]]\npoint = 'p'\ntoward = 'p'", "expected another point than itself"),
    ("[datum\n", "expected TOML"),
]


@pytest.mark.parametrize(("text", "expected"), FAULTS)
def test_a_fault_is_one_line_that_names_the_key(tmp_path: Path, text: str, expected: str) -> None:
    assert expected in said(tmp_path, text)


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    line = said(
        tmp_path,
        "units = 'cm'\n[datum]\na = [0, 0]\n" + TAPE.replace("500", "0") + "[[level]]\npoints = []",
    )
    for key in ("units:", "datum.a:", "tape[1].length:", "level[1].points:"):
        assert key in line


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nowhere\.toml: there is no such file"):
        read_survey(tmp_path / "nowhere.toml")


def test_a_survey_too_large_is_refused_before_it_takes_all_day(tmp_path: Path) -> None:
    rows = (TAPE.replace('"p"', f'"p{k}"') for k in range(MOST_POINTS + 1))
    line = said(tmp_path, DATUM + "".join(rows))
    assert f"expected at most {MOST_POINTS} points, not {MOST_POINTS + 1}" in line


def test_lengths_carry_their_own_unit(tmp_path: Path) -> None:
    path = tmp_path / "survey.toml"
    path.write_text(
        'units = "in"\nplus_minus = "1/16 in"\n[datum]\na = [0, "1.2 m", 0]\n'
        "[[tape]]\nfrom = 'p'\nto = 'a'\nlength = '5\\' 6 1/2\"'\nplus_minus = '3 mm'\n"
        "[[tape]]\nfrom = 'p'\nto = 'a'\nlength = 10\n".replace("'5\\' 6 1/2\"'", '"5\' 6-1/2 in"'),
        encoding="utf-8",
    )
    data = read_survey(path)
    assert data.datum["a"] == (0, 1200, 0)
    assert data.tapes[0].length == pytest.approx(66.5 * 25.4)
    assert data.allowance(data.tapes[0]) == 3
    assert data.tapes[1].length == pytest.approx(254)
    assert data.allowance(data.tapes[1]) == pytest.approx(25.4 / 16)


def test_rows_that_no_place_meets_are_a_stop_even_where_nothing_checks_them():
    """Three tapes of 10 mm to points a metre apart gave a point to 6.3 mm, and no complaint."""
    data = survey_from(
        {
            "units": "mm",
            "datum": {"a": [0, 0, 0], "b": [1000, 0, 0], "c": [0, 1000, 0]},
            "tape": [{"from": name, "to": "p", "length": 10} for name in "abc"],
            "side": [{"point": "p", "toward": "up"}],
        }
    )
    (stop,) = [one for one in survey(data).findings if "no place fits" in one.what]
    assert stop.severity == "stop"
    assert "tape" in stop.where
