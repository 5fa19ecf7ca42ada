"""`soapstone new`: a file to start from."""

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from soapstone.cli.output import Json, emit, escape
from soapstone.flow.starting import start_file


def command(
    file: Path,
    /,
    *,
    units: Literal["mm", "in"] = "mm",
    bench: Annotated[bool, Parameter(help="Write a bench file instead of a job file.")] = False,
    json: Json = False,
) -> int:
    """Write a commented job file to start from, or a bench file; nothing is overwritten.

    Parameters
    ----------
    file
        The file to write, ending in .toml.
    units
        Whether its bare lengths are mm or inches.
    """
    written = start_file(file, "bench" if bench else "job", units)
    emit(
        lambda: {"file": str(written)},
        lambda where: where.print(escape(str(written)), soft_wrap=True),
        json,
    )
    return 0
