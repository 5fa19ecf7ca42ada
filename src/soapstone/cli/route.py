"""`soapstone route`: find the tubes that get from here to there past what is in the way."""

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import (
    FIRST_TIME,
    Json,
    console,
    emit,
    escape,
    patience,
    say_findings,
    table,
)
from soapstone.findings import Say
from soapstone.fit.route import Route
from soapstone.flow.routing import RoutedJob, RoutedTube, mend_job, route_job
from soapstone.quantities import format_fine

NOTICED = 0.5
"""Seconds of getting ready from which on they are told."""


def command(
    job: Path,
    /,
    *,
    out: Annotated[Path | None, Parameter(help="Write the job here, corners filled in.")] = None,
    seconds: Annotated[
        float, Parameter(help="Longest search for each tube, once scans are ready.")
    ] = 10.0,
    seed: Annotated[int, Parameter(help="The same seed finds the same routes.")] = 0,
    mend: Annotated[bool, Parameter(help="Mend drawn tubes instead, with least change.")] = False,
    json: Json = False,
) -> int:
    """Find a route for every tube of a job that asks for one: fewest bends, then least length.

    With --mend, drawn tubes that clash or have a leg too short are changed as little as will do.
    Leaves with 1 when a tube was not found, and says why.

    Parameters
    ----------
    job
        A job file (.toml).
    """
    progress, said = console(error=True), [""]

    def better(name: str, say: Say, route: Route) -> None:
        line = f"{name}: {_bends(route.bends)}, {say(route.length)}"
        if line != said[-1]:
            progress.print(f"[dim]{escape(line)}[/]")
            said.append(line)

    with patience(FIRST_TIME), stopped_early() as cancel:
        if mend:
            routed = mend_job(job, seconds, seed, out)
        else:
            routed = route_job(job, seconds, seed, out, better, cancel)
    emit(routed.as_json, lambda where: _show(where, routed), json)
    return 0 if routed.sound else 1


@contextlib.contextmanager
def stopped_early() -> Iterator[Callable[[], bool]]:
    """Let the first Ctrl-C end a search with the best so far; a second one leaves at once."""
    asked = threading.Event()

    def ask(*_: object) -> None:
        asked.set()
        signal.signal(signal.SIGINT, signal.default_int_handler)

    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return
    before = signal.signal(signal.SIGINT, ask)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)


def _show(where: Console, routed: RoutedJob) -> None:
    say = partial(format_fine, units=routed.job.units)
    for tube in routed.tubes:
        where.print()
        _show_tube(where, tube, say)
    say_findings(where, routed.findings)
    if routed.file:
        where.print(f"written: [bold]{escape(str(routed.file))}[/]", soft_wrap=True)


def _bends(count: int) -> str:
    return "1 bend" if count == 1 else f"{count} bends"


def _show_tube(where: Console, tube: RoutedTube, say: Callable[[float], str]) -> None:
    route = tube.result.route
    if route is None:
        where.print(f"[bold]{escape(tube.name)}[/]  nothing found in {tube.result.seconds:.1f} s")
        for reason in tube.result.reasons:
            where.print(f"    {escape(reason)}")
        _show_ready(where, tube)
        return
    near = f", {say(route.clearance)} from {escape(route.nearest)}" if route.nearest else ""
    where.print(
        f"[bold]{escape(tube.name)}[/]  {_bends(route.bends)}, {say(route.length)}{near}, "
        f"found in {tube.result.seconds:.1f} s"
    )
    rows = [(str(i), *(say(value) for value in at)) for i, at in enumerate(route.corners, 1)]
    where.print(table("", ("point", "x", "y", "z"), rows))
    if len(rows) != route.bends + 2:
        widest = max(route.line.angles)
        where.print(
            f"    the bend of {widest:.1f}° has two corners here; --out writes legs and angles"
        )
    if tube.moved:
        most = say(max(tube.moved))
        more = f", {tube.added} bend put in" if tube.added else ""
        where.print(f"    no corner moved by more than {most}{more}")
    for other in tube.result.alternatives:
        bends = f", {other.more_bends:+d} bends" if other.more_bends else ""
        longer = f"{say(abs(other.longer))} {'longer' if other.longer >= 0 else 'shorter'}"
        where.print(f"    or {escape(other.what)}: {longer}{bends}")
    _show_ready(where, tube)
    if not tube.result.finished:
        where.print("    the search was cut short: more --seconds may find better")


def _show_ready(where: Console, tube: RoutedTube) -> None:
    """Tell what came on top of the seconds asked for, where it was long enough to notice."""
    ready = tube.result.ready_seconds
    if ready >= NOTICED:
        where.print(f"    on top of that, {ready:.1f} s to get the search and its meshes ready")
