"""Lengths, angles, forces and masses as people write them, and as a shop reads them printed."""

import math
from fractions import Fraction

import pytest

from soapstone.quantities import (
    SIXTEENTH_TAPE,
    Tape,
    bare_length,
    format_angle,
    format_force,
    format_length,
    format_mass,
    format_moment,
    format_size,
    format_stress,
    parse_angle,
    parse_density,
    parse_force,
    parse_length,
    parse_mass,
    parse_stress,
    parse_tape,
    usual_tape,
)

WRITTEN = [
    ("12 3/8 in", 314.325),
    ('12-3/8"', 314.325),
    ("12 3/8 inches", 314.325),
    ("5' 6-1/2\"", 1689.1),
    ("5' 6 1/2''", 1689.1),
    ("5'-6 1/2\"", 1689.1),
    ("5'6", 1676.4),
    ("5'", 1524.0),
    ("3 ft 2 1/4 in", 971.55),
    ("3 FT. 2 1/4 In.", 971.55),
    ("3 feet", 914.4),
    ("1.5 ft", 457.2),
    ('3/8"', 9.525),
    ("9/8 in", 28.575),
    (".120 in", 3.048),
    ("120 thou", 3.048),
    ("44.5mm", 44.5),
    ("44,5 mm", 44.5),
    ("0,125 in", 3.175),
    ("1.2 m", 1200.0),
    ("1 m 20 cm", 1200.0),
    ("1 m 5 mm", 1005.0),
    ("4.5 cm", 45.0),
    ("1e2 mm", 100.0),
    ("-4 1/2 in", -114.3),
    ("\u22123 mm", -3.0),  # a typographic minus
    ("+5 mm", 5.0),
    ("½ in", 12.7),
    ("12½ in", 317.5),
    ("12 ⅜″", 314.325),
    ("5′ 6½″", 1689.1),
    ("5’ 6 1⁄2”", 1689.1),
    ("12\u00a03/8\u202fin", 314.325),  # blanks that do not break
    ("  300   mm ", 300.0),
]


@pytest.mark.parametrize(("text", "mm"), WRITTEN)
def test_every_way_of_writing_a_length_is_read_to_the_last_digit(text: str, mm: float) -> None:
    assert parse_length(text, "mm") == mm
    assert parse_length(text, "in") == mm


@pytest.mark.parametrize(
    ("text", "inches"), [("4 1/2", 4.5), (".120", 0.12), ("12", 12), ("7/8", 0.875), ("½", 0.5)]
)
def test_text_without_a_unit_is_in_the_files_units(text: str, inches: float) -> None:
    assert parse_length(text, "in") == pytest.approx(25.4 * inches, rel=1e-15)
    assert parse_length(text, "mm") == inches


@pytest.mark.parametrize("value", [12, 12.375, 0.12, -3.5, 0])
def test_bare_numbers_are_in_the_files_units(value: float) -> None:
    assert parse_length(value, "mm") == value
    assert parse_length(value, "in") == parse_length(f"{value} in", "mm")


def test_a_number_and_its_text_are_the_same_length() -> None:
    # 0.12 * 25.4 in floats is 3.0479999999999996
    assert parse_length(0.12, "in") == parse_length(".120", "in") == 3.048


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "abc", "mm", "nan", "inf", "-inf mm", "--5", "5 5", "12 3 in", "12 - 3/8 in",
        "12 9/8 in", "12 8/8 in", "1/0 in", "3/", "/8", "1,200 mm", "12,375 mm", "1,200.5 mm",
        "1.2.3", "1.2,3",
        "5 mm 3 m", "2 in 1 ft", "5' 14\"", "5.5 ft 2 in", "1 m 2 in", "5 mm mm", "5' 6' 2\"", "1e",
        "1e9999 mm", "5 kg", "5 N", "5\nmm", "٣ mm", "⅟ in", "①2 mm", "0x10", "1_000 mm", "5 %",
        "9" * 400, "3 ft 2 1/4 in or so", "12 3/8 in 1",
    ],
)  # fmt: skip
def test_what_is_no_length_is_refused_on_one_short_line(text: str) -> None:
    with pytest.raises(ValueError, match=r"^expected a length") as refused:
        parse_length(text, "mm")
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 130


@pytest.mark.parametrize("value", [True, None, [1], {}, math.nan, math.inf, -math.inf, 10**400])
def test_what_is_no_number_is_refused(value: object) -> None:
    with pytest.raises(ValueError, match=r"^expected a length"):
        parse_length(value, "mm")  # type: ignore[arg-type]


@pytest.mark.parametrize("value", [1e6, -1e6, "1000 m", "40000 in", "1 m 5000000 mm"])
def test_lengths_no_shop_has_are_refused(value: float | str) -> None:
    with pytest.raises(ValueError, match=r"^expected a length"):
        parse_length(value, "mm")


def test_other_units_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match='"mm" or "in"'):
        parse_length(1, "cm")


# 1 lb = 0.45359237 kg and 1 in = 25.4 mm exactly (international agreement of 1959); standard
# gravity 9.80665 m/s2 exactly (CGPM 1901).
def test_forces_and_masses() -> None:
    assert parse_force("500 N") == 500
    assert parse_force("70 kN") == 70_000
    assert parse_force("-900N") == -900
    assert parse_force("120 lbf") == pytest.approx(120 * 0.45359237 * 9.80665, rel=1e-15)
    assert parse_force(0) == 0
    assert parse_mass("22 kg") == 22
    assert parse_mass("48 lb") == pytest.approx(48 * 0.45359237, rel=1e-15)
    assert parse_mass("8 oz") == pytest.approx(0.2267961850, rel=1e-9)
    assert parse_mass("350 g") == 0.35


@pytest.mark.parametrize("value", [500, "500", "500 kg", "5 N 3 kN", "N", "1e400 N", "-", True])
def test_a_force_names_its_unit(value: object) -> None:
    with pytest.raises(ValueError, match=r'^expected a force such as "500 N"'):
        parse_force(value)  # type: ignore[arg-type]


def test_stress_and_density() -> None:
    # 1 ksi = 6.894757 MPa, NIST SP 811 appendix B (from memory)
    assert parse_stress("36 ksi") == pytest.approx(36 * 6.894757, rel=1e-6)
    assert parse_stress("193 GPa") == 193_000
    assert parse_stress(215) == 215
    assert parse_stress("193 N/mm²") == 193
    assert parse_density("7.9 g/cm3") == 7900
    assert parse_density(7850) == 7850
    # 1 lb/in3 = 27 679.90 kg/m3, NIST SP 811 appendix B (from memory)
    assert parse_density("0.284 lb/in3") == pytest.approx(0.284 * 27_679.90, rel=1e-6)


@pytest.mark.parametrize(
    ("written", "degrees"),
    [
        (45, 45), ("45", 45), ("45°", 45), ("45 deg", 45), ("-30 degrees", -30), ("7 1/2°", 7.5),
        ("30° 15'", 30.25), ("30° 15′ 36″", 30.26), ("22.5°", 22.5), ("45,5 deg", 45.5),
        (-360, -360),
    ],
)  # fmt: skip
def test_angles(written: float | str, degrees: float) -> None:
    assert parse_angle(written) == degrees


@pytest.mark.parametrize("value", [361, "400 deg", "30 15", "30° 75'", "x", math.nan, False])
def test_what_is_no_angle_is_refused(value: float | str) -> None:
    with pytest.raises(ValueError, match=r"^expected an angle"):
        parse_angle(value)


@pytest.mark.parametrize(
    ("text", "step_mm", "back"),
    [
        ("1/16 in", 1.5875, "1/16 in"),
        ('1/32"', 0.79375, "1/32 in"),
        ("0.01 in", 0.254, "0.01 in"),
        ("1 mm", 1.0, "1 mm"),
        ("0.5 mm", 0.5, "0.5 mm"),
        ("1/10 mm", 0.1, "0.1 mm"),
        ("1 cm", 10.0, "10 mm"),
        ("1 m", None, None),
        ("0 mm", None, None),
        ("-1 mm", None, None),
        ("5", None, None),
        ("5 kg", None, None),
    ],
)
def test_tapes(text: str, step_mm: float | None, back: str | None) -> None:
    if step_mm is None:
        with pytest.raises(ValueError, match=r"^expected a tape's step"):
            parse_tape(text)
        return
    tape = parse_tape(text)
    assert tape.step_mm == step_mm
    assert str(tape) == back
    assert parse_tape(str(tape)) == tape


def test_halfway_goes_to_the_graduation_farther_from_zero_whatever_the_last_digits_say() -> None:
    half = 12.5 / 16 * 25.4
    assert SIXTEENTH_TAPE.count(half) == 13
    assert SIXTEENTH_TAPE.count(-half) == -13
    assert SIXTEENTH_TAPE.count(math.nextafter(half, 0)) == 13
    assert SIXTEENTH_TAPE.count(half - 1e-6) == 12
    assert Tape(Fraction(1, 2), "mm").round(0.25) == 0.5
    assert Tape(Fraction(1), "mm").round(314.49) == 314


@pytest.mark.parametrize(
    ("mm", "units", "tape", "feet", "printed"),
    [
        (314.325, "in", None, False, '12 3/8"'),
        (314.0, "in", None, False, '12 3/8"'),
        (9.525, "in", None, False, '3/8"'),
        (304.8, "in", None, False, '12"'),
        (0.0, "in", None, False, '0"'),
        (-0.4, "in", None, False, '0"'),
        (-114.3, "in", None, False, '-4 1/2"'),
        (1689.1, "in", None, False, '66 1/2"'),
        (1689.1, "in", None, True, "5' 6 1/2\""),
        (1524.0, "in", None, True, "5' 0\""),
        (1523.9, "in", None, True, "5' 0\""),
        (100.0, "in", None, True, '3 15/16"'),
        (100.0, "in", "1/32 in", False, '3 15/16"'),
        (100.0, "in", "0.01 in", False, '3.94"'),
        (314.52, "mm", None, False, "314.5 mm"),
        (314.52, "mm", "1 mm", False, "315 mm"),
        (314.26, "mm", "0.5 mm", False, "314.5 mm"),
        (300.0, "mm", "0.5 mm", False, "300 mm"),
        (-0.04, "mm", None, False, "0 mm"),
        (314.52, "mm", "1/16 in", False, "314.5 mm"),
        (314.325, "in", "1 mm", False, '12 3/8"'),
    ],
)
def test_printing(mm: float, units: str, tape: str | None, feet: bool, printed: str) -> None:
    assert format_length(mm, units, parse_tape(tape) if tape else None, feet=feet) == printed


def test_a_table_that_names_the_unit_in_its_head_prints_bare_lengths() -> None:
    assert format_length(314.325, "in", unit=False) == "12 3/8"
    assert format_length(314.5, "mm", unit=False) == "314.5"


def test_printing_other_quantities() -> None:
    assert format_angle(-0.01) == "0.0°"
    assert format_angle(44.96) == "45.0°"
    assert format_angle(30.26, 2) == "30.26°"
    assert format_mass(3.82, "mm") == "3.8 kg"
    assert format_mass(1.0, "in") == "2.2 lb"
    assert format_force(-0.2, "mm") == "0 N"
    assert format_force(444.822, "in") == "100 lbf"
    assert format_moment(-0.01, "mm") == "0.0 N m"
    assert format_moment(135.5818, "in") == "100.0 lbf ft"
    assert format_stress(143.4, "mm") == "143 MPa"
    assert format_stress(248.211, "in") == "36.0 ksi"


def test_a_shop_that_names_no_tape_has_the_usual_one() -> None:
    assert str(usual_tape("mm")) == "1 mm"
    assert str(usual_tape("in")) == "1/16 in"


def test_a_length_in_inches_is_written_as_it_was_read() -> None:
    assert bare_length(parse_length(12.375, "in"), "in") == 12.375
    assert bare_length(parse_length(0.12, "in"), "in") == 0.12
    assert bare_length(314.5, "mm") == 314.5


def test_a_size_just_under_nothing_has_no_sign() -> None:
    assert format_size(-0.001, "in") == '0.000"'
    assert format_size(-0.001, "mm") == "0 mm"
