"""What stands on the cards of the bench page, and which figures of them can be put right."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from soapstone.bench.model import Bench, Die, Tubing
from soapstone.findings import Say
from soapstone.quantities import Units, bare_length, format_length, format_size, format_stress

TURNS = {
    "flat, lead end to the left": ("horizontal", "left"),
    "flat, lead end to the right": ("horizontal", "right"),
    "upright, lead end up": ("vertical", "up"),
    "upright, lead end down": ("vertical", "down"),
}
"""How the die turns, in words, and as the bench file has it: plane and swing."""

TURNING = "turning"
"""The field that stands for plane and swing together: neither goes without the other."""


@dataclass(frozen=True, slots=True)
class Field:
    """A figure that can be put right: its key in the file, its label and its value as typed."""

    key: str
    label: str
    value: str
    options: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Card:
    """One thing of the bench: facts to read, fields to change, the table of the file it is in."""

    title: str
    facts: tuple[tuple[str, str], ...]
    fields: tuple[Field, ...] = ()
    table: str = ""
    name: str = ""
    foot: str = ""

    @staticmethod
    def meant(key: str, text: str) -> Iterator[tuple[str, str]]:
        """Give the keys of the file, and their values, that a field stands for."""
        if key == TURNING:
            yield from zip(("plane", "swing"), TURNS[text], strict=True)
        else:
            yield key, text


def cards_of(bench: Bench) -> tuple[Card, ...]:
    """Give the cards of a bench: bender, tape and dial, dies, tubing, materials."""
    return (
        _bender(bench),
        _reading(bench),
        _rates(bench),
        *(_die(die, bench.units) for die in bench.dies),
        *(_tubing(tubing, bench.units) for tubing in bench.tubings),
        *_materials(bench),
    )


def _bender(bench: Bench) -> Card:
    bender, units = bench.bender, bench.units
    turning = next(text for text, both in TURNS.items() if both == (bender.plane, bender.swing))
    height = "" if bender.die_height is None else _bare(bender.die_height, units)
    facts = [
        ("The die turns", turning),
        ("Bends to", f"{bender.max_angle:g}°"),
        ("Re-pin every", f"{bender.stroke:g}°" if bender.stroke else "not needed"),
    ]
    if bender.die_height is not None:
        facts.append(("Tube above the floor", format_length(bender.die_height, units)))
    fields = (
        Field(TURNING, "The die turns", turning, tuple(TURNS)),
        Field("max_angle", "Bends to, degrees", f"{bender.max_angle:g}"),
        Field("stroke", "Re-pin every, degrees", f"{bender.stroke:g}"),
        Field("die_height", f"Tube above the floor, {units}", height),
    )
    return Card(_capital(bender.name), tuple(facts), fields, "bender")


def _reading(bench: Bench) -> Card:
    facts = (
        ("Tape", str(bench.tape)),
        ("Dial", f"{bench.dial_step:g}°"),
        ("A bend may be off", f"{bench.tolerance:g}°"),
    )
    fields = (
        Field("tape", "Tape read to", str(bench.tape)),
        Field("dial_step", "Dial read to, degrees", f"{bench.dial_step:g}"),
        Field("tolerance", "A bend may be off, degrees", f"{bench.tolerance:g}"),
    )
    return Card("Tape and dial", facts, fields)


def _rates(bench: Bench) -> Card:
    rates, units = bench.rates, bench.units
    hour = "not said" if rates.hour is None else f"{rates.hour:.2f} {rates.currency}".strip()
    facts = (
        ("An hour's work", hour),
        ("A bend, a cut", f"{rates.bend:g} min, {rates.cut:g} min"),
        ("A die put on", f"{rates.set_up:g} min"),
        ("Margin", f"{rates.margin:g} %"),
        ("The saw takes", format_size(rates.kerf, units)),
    )
    fields = (
        Field("currency", "The money's name", rates.currency),
        Field("hour", "Price of an hour", _maybe(rates.hour)),
        *(
            Field(key, f"{label}, minutes", _maybe(getattr(rates, key)))
            for key, label in (
                ("cut", "To saw an end"),
                ("bend", "To make a bend"),
                ("set_up", "To put a die on"),
                ("first_part", "To measure the first"),
                ("cope", "To cope an end"),
                ("joint", "To weld a joint"),
            )
        ),
        Field("finish", "Finish of a square metre", _maybe(rates.finish)),
        Field("packing", "Packing of a parcel", _maybe(rates.packing)),
        Field("margin", "Margin, per cent", _maybe(rates.margin)),
        Field("kerf", f"The saw takes, {units}", _bare(rates.kerf, units)),
    )
    return Card("Prices and minutes", facts, fields, "rates")


def _die(die: Die, units: Units) -> Card:
    say = partial(format_size, units=units)
    facts = (
        ("Radius (CLR)", say(die.clr)),
        ("For tube of", say(die.od)),
        ("Clamp, follower", f"{say(die.clamp)}, {say(die.follower)}"),
        ("Index line ahead", say(die.mark_offset)),
    )
    fields = (
        *(
            Field(key, f"{label}, {units}", _bare(getattr(die, key), units))
            for key, label in (
                ("od", "For tube of"),
                ("clr", "Radius (CLR)"),
                ("clamp", "Clamp needs"),
                ("follower", "Follower needs"),
                ("mark_offset", "Index line ahead"),
            )
        ),
        Field("stretch", "Stretch, a ratio", _maybe(die.stretch)),
        Field("springback", "Springback before trials, a ratio", _maybe(die.springback)),
        Field("dial_zero", "Dial zero before trials, degrees", _maybe(die.dial_zero)),
    )
    foot = f"Stretch {die.stretch:.1%}" if die.stretch else ""
    return Card(f"Die {die.name}", facts, fields, "die", die.name, foot)


def _tubing(tubing: Tubing, units: Units) -> Card:
    say = partial(format_size, units=units)
    sticks = ", ".join(_stick(stick, units, say) for stick in tubing.sticks) or "not said"
    facts = [
        ("Outside, wall", f"{say(tubing.od)}, {say(tubing.wall)}"),
        ("Of", tubing.material),
        ("Sticks", sticks),
        ("Weld seam", "yes" if tubing.seam else "no"),
    ]
    if tubing.price is not None:
        facts.append(("Price of a metre", f"{tubing.price:.2f}"))
    fields = (
        Field("od", f"Outside, {units}", _bare(tubing.od, units)),
        Field("wall", f"Wall, {units}", _bare(tubing.wall, units)),
        Field("material", "Of", tubing.material),
        Field("sticks", f"Sticks, {units}", ", ".join(_bare(s, units) for s in tubing.sticks)),
        Field("seam", "Weld seam", "yes" if tubing.seam else "no", ("yes", "no")),
        Field("price", "Price of a metre", _maybe(tubing.price)),
    )
    return Card(f"Tube {tubing.name}", tuple(facts), fields, "tubing", tubing.name)


def _materials(bench: Bench) -> Iterator[Card]:
    named = dict.fromkeys([*(one.material for one in bench.tubings)])
    named |= dict.fromkeys(own.name for own in bench.materials)
    for name in named:
        metal = bench.material(name)
        facts = [
            ("Yields at", format_stress(metal.yield_strength, bench.units)),
            ("Stiffness", f"{metal.e / 1000:.0f} GPa"),
            ("Density", f"{metal.density:.0f} kg/m³"),
        ]
        if metal.welded_yield is not None:
            facts.insert(1, ("Beside a weld", format_stress(metal.welded_yield, bench.units)))
        title = name if name == metal.name else f"{name} ({metal.name})"
        yield Card(f"Metal {title}", tuple(facts), foot=metal.source)


def _stick(mm: float, units: Units, say: Say) -> str:
    if units == "in":
        return format_length(mm, units, feet=True)
    return say(mm)


def _bare(mm: float, units: Units) -> str:
    return f"{bare_length(mm, units):.4f}".rstrip("0").rstrip(".")


def _maybe(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
