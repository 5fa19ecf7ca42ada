"""What holds for every length: what is printed can be read, and is the length on the tape."""

import math
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from soapstone.quantities import (
    Tape,
    bare_length,
    format_length,
    parse_angle,
    parse_length,
    parse_tape,
)

LENGTHS = st.floats(-9e5, 9e5)
TAPES = st.sampled_from(
    [
        *("1/64 in", "1/32 in", "1/16 in", "1/8 in", "1/4 in", "1/2 in", "1 in"),
        *("0.1 in", "0.01 in", "0.1 mm", "0.25 mm", "0.5 mm", "1 mm", "2 mm", "5 mm", "1 cm"),
    ]
).map(parse_tape)


@given(LENGTHS, TAPES, st.booleans())
def test_a_printed_length_is_read_back_as_the_length_on_the_tape(
    mm: float, tape: Tape, feet: bool
) -> None:
    assert parse_length(format_length(mm, tape.units, tape, feet=feet), "mm") == tape.round(mm)


@given(LENGTHS, TAPES)
def test_a_bare_printed_length_is_read_back_in_the_same_units(mm: float, tape: Tape) -> None:
    printed = format_length(mm, tape.units, tape, unit=False)
    assert parse_length(printed, tape.units) == tape.round(mm)


@given(LENGTHS, TAPES)
def test_the_tape_is_off_by_at_most_half_a_step(mm: float, tape: Tape) -> None:
    assert abs(tape.round(mm) - mm) <= tape.step_mm * (0.5 + 2e-9) + 1e-9
    assert tape.round(tape.round(mm)) == tape.round(mm)
    assert tape.round(-mm) == -tape.round(mm)


@given(LENGTHS)
@example(0.1)
@example(1 / 3)
def test_a_length_in_inches_is_read_back_to_the_last_digits(mm: float) -> None:
    assert parse_length(bare_length(mm, "in"), "in") == pytest.approx(mm, rel=1e-15, abs=1e-300)


@given(st.integers(0, 3000), st.integers(0, 63), st.booleans())
def test_fractions_are_exact(whole: int, parts: int, negative: bool) -> None:
    exact = (whole + Fraction(parts, 64)) * Fraction(254, 10) * (-1 if negative else 1)
    sign = "-" if negative else ""
    for text in (f"{sign}{whole} {parts}/64 in", f'{sign}{whole}-{parts}/64"'):
        assert parse_length(text, "mm") == float(exact)
    feet, inches = divmod(whole, 12)
    assert parse_length(f"{sign}{feet}' {inches} {parts}/64\"", "mm") == float(exact)
    assert parse_length(f"{sign}{feet} ft {inches} {parts}/64", "mm") == float(exact)


@given(st.floats(allow_nan=True, allow_infinity=True), st.sampled_from(["mm", "in"]))
def test_a_number_is_a_finite_length_or_is_refused(value: float, units: str) -> None:
    try:
        mm = parse_length(value, units)
    except ValueError:
        factor = 1 if units == "mm" else 25.4
        assert not abs(value) * factor < 1e6 - 1e-6
    else:
        assert math.isfinite(mm)
        assert abs(mm) < 1e6


PIECES = st.sampled_from(
    [
        "12",
        "3/8",
        " ",
        "-",
        "'",
        '"',
        "in",
        "ft",
        "mm",
        "m",
        ".",
        ",",
        "e",
        "0",
        "/",
        "½",
        "°",
        "1e9",
    ]
)


@given(st.one_of(st.text(max_size=80), st.lists(PIECES, max_size=9).map("".join)))
def test_any_text_is_a_length_or_is_refused_on_one_line(text: str) -> None:
    for read in (lambda: parse_length(text, "in"), lambda: parse_angle(text)):
        try:
            assert math.isfinite(read())
        except ValueError as refused:
            message = str(refused)
            assert message.startswith("expected ")
            assert message.isprintable()
            assert len(message) < 140
