"""How commands speak: one JSON object for scripts, calm tables for people."""

import contextlib
import datetime
import io
import json
import math
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Annotated, Any, TypeAlias

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table

from soapstone.findings import Finding

Json: TypeAlias = Annotated[bool, Parameter(name="--json", help="Print one JSON object.")]

PATIENCE = 4.0
"""Seconds after which a user is told what is going on."""

FIRST_TIME = "still at it: the first time on a machine takes up to a minute more"

_MARK = {"stop": "[bold red]STOP[/]", "warn": "[yellow]note well[/]", "note": "[dim]note[/]"}


class _Console(Console):
    """A console that leaves a closed pipe to the caller; rich itself would leave with 1."""

    def on_broken_pipe(self) -> None:
        raise BrokenPipeError


def console(*, error: bool = False) -> Console:
    """Give a console on stdout or stderr; without a terminal lines keep their full length."""
    stream = (sys.stderr if error else sys.stdout) or io.StringIO()
    on_screen = stream.isatty()
    return _Console(
        file=stream,
        width=None if on_screen else 160,
        soft_wrap=not on_screen,
        highlight=False,
        emoji=False,
    )


@contextlib.contextmanager
def patience(words: str) -> Iterator[None]:
    """Say on stderr what is taking so long, when it takes longer than a few seconds."""
    where = console(error=True)
    timer = threading.Timer(PATIENCE, lambda: where.print(f"[dim]{escape(words)}[/]"))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def emit(
    payload: Callable[[], dict[str, Any]], show: Callable[[Console], None], as_json: bool
) -> None:
    """Print the JSON object or, for people, what `show` writes."""
    if as_json:
        text = json.dumps(_plain(payload()), ensure_ascii=False)
        if sys.stdout is not None:
            sys.stdout.write(text + "\n")
    else:
        show(console())


def _plain(value: Any) -> Any:
    """Make a value fit for JSON, which has no infinity and no not-a-number."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def today() -> str:
    """Give today's date as the sheets print it."""
    return datetime.datetime.now().astimezone().date().isoformat()


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> Table:
    """Make a table without boxes: numbers right, the first column left."""
    made = Table(
        title=title or None, title_justify="left", title_style="bold", box=None, pad_edge=False
    )
    for i, name in enumerate(columns):
        made.add_column(
            name, justify="left" if i == 0 else "right", header_style="dim", overflow="fold"
        )
    for row in rows:
        made.add_row(*(escape(cell) for cell in row))
    return made


def escape(text: str) -> str:
    """Keep a user's words from being read as markup."""
    from rich.markup import escape as escaped

    return escaped(text)


def say_findings(where: Console, findings: Iterable[Finding]) -> None:
    """List findings, a line each."""
    for finding in findings:
        where.print(f"{_MARK[finding.severity]}  {escape(str(finding))}")
