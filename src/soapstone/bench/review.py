"""Look a bench over: figures left out, figures that no shop has, things that do not go together."""

from collections.abc import Iterator

from soapstone.bench.model import Bench, Die, Trial, Tubing, fits
from soapstone.bench.sections import TubeSection
from soapstone.faults import near
from soapstone.findings import Finding, Say, say_mm

TIGHT = 2.0
"""CLR over OD under which a bend without a mandrel kinks or flattens: common practice."""

STEEP_SPRINGBACK = 0.2
"""Springback over angle that no usual tube has on a usual die; measured bends lie at 0.02-0.05."""

THIN, THICK = 4.0, 200.0
"""Outside diameters in mm that no tube of a manual bender lies beyond: common practice."""

SHORT_STROKE = 5.0
"""Degrees of die travel under which a stroke is more likely a slip of the pen."""


def review_bench(bench: Bench, say: Say = say_mm) -> list[Finding]:
    """Say what is doubtful about a bench.

    Parameters
    ----------
    bench
        The bench.
    say
        Writes lengths in the findings.

    Returns
    -------
    list of Finding
        Warnings for what will make plans wrong, notes for what they will lack.
    """
    return [
        *_bender(bench, say),
        *_ram(bench),
        *_dies(bench, say),
        *_tubings(bench, say),
        *_trials(bench, say),
    ]


def _bender(bench: Bench, say: Say) -> Iterator[Finding]:
    bender, where = bench.bender, "bender"
    if 0 < bender.stroke < SHORT_STROKE:
        what = f"stroke is {bender.stroke:g}°: the ram would be re-pinned every {bender.stroke:g}°"
        yield Finding(
            "warn", f"{where}.stroke", what, "0 means a die that turns without re-pinning"
        )
    if bender.stroke > bender.max_angle:
        what = f"stroke ({bender.stroke:g}°) is above max_angle ({bender.max_angle:g}°)"
        yield Finding("warn", f"{where}.stroke", what, "measure both at the die")
    if bender.die_height is None:
        what = "die_height is left out: nobody knows how far off the floor the tube is"
        yield Finding(
            "note", f"{where}.die_height", what, "measure from floor to tube's centreline"
        )
    elif bench.bender.plane == "horizontal" and not 200 <= bender.die_height <= 2000:
        what = f"die_height is {say(bender.die_height)}"
        yield Finding(
            "warn", f"{where}.die_height", what, "measure from floor to tube's centreline"
        )
    if bench.dial_step > 2 * bench.tolerance:
        what = f"the dial's graduations ({bench.dial_step:g}°) are wider than tolerance allows"
        yield Finding("warn", "dial_step", what, "read the dial finer, or allow more")


def _ram(bench: Bench) -> Iterator[Finding]:
    """Name tubings whose section needs more moment to bend than the ram has.

    A section is bent through at its fully plastic moment, yield times plastic modulus (textbook
    beam theory); metal that hardens, and friction, need more.
    """
    ram = bench.bender.ram
    if ram is None:
        return
    has = ram.force * ram.arm / 1000.0
    for tubing in bench.tubings:
        if not bench.dies_for(tubing.od):
            continue
        modulus = TubeSection(tubing.od, tubing.wall).plastic_modulus
        needs = bench.material(tubing.material).yield_strength * modulus / 1000.0
        if needs > has:
            what = f"bending it takes at least {needs:.0f} N m, the ram gives {has:.0f} N m"
            yield Finding("warn", f'tubing "{tubing.name}"', what, "check the ram's force and arm")


def _dies(bench: Bench, say: Say) -> Iterator[Finding]:
    if not bench.dies:
        yield Finding("note", "die", "the bench has no die", "add a [[die]] for each one you own")
    for die in bench.dies:
        where = f'die "{die.name}"'
        if die.clr < TIGHT * die.od:
            what = f"CLR {say(die.clr)} is under {TIGHT:g} x OD {say(die.od)}"
            yield Finding(
                "warn", f"{where}.clr", what, "without a mandrel the tube kinks or flattens"
            )
        for key, length in (("clamp", die.clamp), ("follower", die.follower)):
            if not length:
                what = f"{key} is 0: plans leave no straight there"
                yield Finding("warn", f"{where}.{key}", what, "measure it on the die")
        yield from _diameter(die.od, where, say)
        yield from _die_figures(die, where, say)
        if not any(fits(die.od, tubing.od) for tubing in bench.tubings):
            what = f"no tubing of OD {say(die.od)} on the bench"
            yield Finding("note", where, what, "add a [[tubing]], or check both diameters")


def _diameter(od: float, where: str, say: Say) -> Iterator[Finding]:
    """Doubt a diameter that was more likely typed in the other unit."""
    if not THIN <= od <= THICK:
        mend = "if it was meant in the other unit, write that behind it: 1 1/2 in, 38.1 mm"
        yield Finding("warn", f"{where}.od", f"OD is {say(od)}", mend)


def _die_figures(die: Die, where: str, say: Say) -> Iterator[Finding]:
    if die.springback is not None and not 0 < die.springback <= STEEP_SPRINGBACK:
        what = f"springback is {die.springback:g} of the angle"
        mend = "it is a ratio: 2.5° on 90° is 0.028; left out, section and material tell"
        yield Finding("warn", f"{where}.springback", what, mend)
    if abs(die.mark_offset) > die.clr:
        what = f"mark_offset is {say(die.mark_offset)}, more than CLR {say(die.clr)}"
        yield Finding("warn", f"{where}.mark_offset", what, "measure from index line to bend start")
    if not 0 <= die.stretch <= 0.1:
        what = f"stretch is {die.stretch:g}"
        mend = "it is a ratio: a bend that uses 2 % less stock has 0.02"
        yield Finding("warn", f"{where}.stretch", what, mend)
    if abs(die.dial_zero or 0.0) > 10:
        what = f"dial_zero is {die.dial_zero:g}°"
        yield Finding(
            "warn", f"{where}.dial_zero", what, "set the dial to 0 where the tube is straight"
        )


def _tubings(bench: Bench, say: Say) -> Iterator[Finding]:
    if not bench.tubings:
        yield Finding("note", "tubing", "the bench has no tubing", "add a [[tubing]] for each kind")
    for tubing in bench.tubings:
        where = f'tubing "{tubing.name}"'
        yield from _diameter(tubing.od, where, say)
        if not bench.dies_for(tubing.od):
            what = f"no die for OD {say(tubing.od)} on the bench"
            yield Finding("note", where, what, "it can be used straight only")
        if not tubing.sticks:
            what = "no sticks: in what lengths it is bought is not known"
            yield Finding("note", f"{where}.sticks", what, "add the lengths it is bought in")
        if tubing.price is None:
            yield Finding(
                "note",
                f"{where}.price",
                "no price: what a part costs is not known",
                "add it, per metre",
            )


def _trials(bench: Bench, say: Say) -> Iterator[Finding]:
    dies = {die.name: die for die in bench.dies}
    tubings = {tubing.name: tubing for tubing in bench.tubings}
    for number, trial in enumerate(bench.trials, start=1):
        where = f"trial[{number}]"
        for key, name, known in (("die", trial.die, dies), ("tubing", trial.tubing, tubings)):
            if name not in known:
                what = f'no {key} "{name}" on the bench{near(name, known)}'
                yield Finding("warn", f"{where}.{key}", what, "these trial bends are not used")
        die, tubing = dies.get(trial.die), tubings.get(trial.tubing)
        if die and tubing:
            yield from _trial_pair(trial, die, tubing, where, say)


def _trial_pair(trial: Trial, die: Die, tubing: Tubing, where: str, say: Say) -> Iterator[Finding]:
    if not fits(die.od, tubing.od):
        what = f'"{trial.tubing}" of OD {say(tubing.od)} on a die for OD {say(die.od)}'
        yield Finding("warn", where, what, "check which tubing was bent")
    if not trial.lot:
        what = "no lot: a change of lot cannot be noticed"
        yield Finding("note", f"{where}.lot", what, "write down which delivery it came from")
