"""The bench kept up: figures put right and trial bends added, each looked at before it counts."""

from collections.abc import Callable, Mapping
from functools import partial
from math import isfinite
from pathlib import Path
from typing import TypeAlias

from soapstone.bench.files import bench_from_tables, read_bench
from soapstone.bench.model import Bench
from soapstone.bench.setup import calibration_for, die_and_tubing
from soapstone.bench.trials import trial_bend
from soapstone.errors import InputError
from soapstone.exchange.bench_toml import Figure, with_bend, with_figures
from soapstone.quantities import parse_angle
from soapstone.textfiles import LARGEST_TOML, one_line, parse_toml, read_text, write_whole

Edit: TypeAlias = Callable[[str], str]
"""A change: the text of a bench file before and after."""

LISTS = ("sticks",)
"""Figures that are several lengths, written with commas between."""

FLAGS = ("seam",)
"""Figures that are yes or no."""

WORDS = ("material", "swing", "plane", "tape", "currency")
"""Figures that are words, even where they look like a number: materials are called 304."""


def change_bench(path: Path, edit: Edit) -> str:
    """Change a bench file, and give its text as it was; nothing is written that does not read.

    Raises
    ------
    InputError
        The bench would not be sound to read; the file is as it was then.
    """
    before = read_text(path, LARGEST_TOML)
    try:
        after = edit(before)
    except ValueError as error:
        raise InputError(one_line(f"{path.name}: {error}")) from None
    if after != before:
        bench_from_tables(parse_toml(after, path), path, path.parent)
        write_whole(path, after.encode())
    return before


def figures_edit(table: str, name: str, typed: Mapping[str, str]) -> Edit:
    """Give the change that puts what was typed into a table of the bench.

    Nothing typed takes a figure out, and what is usual holds again.
    """
    figures = {key: figure_of(key, text) for key, text in typed.items()}
    return partial(with_figures, table=table, name=name, figures=figures)


def figure_of(key: str, typed: str) -> Figure:
    """Give what was typed as it is to stand in the file: a number where it is one, else the words.

    Whether it is sensible is for the bench to say when it is read.
    """
    text = typed.strip()
    if not text:
        return None
    if key in LISTS:
        return [_number(part.strip()) for part in text.replace(";", ",").split(",") if part.strip()]
    if key in FLAGS:
        return text.lower() == "yes" if text.lower() in ("yes", "no") else text
    return text if key in WORDS else _number(text)


def _number(text: str) -> str | float:
    try:
        value = float(text)
    except ValueError:
        return text
    if not isfinite(value):
        return text
    return int(value) if value == int(value) and abs(value) < 1e15 else value


def add_bend(
    path: Path, die: str, tubing: str, dial: str, angle: str, lot: str = "", date: str = ""
) -> str:
    """Add a trial bend to a bench file, as typed; gives the file's text as it was.

    Raises
    ------
    InputError
        Dial or angle is none, no bend can have come out like that, or there is no such die.
    """
    bench = read_bench(path)
    read, bent = _degrees("dial", dial), _degrees("angle", angle)
    try:
        trial_bend((read, bent))
    except ValueError as error:
        raise InputError(str(error)) from None
    _refuse_impossible(bench, die, tubing, read, bent)
    return change_bench(
        path,
        partial(with_bend, die=die, tubing=tubing, bend=(read, bent), lot=one_line(lot), date=date),
    )


def _degrees(what: str, typed: str) -> float:
    try:
        return parse_angle(typed)
    except ValueError as error:
        raise InputError(f"{what}: {error}") from None


def _refuse_impossible(bench: Bench, die: str, tubing: str, dial: float, angle: float) -> None:
    """Refuse an angle that the metal would have had to spring forward to."""
    known, _ = calibration_for(bench, *die_and_tubing(bench, die, tubing))
    if not known.can_have_given(dial, angle):
        raise InputError(
            f"stopped at {dial:g}° and measured at {angle:g}°: metal springs back, so the angle "
            "is less than the dial; look whether the two are swapped"
        )
