"""What a shop gets from its tape: points, what to doubt, which side, what to measure next."""

import json
from pathlib import Path

import numpy as np
import pytest

from soapstone.job.survey import Survey, SurveyResult, read_survey, survey
from soapstone.job.survey.model import Halfway, Levelled, Plumbed, Side
from tests.job.stern import (
    ALL,
    BRACES,
    MARKS,
    TO_DATUM,
    TRANSOM,
    TRUTH,
    Pair,
    astern,
    distance,
    error,
    stern,
    taped,
)

TO_TRANSOM = [(mark, known) for mark in MARKS for known in TRANSOM]


def said(result: SurveyResult, severity: str) -> list[str]:
    return [str(finding) for finding in result.findings if finding.severity == severity]


def test_exact_tapes_give_exact_points() -> None:
    result = survey(stern())
    assert result.sound
    assert not result.suspects
    for name, point in result.points.items():
        assert error(name, point.at) < 1e-6
        assert point.checked
        assert 0 < point.plus_minus < 5
    assert result.redundancy == len(ALL) - 18
    assert result.noise == 1


def test_places_feed_a_job() -> None:
    places = survey(stern()).places
    assert list(places)[:4] == ["port corner", "starboard corner", "keel", "bow eye"]
    assert places["cowl"] == pytest.approx(TRUTH["cowl"], abs=1e-6)


def file_text(units: str) -> str:
    """A survey file as a shop would write it, tapes read to 1 mm or 1/16 in."""

    def number(mm: float) -> str:
        return f"{mm:.3f}" if units == "mm" else f'"{mm / 25.4:.6f} in"'

    def read(mm: float) -> str:
        if units == "mm":
            return str(round(mm))
        inches, sixteenths = divmod(round(mm / 25.4 * 16), 16)
        return f'"{inches} {sixteenths}/16 in"' if sixteenths else str(inches)

    lines = ["format = 1", 'name = "stern"', f'units = "{units}"', "[datum]"]
    lines += [f'"{name}" = [{", ".join(number(x) for x in TRUTH[name])}]' for name in TRANSOM]
    for start, end in TO_TRANSOM + BRACES:
        lines += ["[[tape]]", f'from = "{start}"', f'to = "{end}"']
        lines += [f"length = {read(distance(start, end))}"]
    lines += ["[[level]]", 'points = ["hatch port", "hatch starboard"]']
    lines += ["[[plumb]]", 'points = ["cowl", "under cowl"]']
    lines += ["[[level]]", 'points = ["under cowl", "keel"]', "plus_minus = 1"]
    lines += ["[[midpoint]]", 'point = "middle"']
    lines += ['between = ["hatch port", "hatch starboard"]', 'note = "for the brace"']
    lines += ["[[side]]", 'point = "hatch front"', 'toward = "+x"']
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_file_in_mm_or_inches_gives_the_stern(tmp_path: Path, units: str) -> None:
    path = tmp_path / "stern.toml"
    path.write_text(file_text(units), encoding="utf-8")
    result = survey(read_survey(path))
    assert result.sound, result.findings
    for name in MARKS:
        assert error(name, result.points[name].at) < min(6, 1.5 * result.points[name].plus_minus)
    assert error("middle", result.points["middle"].at) < 4
    keel, under = TRUTH["keel"], result.points["under cowl"].at
    assert under == pytest.approx((TRUTH["cowl"][0], TRUTH["cowl"][1], keel[2]), abs=6)
    spoken = " ".join(map(str, result.findings))
    assert ("mm" in spoken) == (units == "mm")


def test_the_answer_is_one_json_object_in_mm(tmp_path: Path) -> None:
    path = tmp_path / "stern.toml"
    path.write_text(file_text("in"), encoding="utf-8")
    answer = json.loads(json.dumps(survey(read_survey(path)).as_json(), allow_nan=False))
    assert answer["points"]["cowl"]["at"] == pytest.approx(TRUTH["cowl"], abs=6)
    assert answer["points"]["cowl"]["plus_minus"] < 12
    assert answer["suspects"] == []
    assert answer["sound"] is True


# --- readings that are wrong -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pair", "off"), [(("pivot port", "keel"), 100.0), (("cowl", "hatch front"), -18.0)]
)
def test_a_misread_tape_is_named_and_left_out(pair: Pair, off: float) -> None:
    lot = np.random.default_rng(2)
    result = survey(stern(off={pair: off}, lot=lot))
    (suspect,) = result.suspects
    assert suspect.row == f"tape {ALL.index(pair) + 1}"
    assert suspect.points == pair
    assert suspect.sure
    assert suspect.off_by == pytest.approx(off, abs=suspect.plus_minus + 2)
    assert suspect.measured - suspect.expected == pytest.approx(suspect.off_by)
    for name, point in result.points.items():
        assert error(name, point.at) < 2 * point.plus_minus
    assert any("left out of the answer; measure it again" in line for line in said(result, "warn"))
    assert suspect.as_json()["from"] == pair[0]


def test_three_misread_tapes_are_named() -> None:
    off = {
        ("hatch port", "bow eye"): 60.0,
        ("pivot port", "pivot starboard"): -25.4,
        ("cowl", "keel"): 40.0,
    }
    result = survey(stern(off=off, lot=np.random.default_rng(4)))
    assert {suspect.points for suspect in result.suspects} == set(off)
    for name, point in result.points.items():
        assert error(name, point.at) < 2 * point.plus_minus


def test_common_slips_are_recognised() -> None:
    off = {("hatch port", "bow eye"): 304.8, ("cowl", "keel"): -100.0}
    slips = {s.points: s.slip for s in survey(stern(off=off)).suspects}
    assert slips[("hatch port", "bow eye")] == "1 ft too long"
    assert slips[("cowl", "keel")] == "100 mm too short"
    pair = ("pivot port", "keel")
    assert round(distance(*pair)) == 784
    swapped = survey(stern(off={pair: 748 - distance(*pair)})).suspects
    assert swapped[0].slip == "two digits changed places: 784"


def test_a_fault_that_cannot_be_pinned_on_one_row_blames_none_of_them() -> None:
    """One point, four tapes: a fault shows, and any tape of several may have it."""
    pairs = [("pivot port", known) for known in ("port corner", "starboard corner", "keel")]
    pairs += [("pivot port", "bow eye")]
    result = survey(stern(pairs, off={("pivot port", "keel"): 60.0}))
    assert len(result.suspects) > 1
    assert not any(suspect.sure for suspect in result.suspects)
    assert ("pivot port", "keel") in {suspect.points for suspect in result.suspects}
    assert not result.sound
    point = result.points["pivot port"]
    assert error("pivot port", point.at) <= point.plus_minus
    assert "the other rows cannot tell which" in said(result, "stop")[-1]


def test_points_that_are_not_level_plumb_or_half_way_are_named() -> None:
    data = stern(
        levels=(Levelled(points=("pivot port", "cowl", "pivot starboard")),),
        plumbs=(Plumbed(points=("hatch port", "hatch front")),),
        midpoints=(Halfway(point="hatch front", between=("hatch port", "hatch starboard")),),
    )
    by_row = {suspect.row: suspect for suspect in survey(data).suspects}
    assert by_row["level 1"].points[0] == "cowl"
    assert by_row["level 1"].expected == pytest.approx(660)
    assert by_row["plumb 1"].expected == pytest.approx(np.hypot(800, 515))
    assert by_row["midpoint 1"].expected == pytest.approx(np.hypot(800, 20))


def test_a_known_point_that_is_elsewhere_is_named() -> None:
    data = stern(lot=np.random.default_rng(1))
    moved = {**data.datum, "bow eye": (4240.0, -915.0, 350.0)}
    result = survey(data.model_copy(update={"datum": moved}))
    (suspect,) = result.suspects
    assert suspect.row == "datum bow eye"
    assert suspect.expected == pytest.approx(40, abs=6)
    assert error("bow eye", result.places["bow eye"]) < 8


def test_a_tape_between_known_points_checks_the_datum() -> None:
    data = stern([*ALL, ("port corner", "keel")], off={("port corner", "keel"): 12.0})
    (suspect,) = survey(data).suspects
    assert suspect.points == ("port corner", "keel")
    assert suspect.off_by == pytest.approx(12)


def test_rows_worse_than_they_say_widen_every_plus_minus() -> None:
    lot = np.random.default_rng(8)
    poor = Survey(datum=stern().datum, tapes=taped(ALL, None, 6.0, lot), plus_minus=2.0)
    result = survey(poor)
    assert result.noise == pytest.approx(3, abs=0.7)
    assert not result.suspects
    assert any("disagree" in line for line in said(result, "warn"))
    exact = survey(stern())
    for name, point in result.points.items():
        assert point.plus_minus == pytest.approx(
            result.noise * exact.points[name].plus_minus, rel=0.05
        )


# --- which side --------------------------------------------------------------------------------


def test_three_known_points_leave_two_places_and_the_finding_says_how_to_tell() -> None:
    result = survey(stern([("cowl", known) for known in TRANSOM], TRANSOM))
    assert not result.sound
    (line,) = said(result, "stop")
    assert 'point "cowl": fits two places alike' in line
    assert '[[side]] of point = "cowl", toward = "+x"; or "-x" for the second' in line
    point = result.points["cowl"]
    assert len(point.elsewhere) == 1
    assert min(error("cowl", point.at), error("cowl", point.elsewhere[0])) < 1e-6


@pytest.mark.parametrize("toward", ["-x", (-1.0, 0.1, 0.0), "pivot port"])
def test_a_hint_decides_the_side(toward: object) -> None:
    pairs = [(mark, known) for mark in ("cowl", "pivot port") for known in TRANSOM]
    data = stern(pairs, TRANSOM, sides=(Side(point="cowl", toward=toward),))
    data = data.model_copy(update={"sides": (*data.sides, Side(point="pivot port", toward="-x"))})
    result = survey(data)
    assert not said(result, "stop")
    assert error("cowl", result.points["cowl"].at) < 1e-6
    assert result.points["cowl"].elsewhere == ()


@pytest.mark.parametrize(
    ("off_plane", "severity", "words"),
    [(5.0, "stop", "alike"), (9.0, "stop", "times less"), (13.0, "warn", "times less")],
)
def test_a_known_point_just_off_the_plane_of_the_others_makes_one_place_likelier(
    off_plane: float, severity: str, words: str
) -> None:
    # the mirror image misses the fourth tape by about off_plane, its odds are exp(squares / 2)
    normal = np.cross(TRUTH["starboard corner"], TRUTH["keel"])
    aft = normal / np.linalg.norm(normal) * -np.sign(normal[0])
    fourth = np.array([-500 * 60 / 610, -400.0, 500.0]) + off_plane * aft
    data = stern([("cowl", known) for known in TRANSOM], TRANSOM)
    rows = [*data.tapes, *taped([("cowl", "keel")])]
    length = float(np.linalg.norm(fourth - TRUTH["cowl"]))
    rows[-1] = rows[-1].model_copy(update={"end": "fourth", "length": length})
    datum = {**data.datum, "fourth": tuple(fourth.tolist())}
    result = survey(data.model_copy(update={"tapes": tuple(rows), "datum": datum}))
    assert error("cowl", result.points["cowl"].at) < 1e-6
    (line,) = [line for line in said(result, severity) if "fits two places" in line]
    assert words in line


def test_hints_for_every_mark_put_all_of_them_right() -> None:
    result = survey(stern(TO_TRANSOM, TRANSOM, sides=astern()))
    assert result.sound
    assert all(error(name, result.points[name].at) < 1e-6 for name in MARKS)


def test_braces_carry_a_hint_from_one_mark_to_the_others() -> None:
    hint = (Side(point="hatch front", toward="+x"),)
    result = survey(stern(TO_TRANSOM + BRACES, TRANSOM, sides=hint))
    assert result.sound
    assert all(error(name, result.points[name].at) < 1e-6 for name in MARKS)
    unhinted = survey(stern(TO_TRANSOM + BRACES, TRANSOM))
    (line,) = said(unhinted, "stop")
    assert "go with it" in line
    assert all(mark in line for mark in MARKS)


def test_hints_that_contradict_each_other_are_named() -> None:
    hints = (Side(point="hatch front", toward="+x"), Side(point="cowl", toward="+x"))
    result = survey(stern(TO_TRANSOM + BRACES, TRANSOM, sides=hints))
    (line,) = said(result, "stop")
    assert 'side 2, point "cowl": cannot be had together with the other side rows' in line


def test_the_tape_that_would_tell_two_places_apart_tells_them_apart() -> None:
    # the hatch is known to lie forward, the cowl not which way
    hints = tuple(side for side in astern() if side.point in ("hatch front", "hatch port"))
    pairs = [(mark, known) for mark in ("hatch front", "hatch port", "cowl") for known in TRANSOM]
    data = stern(pairs, TRANSOM, sides=hints)
    (telling,) = [tape for tape in survey(data).measure_next if tape.why == "side"]
    assert telling.start == "cowl"
    readings = {telling.expected, telling.otherwise}
    true = distance(telling.start, telling.end)
    assert min(abs(reading - true) for reading in readings) < 1e-6
    more = taped([(telling.start, telling.end)])
    settled = survey(data.model_copy(update={"tapes": (*data.tapes, *more)}))
    assert settled.sound
    assert error("cowl", settled.points["cowl"].at) < 1e-6


# --- what is missing, and what to measure next --------------------------------------------------


def test_a_point_on_two_tapes_is_not_placed_and_gets_the_tape_that_pins_it() -> None:
    pairs = [p for p in ALL if p[0] != "cowl" and p[1] != "cowl"]
    pairs += [("cowl", "port corner"), ("cowl", "starboard corner")]
    result = survey(stern(pairs))
    assert result.undetermined == ("cowl",)
    assert "cowl" not in result.points
    assert "cowl" not in result.places
    assert any('point "cowl": nothing holds it along' in line for line in said(result, "stop"))
    wanted = [tape for tape in result.measure_next if tape.start == "cowl"]
    assert wanted
    more = taped([(tape.start, tape.end) for tape in wanted])
    data = stern(pairs, sides=(Side(point="cowl", toward="up"),))
    pinned = survey(data.model_copy(update={"tapes": (*data.tapes, *more)}))
    assert error("cowl", pinned.points["cowl"].at) < 1e-6


def test_a_weak_point_is_told_the_tape_that_helps_most() -> None:
    """The tape proposed is the best of all tapes, each tried in full."""
    pairs = [p for p in ALL if p[0] != "cowl" and p[1] != "cowl"]
    pairs += [("cowl", known) for known in TRANSOM]
    data = stern(pairs, sides=(Side(point="cowl", toward="-x"),))
    result = survey(data)
    assert any('point "cowl": known to ±' in line for line in said(result, "warn"))
    proposed = [tape for tape in result.measure_next if tape.why == "weak"]
    outcome = {}
    for end in ("bow eye", *MARKS):
        if end != "cowl":
            more = (*data.tapes, *taped([("cowl", end)]))
            tried = survey(data.model_copy(update={"tapes": more}))
            outcome[end] = tried.points["cowl"].plus_minus
    assert proposed[0].end == min(outcome, key=lambda end: outcome[end])
    assert proposed[0].after == pytest.approx(outcome[proposed[0].end], rel=0.02)
    assert proposed[0].before == result.points["cowl"].plus_minus


def test_points_without_a_check_are_named_with_a_tape_that_checks_them() -> None:
    result = survey(
        stern(
            [("cowl", known) for known in TRANSOM] + [pair for pair in ALL if "cowl" not in pair],
            sides=(Side(point="cowl", toward="-x"),),
        )
    )
    assert not result.points["cowl"].checked
    assert result.points["hatch port"].checked
    assert any(
        'point "cowl": a wrong reading there may not show' in x for x in said(result, "note")
    )


def test_a_name_that_stands_once_and_looks_like_another_is_pointed_out() -> None:
    data = stern()
    wrong = data.tapes[0].model_copy(update={"start": "hatch prot"})
    result = survey(data.model_copy(update={"tapes": (wrong, *data.tapes[1:])}))
    assert result.undetermined == ("hatch prot",)
    assert any('if "hatch port" is meant, write it so' in line for line in said(result, "stop"))
    assert error("hatch port", result.points["hatch port"].at) < 1e-6


@pytest.mark.parametrize(
    ("datum", "expected"),
    [
        ((), "there is no known point to measure from"),
        (("port corner",), 'can turn as one piece about "port corner"'),
        (
            ("port corner", "starboard corner"),
            'can turn as one piece about "port corner" and "starboard corner"',
        ),
    ],
)
def test_a_datum_that_holds_too_little_is_explained(datum: tuple[str, ...], expected: str) -> None:
    result = survey(stern(TO_TRANSOM + BRACES, datum))
    (line,) = said(result, "stop")
    assert expected in line
    assert not result.points


def test_points_tied_to_nothing_known_are_told_so() -> None:
    pairs = [pair for pair in ALL if "cowl" not in pair and "pivot port" not in pair]
    result = survey(stern([*pairs, ("cowl", "pivot port")]))
    assert set(result.undetermined) == {"cowl", "pivot port"}
    assert any("no row ties it to a known point" in line for line in said(result, "stop"))
    assert len(result.points) == 4


def test_a_level_and_a_plumb_line_stand_in_for_tapes() -> None:
    """Plumb below the cowl and level with the keel: no tape to it at all."""
    data = stern(
        levels=(Levelled(points=("keel", "under cowl")),),
        plumbs=(Plumbed(points=("cowl", "under cowl")),),
    )
    result = survey(data)
    assert result.points["under cowl"].at == pytest.approx((-420, -915, -610), abs=1e-6)


def test_a_survey_of_many_points_takes_a_second_or_so() -> None:
    lot = np.random.default_rng(0)
    datum = {f"d{k}": tuple(lot.uniform(-2000, 2000, 3).tolist()) for k in range(5)}
    truth = {f"p{k}": lot.uniform(-2000, 2000, 3) for k in range(40)}
    rows = [
        {"from": p, "to": d, "length": float(np.linalg.norm(at - np.array(place)))}
        for p, at in truth.items()
        for d, place in datum.items()
    ]
    result = survey(Survey.model_validate({"datum": datum, "tape": rows}))
    assert all(
        np.linalg.norm(np.subtract(result.points[name].at, at)) < 1e-6 for name, at in truth.items()
    )


def test_nothing_to_find_is_no_fault() -> None:
    result = survey(stern([("port corner", "keel")]))
    assert result.sound
    assert not result.points


def test_braced_marks_need_no_fourth_known_point() -> None:
    assert len(TO_DATUM) == 24
    result = survey(stern(TO_TRANSOM + BRACES, TRANSOM, sides=astern()))
    assert result.sound
