"""`soapstone trial`: the trial piece that teaches a die's radius, stretch and mark offset."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings, today
from soapstone.errors import InputError
from soapstone.flow.trying import Keep, Trying, try_die
from soapstone.log.store import log_path


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured on the piece.

    Parameters
    ----------
    stock
        Measured: length of the straight piece before bending.
    mark
        Measured: the mark, from the lead end.
    angle
        Measured: the bend's angle after release, in degrees.
    lead_overall
        Measured: lead end to the outermost of the bend, along the lead straight.
    tail_overall
        Measured: tail end to the outermost of the bend, along the tail straight.
    width
        Measured: across a hairpin at its lead end, outside to outside.
    gap
        Measured: corner of the outsides to the nearest of the bend.
    lead_corner
        Measured: lead end to the corner of the outsides.
    tail_corner
        Measured: tail end to the corner of the outsides.
    """

    stock: str | None = None
    mark: str | None = None
    angle: str | None = None
    lead_overall: str | None = None
    tail_overall: str | None = None
    width: str | None = None
    gap: str | None = None
    lead_corner: str | None = None
    tail_corner: str | None = None


NOTHING = Measured()


def command(
    *,
    die: str = "",
    tubing: str = "",
    bench: Annotated[Path | None, Parameter(help="A bench file; left out, the shop's own.")] = None,
    measured: Measured = NOTHING,
    keep: bool = False,
    dial: str | None = None,
    lot: str = "",
    date: str = "",
    log: Path | None = None,
    json: Json = False,
) -> int:
    """Say how to cut, mark, bend and measure a trial piece; given its measurements, learn from it.

    Lengths are written as in a file: 12 3/8 in, 314.5 mm, or a bare number in the bench's units.

    Parameters
    ----------
    die
        The die's name in the bench.
    tubing
        The tubing's name in the bench.
    keep
        Keep the bend in the shop log, where it tells the dial from now on: --dial and --angle.
    dial
        The dial reading it was stopped at, in degrees.
    lot
        The lot of tubing it was made from.
    date
        When it was bent; left out, today. Bends alike need different dates, or they count once.
    log
        The shop log; left out, the one SOAPSTONE_LOG names, or else your own.
    """
    if not keep and dial is not None:
        raise InputError("--dial: it goes into the shop log, so say --keep too")
    kept = Keep(log_path(log), dial, lot, date or today()) if keep else None
    tried = try_die(die, tubing, bench, asdict(measured), kept)
    emit(tried.as_json, lambda where: _show(where, tried), json)
    return 0


def _show(where: Console, tried: Trying) -> None:
    if tried.kept is not None:
        how = "kept in" if tried.kept.new else "is in the log already:"
        where.print(f"the bend {how} [bold]{escape(str(tried.kept.log))}[/]", soft_wrap=True)
        if tried.learnt is None:
            return
    if tried.learnt is None:
        for number, step in enumerate(tried.piece.steps, 1):
            where.print(f"{number:>2}  {escape(step)}")
        return
    where.print("For the die's table in the bench file:")
    for line in tried.learnt.bench_lines(tried.units):
        where.print(f"    {escape(line)}")
    say_findings(where, tried.learnt.problems)
