"""What stands on the cards of the bench page, and which figures of them can be put right."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

from soapstone.bench.bender import Body
from soapstone.bench.materials import MATERIALS
from soapstone.bench.model import Bench, Die, Tubing
from soapstone.findings import Say
from soapstone.flow.owning import Kind
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

FOOT = 0.3048  # m, exact by the international yard of 1959

BY_THE_FOOT = {"price_of_a_foot": ("price", FOOT), "finish_of_a_foot": ("finish", FOOT**2)}
"""Fields of a shop in inches for prices that the file has by the metre or the square metre."""


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
    def meant(typed: Mapping[str, str]) -> dict[str, str]:
        """Give the keys of the file, and their values, that what was typed stands for."""
        given: dict[str, str] = {}
        for key, text in typed.items():
            if key == TURNING:
                given |= zip(("plane", "swing"), TURNS[text], strict=True)
            elif key in BY_THE_FOOT:
                file_key, size = BY_THE_FOOT[key]
                given[file_key] = _by_the_metre(text, size)
            else:
                given[key] = text
        return given


@dataclass(frozen=True, slots=True)
class Shelf:
    """Cards that belong together, below a title; `kind` is what can be added there."""

    title: str
    cards: tuple[Card, ...]
    kind: Kind | None = None


def shelves_of(bench: Bench) -> tuple[Shelf, ...]:
    """Give the cards of a bench: bender, tape and prices; dies; tubing; metals."""
    shop = (_bender(bench), _reading(bench), _rates(bench))
    metals = tuple(_materials(bench))
    return (
        Shelf("", shop),
        Shelf("Dies", tuple(_die(die, bench.units) for die in bench.dies), "die"),
        Shelf("Tubing", tuple(_tubing(tubing, bench) for tubing in bench.tubings), "tubing"),
        *([Shelf("Metals", metals)] if metals else []),
    )


def new_card(bench: Bench, kind: Kind, like: str = "") -> Card:
    """Give the card to add a die or a tubing by; `like` names one whose figures stand in it."""
    cards = next(shelf.cards for shelf in shelves_of(bench) if shelf.kind == kind)
    model = next((card for card in cards if card.name == like), None)
    if model is not None:
        unnamed = (replace(model.fields[0], value=""), *model.fields[1:])
        return replace(model, title=f"Another like {like}", fields=unnamed)
    if kind == "die":
        return Card("A new die", (), _die_fields(None, bench.units), kind)
    return Card("New tubing", (), _tubing_fields(None, bench), kind)


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
    facts += [(_capital(body.name), _solid(body, units)) for body in bender.bodies]
    named = ", ".join(body.name for body in bender.bodies)
    foot = f"No tube may hit these as it swings: {named}." if named else ""
    return Card(_capital(bender.name), tuple(facts), fields, "bender", foot=foot)


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
        _priced("finish", rates.finish, units),
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
    foot = f"Stretch {die.stretch:.1%}" if die.stretch else ""
    return Card(f"Die {die.name}", facts, _die_fields(die, units), "die", die.name, foot)


def _die_fields(die: Die | None, units: Units) -> tuple[Field, ...]:
    lengths = (
        ("od", "For tube of"),
        ("clr", "Radius (CLR)"),
        ("clamp", "Clamp needs"),
        ("follower", "Follower needs"),
        ("mark_offset", "Index line ahead"),
    )
    figures = (
        ("stretch", "Stretch, a ratio"),
        ("springback", "Springback before trials, a ratio"),
        ("dial_zero", "Dial zero before trials, degrees"),
    )
    return (
        Field("name", "Name", die.name if die else ""),
        *(
            Field(key, f"{label}, {units}", _bare(getattr(die, key), units) if die else "")
            for key, label in lengths
        ),
        *(Field(key, label, _maybe(getattr(die, key)) if die else "") for key, label in figures),
    )


def _tubing(tubing: Tubing, bench: Bench) -> Card:
    units = bench.units
    say = partial(format_size, units=units)
    sticks = ", ".join(_stick(stick, units, say) for stick in tubing.sticks) or "not said"
    facts = [
        ("Outside, wall", f"{say(tubing.od)}, {say(tubing.wall)}"),
        ("Metal", tubing.material),
        ("Sticks", sticks),
        ("Weld seam", "yes" if tubing.seam else "no"),
    ]
    if tubing.price is not None:
        price = _priced("price", tubing.price, units)
        facts.append((price.label, f"{float(price.value):.2f}"))
    fields = _tubing_fields(tubing, bench)
    return Card(f"Tube {tubing.name}", tuple(facts), fields, "tubing", tubing.name)


def _tubing_fields(tubing: Tubing | None, bench: Bench) -> tuple[Field, ...]:
    units = bench.units
    od, wall = (_bare(tubing.od, units), _bare(tubing.wall, units)) if tubing else ("", "")
    sticks = ", ".join(_bare(stick, units) for stick in tubing.sticks) if tubing else ""
    known = [*(own.name for own in bench.materials), *(metal.name for metal in MATERIALS)]
    used = [one.material for one in bench.tubings]
    metal = tubing.material if tubing else ""  # to be chosen: a wrong guess bends wrong
    return (
        Field("name", "Name", tubing.name if tubing else ""),
        Field("od", f"Outside, {units}", od),
        Field("wall", f"Wall, {units}", wall),
        Field("material", "Metal", metal, tuple(dict.fromkeys([metal, *used, *known]))),
        Field("sticks", f"Sticks, {units}", sticks),
        Field("seam", "Weld seam", "yes" if tubing and tubing.seam else "no", ("yes", "no")),
        _priced("price", tubing.price if tubing else None, units),
    )


def _solid(body: Body, units: Units) -> str:
    say = partial(format_length, units=units)
    if body.box is not None:
        return " × ".join(
            say(edge, unit=edge_no == 2) for edge_no, edge in enumerate(body.box.size)
        )
    if body.cylinder is not None:
        bar = body.cylinder
        return f"⌀ {say(bar.diameter)}, {say(math.dist(bar.start, bar.end))} long"
    return f"⌀ {say(body.ball.diameter)}, a ball" if body.ball is not None else "a floor or a wall"


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


def _priced(key: str, price: float | None, units: Units) -> Field:
    """Give the field of a price by the metre or square metre; by the foot for a shop in inches."""
    metric, feet = PRICED[key]
    if units == "mm":
        return Field(key, metric, _maybe(price))
    ours = next(name for name, (named, _) in BY_THE_FOOT.items() if named == key)
    return Field(ours, feet, _maybe(None if price is None else price * BY_THE_FOOT[ours][1]))


PRICED = {
    "price": ("Price of a metre", "Price of a foot"),
    "finish": ("Finish of a square metre", "Finish of a square foot"),
}


def _by_the_metre(typed: str, size: float) -> str:
    """Give a price by the metre that was typed by the foot; what is no number stays as it is."""
    try:
        price = float(typed) / size
    except ValueError:
        return typed
    return f"{price:.6f}".rstrip("0").rstrip(".") if math.isfinite(price) else typed


def _maybe(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
