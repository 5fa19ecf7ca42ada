"""Findings about a bend's wall: silent for what shops do every day, plain about the rest."""

import pytest

from soapstone.check.wall import least_clr, rule_walls, wall_change, wall_findings


@pytest.mark.parametrize(
    ("od", "wall", "clr"),
    [(38.1, 1.65, 115.0), (38.1, 2.108, 114.3), (44.45, 2.41, 152.4), (25.4, 1.65, 76.2)],
)
def test_everyday_bends_raise_nothing(od: float, wall: float, clr: float) -> None:
    assert wall_findings(od, wall, clr, "bend 1") == []


@pytest.mark.parametrize(
    ("od", "wall", "clr", "said"),
    [
        (38.1, 1.65, 60.0, "mandrel and a wiper"),
        (50.8, 0.889, 152.4, "buckles"),
        (38.1, 1.0, 115.0, "may buckle"),
        (38.1, 2.1, 76.2, "TEMA"),
        (38.1, 2.1, 76.2, "out of round"),
        (38.1, 1.65, 19.0, "not even half"),
    ],
)
def test_risky_bends_are_named(od: float, wall: float, clr: float, said: str) -> None:
    found = wall_findings(od, wall, clr, "port leg, bend 2")
    assert any(said in finding.what for finding in found)
    assert all(finding.where == "port leg, bend 2" and finding.mend for finding in found)


def test_only_an_impossible_radius_stops_the_job() -> None:
    assert [f.severity for f in wall_findings(38.1, 1.65, 19.0, "b")] == ["stop"]
    assert all(f.severity != "stop" for f in wall_findings(38.1, 0.9, 40.0, "b"))


@pytest.mark.parametrize(("od", "wall"), [(38.1, 1.65), (50.8, 0.889), (20.0, 2.0)])
def test_the_radius_proposed_is_one_that_raises_no_buckling(od: float, wall: float) -> None:
    found = wall_findings(od, wall, least_clr(od, wall) * 1.001, "b")
    assert not any("buckle" in f.what or "mandrel" in f.what for f in found)


def test_the_wall_s_bracket_closes_as_the_radius_grows() -> None:
    tight, wide = wall_change(38.1, 2.0, 80.0), wall_change(38.1, 2.0, 8000.0)
    assert tight.thinnest[0] < tight.thinnest[1] < 2.0 < tight.thickest[0] < tight.thickest[1]
    assert wide.thinnest == pytest.approx((2.0, 2.0), rel=0.003)
    least, most = tight.thinning(2.0)
    assert 0 < least < most < 0.25


def test_rules_speak_only_where_they_hold() -> None:
    assert [rule.rule for rule in rule_walls(38.1, 2.0, 80.0)] == ["TEMA RCB-2.31"]
    assert len(rule_walls(38.1, 2.0, 150.0)) == 2


def test_a_radius_inside_the_tube_is_misuse() -> None:
    with pytest.raises(ValueError, match="half the outside diameter"):
        wall_change(38.1, 2.0, 19.0)
