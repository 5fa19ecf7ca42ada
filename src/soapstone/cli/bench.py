"""`soapstone bench`: what the shop owns."""

from pathlib import Path

from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings, table
from soapstone.flow.showing import Pairing, ShownBench, length_writer, show_bench


def command(file: Path | None = None, /, *, json: Json = False) -> int:
    """Show what the shop owns, how well each dial is known, and what is doubtful.

    Leaves with 1 when something on the bench must be mended before it is used.

    Parameters
    ----------
    file
        A bench file; left out, the shop's own bench, and without one the starter bench.
    """
    shown = show_bench(file)
    emit(shown.as_json, lambda where: _show(where, shown), json)
    return 0 if shown.sound else 1


def _show(where: Console, shown: ShownBench) -> None:
    bench = shown.bench
    say = length_writer(bench)
    bender = bench.bender
    where.print(escape(str(bench.path or bench.name or "the starter bench")), soft_wrap=True)
    stroke = f", re-pin every {bender.stroke:g}°" if bender.stroke else ""
    where.print(
        f"[bold]{escape(bender.name)}[/]  {bender.plane}, lead end swings {bender.swing}, "
        f"to {bender.max_angle:g}°{stroke}; tape {bench.tape}, dial {bench.dial_step:g}°"
    )
    dies = [
        (d.name, say(d.od), say(d.clr), say(d.clamp), say(d.follower), say(d.mark_offset))
        for d in bench.dies
    ]
    die_columns = ("die", "for tube", "CLR", "clamp", "follower", "mark offset")
    where.print(table("", die_columns, dies))
    tubes = [
        (t.name, say(t.od), say(t.wall), t.material, ", ".join(say(stick) for stick in t.sticks))
        for t in bench.tubings
    ]
    where.print(table("", ("tubing", "OD", "wall", "material", "sticks"), tubes))
    known = [_known(pairing) for pairing in shown.pairings]
    known_columns = ("die and tubing", "trial bends", "springback", "dial zero", "dial for 90°")
    where.print(table("", known_columns, known))
    say_findings(where, shown.findings)


def _known(pairing: Pairing) -> tuple[str, ...]:
    learnt = pairing.calibration
    low, high = (float(end) for end in learnt.interval(90.0))
    return (
        f"{pairing.die.name}, {pairing.tubing.name}",
        str(learnt.trials) if learnt.trials else "none",
        f"{learnt.springback * 100:.1f} %",
        f"{learnt.dial_zero:+.1f}°",
        f"{low:.1f} to {high:.1f}°",
    )
