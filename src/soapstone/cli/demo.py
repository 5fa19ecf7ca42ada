"""`soapstone demo`: the stern arch, from its job file to its printed pack."""

from pathlib import Path

from rich.console import Console

from soapstone.cli.output import Json, emit, escape, today
from soapstone.cli.plan import show
from soapstone.flow.demonstrating import Demo, demo


def command(folder: Path = Path("stern-arch"), /, *, json: Json = False) -> int:
    """Write the demo job and its bench into a folder, plan it, and print its shop pack.

    Files of yours in that folder are never overwritten by others.

    Parameters
    ----------
    folder
        Where to put the files; made when it does not exist.
    """
    made = demo(folder, today())
    emit(made.as_json, lambda where: _show(where, made), json)
    return 0 if made.plan.sound else 1


def _show(where: Console, made: Demo) -> None:
    where.print("The stern arch of a small workboat. All its numbers are invented.")
    show(where, made.plan)
    where.print()
    where.print(f"job    {escape(str(made.job))}", soft_wrap=True)
    where.print(f"bench  {escape(str(made.bench))}", soft_wrap=True)
    where.print(
        f"[bold]sheet pack  {escape(str(made.pack.file))}[/]  ({made.pack.pages} pages)",
        soft_wrap=True,
    )
