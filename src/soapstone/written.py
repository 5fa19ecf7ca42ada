"""Numbers with units as people write them ("3 ft 2 1/4 in", "44,5 mm", "12⅜″"), read exactly.

This module knows how such text is put together; which units there are, and what they measure, is
the caller's table.
"""

import re
import unicodedata
from collections.abc import Mapping
from fractions import Fraction
from typing import NoReturn, TypeAlias

Number: TypeAlias = float | int | str
Table: TypeAlias = Mapping[str, Fraction]

LONGEST_TEXT = 60  # characters; bounds the work done on text that is no quantity at all

_NUMBER = r"(?:[0-9]+ +[0-9]+/[0-9]+|[0-9]+-[0-9]+/[0-9]+|[0-9]+/[0-9]+"
_NUMBER += r"|(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]{1,3})?)"
_TERM = re.compile(rf"[ -]?({_NUMBER}) *('{{1,2}}|\"|°|[a-z][a-z/]*[0-9]?\.?|) *")
_COMMA = re.compile(r"([0-9]+),([0-9]+)")
_CHARACTERS = str.maketrans(
    {
        **dict.fromkeys("′’‘ʹ´", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("−–‐‑", "-"),
        **dict.fromkeys("⁄∕", "/"),
        **dict.fromkeys("\u00a0\u2007\u2009\u202f\t", " "),
        "²": "2",
        "³": "3",
    }
)


def read_measure(text: str, table: Table, wanted: str) -> Fraction:
    """Read text such as "-5' 6 1/2" exactly.

    Parameters
    ----------
    text
        One number with its unit, or several of falling unit (feet and inches, degrees and minutes).
    table
        Size of each unit, in the unit of the answer; "" is the unit of a bare number, and "+" of a
        bare number that follows another term (the 6 of "5' 6").
    wanted
        What is expected, for the error: "a length such as ...".

    Raises
    ------
    ValueError
        The text is something else, or its unit is not in the table.
    """
    plain = _plain_text(text) if len(text) <= LONGEST_TEXT else ""
    sign = -1 if plain[:1] == "-" else 1
    terms = _terms(plain.removeprefix("-").removeprefix("+").strip())
    total = _sum(terms, table)
    if total is None:
        refuse(wanted, text)
    return sign * total


def read_number(value: Number, wanted: str) -> Fraction:
    """Take a number as the decimal its writer typed (0.12, not the binary float nearest to it)."""
    if isinstance(value, (bool, str)) or not isinstance(value, (int, float)):
        refuse(wanted, value)
    if not abs(value) < 1e15:  # nan too
        refuse(wanted, value)
    return Fraction(value) if isinstance(value, int) else Fraction(repr(float(value)))


def refuse(wanted: str, value: object) -> NoReturn:
    """Raise the ValueError that says what is expected and what was found."""
    raise ValueError(f"expected {wanted}, found {shown(value)}")


def shown(value: object) -> str:
    """Show what was found on one line, at most about forty characters of it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (list, tuple)):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a huge number"
    return clipped(repr(value[:42]) if isinstance(value, str) else repr(value))


def clipped(text: str) -> str:
    """Cut text short for a message."""
    return text if len(text) <= 42 else f"{text[:40]}..."


def _plain_text(text: str) -> str:
    """Bring typographic characters, Unicode fractions and decimal commas to plain text."""
    spelt = "".join(_spelt(character) for character in text)
    plain = spelt.translate(_CHARACTERS).strip().lower()
    comma = _COMMA.search(plain)
    # "1,200 mm" may be a thousand two hundred or one and a fifth: never guess.
    if comma and plain.count(",") == 1 and (len(comma[2]) != 3 or comma[1].startswith("0")):
        return plain.replace(",", ".")
    return plain


def _spelt(character: str) -> str:
    """Spell a Unicode fraction out: "½" is " 1/2"."""
    if character.isascii():
        return character
    spelt = unicodedata.normalize("NFKC", character)
    return f" {spelt}" if "⁄" in spelt and len(spelt) > 1 else character


def _terms(plain: str) -> list[tuple[Fraction | None, str]]:
    """Split "5' 6 1/2" into numbers and their units as written; none when it is of another form."""
    terms = []
    at = 0
    while at < len(plain) and (found := _TERM.match(plain, at)):
        terms.append((_exact(found[1]), found[2]))
        at = found.end()
    starts_well = plain[:1] in tuple("0123456789.")
    return terms if at == len(plain) and starts_well else []


def _exact(text: str) -> Fraction | None:
    """Read a decimal, a fraction or a mixed number; the fraction of a mixed one is proper."""
    front, slash, below = text.rpartition("/")
    if not slash:
        return Fraction(text)
    *whole, above = front.replace("-", " ").split()
    if int(below) == 0 or (whole and int(above) >= int(below)):
        return None
    return Fraction(int(above), int(below)) + (int(whole[0]) if whole else 0)


def _sum(terms: list[tuple[Fraction | None, str]], table: Table) -> Fraction | None:
    """Add terms of falling unit: all but the last whole, each less than one of the unit before."""
    total, unit_before = Fraction(0), Fraction(0)
    for place, (number, unit) in enumerate(terms, start=1):
        size = table.get("+" if place > 1 and not unit else unit)
        if number is None or size is None:
            return None
        if place < len(terms) and (number.denominator != 1 or not unit):
            return None
        if place > 1 and (number * size >= unit_before or unit_before % size):
            return None
        total, unit_before = total + number * size, size
    return total if terms else None
