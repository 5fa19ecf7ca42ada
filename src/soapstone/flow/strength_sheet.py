"""Load cases as drawings: the frame bent more than it gives, and coloured by stress."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from soapstone.check.strength.model import CaseResult
from soapstone.errors import InputError
from soapstone.flow.strength import CAUTION, StrongJob
from soapstone.geometry.along import places_at
from soapstone.geometry.centreline import vec
from soapstone.quantities import format_force, format_moment
from soapstone.sheets.contents import Paper
from soapstone.sheets.figures import Figure
from soapstone.sheets.strength_page import (
    strength_drawing,
    strength_figures,
    strength_pdf,
    strength_svg,
)
from soapstone.textfiles import one_line, write_whole


def write_strength(done: StrongJob, file: Path, paper: Paper | None, date: str) -> StrongJob:
    """Print the cases of a solved frame as a PDF, or draw them as an SVG, by the file's ending.

    Raises
    ------
    InputError
        The ending is neither, or the file cannot be written.
    """
    job = done.plan.job
    figures = figures_of(done)
    match file.suffix.lower():
        case ".pdf":
            sheet = paper or ("Letter" if job.units == "in" else "A4")
            write_whole(file, strength_pdf(figures, CAUTION, job.units, sheet, job.name, date))
        case ".svg":
            write_whole(file, strength_svg(figures, CAUTION).encode())
        case _:
            raise InputError(one_line(f"--out {file}: expected a file name ending .pdf or .svg"))
    return replace(done, file=file.absolute())


def figures_of(done: StrongJob) -> list[Figure]:
    """Give a drawing and a table of the feet for every case."""
    frame, units = done.frame, done.plan.job.units
    ods = {tube.name: tube.od for tube in frame.tubes}
    lines = {tube.name: tube.line for tube in frame.tubes}
    held = [vec(places_at(lines[one.tube], np.array([one.along]))[0][0]) for one in frame.supports]
    drawn = []
    for case in done.cases:
        loads = [(load.at, load.force) for load in frame.loads if load.case == case.case]
        drawn.append((case, strength_drawing(case, ods, held, loads, units)))
    return strength_figures(drawn, {case.case: _feet(done, case) for case in done.cases})


def _feet(done: StrongJob, case: CaseResult) -> tuple[tuple[str, ...], ...]:
    units = done.plan.job.units
    bolts = done.bolts(case)
    heads = ["held at", "x", "y", "z", "about x", "about y", "about z"]
    if any(bolts):
        heads += ["worst bolt: pull", "shear"]
    rows = []
    for one, held in zip(case.supports, bolts, strict=True):
        row = [f"{one.tube}, {one.at}"]
        row += [format_force(value, units) for value in one.force]
        row += [format_moment(value, units) for value in one.moment]
        if any(bolts):
            forces = (held.tension, held.shear) if held else ()
            row += [format_force(value, units) for value in forces] or ["", ""]
        rows.append(tuple(row))
    return (tuple(heads), *rows)
