"""A survey put down line by line, as it is taped."""

import math

import pytest

from soapstone.errors import InputError
from soapstone.job.survey import read_survey
from soapstone.web.survey_sheet import SurveySheet, survey_file


def test_points_come_from_what_is_put_down_and_stand_in_the_file(tmp_path):
    sheet = SurveySheet(tmp_path / "arch survey.toml", "in")
    known = {"a": (0, 0, 0), "b": (60, 0, 0), "c": (0, 40, 0)}
    for name, at in known.items():
        sheet.put_datum(name, tuple(map(str, at)))
    cleat = (20.0, 15.0, 30.0)
    for name, at in known.items():
        sheet.put_tape(name, "cleat", f"{math.dist(at, cleat):.5f}")
    sheet.put_side("cleat", "up")
    found = sheet.answer().points["cleat"].at
    assert [value / 25.4 for value in found] == pytest.approx(cleat, abs=1e-3)
    assert read_survey(sheet.path).units == "in"
    with pytest.raises(InputError, match="not there any more"):
        sheet.drop("tape", 0, {"from": "b", "to": "cleat"})
    sheet.drop("tape", 0, sheet.tables["tape"][0])
    assert len(read_survey(sheet.path).tapes) == 2


@pytest.mark.parametrize("typed", ["3' 2 1/4\"", "38.25", "38 1/4 in", "971.55 mm"])
def test_a_tape_is_kept_as_it_was_read(tmp_path, typed):
    sheet = SurveySheet(tmp_path / "s.toml", "in")
    sheet.put_datum("a", ("0", "0", "0"))
    sheet.put_tape("a", "b", typed)
    assert read_survey(sheet.path).tapes[0].length == pytest.approx(38.25 * 25.4)


@pytest.mark.parametrize(
    ("start", "length", "why"),
    [
        ("", "10", "name"),
        ("a", "long", "length"),
        ("a", "", "length"),
        ("a", "-10", "more than 0"),
        (" b", "10", "from one to another"),
    ],
)
def test_nonsense_is_refused_and_the_file_stays(tmp_path, start, length, why):
    sheet = SurveySheet(tmp_path / "s.toml", "mm")
    sheet.put_datum("a", ("0", "0", "0"))
    before = sheet.path.read_text()
    with pytest.raises(InputError, match=why):
        sheet.put_tape(start, "b", length)
    assert sheet.path.read_text() == before


def test_a_file_in_other_units_than_its_job_keeps_its_own(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text('format = 1\nunits = "in"\n\n[datum]\na = [0, 0, 0]\n')
    sheet = SurveySheet(path, "mm")
    sheet.put_tape("a", "b", "20")
    assert read_survey(path).tapes[0].length == pytest.approx(508)


@pytest.mark.parametrize(
    "text", ['[[tube]]\nname = "leg"', "datum = 3", "tape = [1]", "[datum]\na = 5"]
)
def test_what_is_no_survey_is_refused_and_left_as_it_is(tmp_path, text):
    path = tmp_path / "s.toml"
    path.write_text(text)
    sheet = SurveySheet(path, "mm")
    with pytest.raises(InputError, match=r"s\.toml"):
        sheet.put_tape("a", "b", "20")
    assert path.read_text() == text


def test_a_job_called_like_another_job_s_survey_is_left_alone(tmp_path):
    job = tmp_path / "arch.toml"
    assert survey_file(job).name == "arch survey.toml"
    (tmp_path / "arch survey.toml").write_text('format = 1\n[[tube]]\nname = "leg"\n')
    mine = survey_file(job)
    assert mine.name == "arch survey 2.toml"
    SurveySheet(mine, "mm").put_datum("a", ("0", "0", "0"))
    (tmp_path / "arch survey.toml").unlink()
    assert survey_file(job) == mine, "what was taped is found again"
