"""What tubes cost to make: material as bought, work by the minute, finish by area, packing, margin.

Money is exact (decimal); every line is rounded, halves up, and the total is the sum of the lines
as they stand. What has no price is a line without an amount, and the quote is then not complete.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from soapstone.bench.rates import Rates, exact
from soapstone.plan.model import TubePlan
from soapstone.yard.work import Work, work_of

HOUR = Decimal(60)


@dataclass(frozen=True, slots=True)
class Material:
    """Tubing to buy: its name, price per metre (None: not known), and metres, told in `how`."""

    tubing: str
    price: float | None
    metres: Decimal
    how: str


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a quote.

    Attributes
    ----------
    kind
        "material", "work", "finish", "packing" or "margin".
    what
        What is paid for.
    quantity, unit, price
        How much of what, at what price each; the price is None where it is not known.
    amount
        Money, rounded; None where there is no price.
    lacks
        The price that is not known, in words.
    """

    kind: str
    what: str
    quantity: Decimal
    unit: str
    price: Decimal | None
    amount: Decimal | None
    lacks: str = ""

    def as_json(self) -> dict[str, object]:
        """Give it as a JSON object; minutes for work, metres, square metres or pieces."""
        return {
            "kind": self.kind,
            "what": self.what,
            "quantity": float(self.quantity),
            "unit": self.unit,
            "price": None if self.price is None else float(self.price),
            "amount": None if self.amount is None else float(self.amount),
        }


@dataclass(frozen=True, slots=True)
class Quote:
    """What `count` sets of tubes cost. `hours` of work; `missing`: which prices are not known."""

    lines: tuple[Line, ...]
    total: Decimal
    hours: Decimal
    count: int
    missing: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Whether every line has a price."""
        return not self.missing

    @property
    def each(self) -> Decimal:
        """What one set comes to, unrounded."""
        return self.total / self.count


def quote(
    tubes: Sequence[TubePlan],
    material: Sequence[Material],
    rates: Rates,
    extra: Mapping[str, int],
    count: int = 1,
) -> Quote:
    """Price `count` sets of planned tubes.

    `extra` counts what one set has besides: "copes", "joints" and "cuts" (of its sticks, all sets
    together). Set-ups and first parts are made once, however many sets there are.
    """
    work = work_of(tubes, rates, extra, count)
    lines = [_material_line(one, rates) for one in material]
    lines += [_work_line(one, rates) for one in work if one.pieces and one.minutes]
    lines += _outside_lines(tubes, rates, count) if tubes else []
    known = sum((line.amount for line in lines if line.amount is not None), Decimal(0))
    if rates.margin and known:
        share = exact(rates.margin)
        amount = rounded(known * share / 100, rates)
        lines.append(Line("margin", f"margin, {share.normalize():f} %", share, "%", None, amount))
        known += amount
    minutes = sum((one.pieces * one.minutes for one in work), Decimal(0))
    lacking = dict.fromkeys(f"no price for {line.lacks}" for line in lines if line.amount is None)
    return Quote(tuple(lines), known, minutes / HOUR, count, tuple(lacking))


def rounded(money: Decimal, rates: Rates) -> Decimal:
    """Round a sum of money to the shop's least sum, halves up."""
    least = exact(rates.rounding)
    whole = (money / least).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return (whole * least).quantize(least) if least < 1 else whole * least


def _material_line(one: Material, rates: Rates) -> Line:
    price = None if one.price is None else exact(one.price)
    amount = None if price is None else rounded(price * one.metres, rates)
    words = f"{one.tubing}, {one.how}"
    lacks = f"a metre of {one.tubing}"
    return Line("material", words, one.metres, "m", price, amount, lacks)


def _work_line(one: Work, rates: Rates) -> Line:
    minutes = one.pieces * one.minutes
    price = None if rates.hour is None else exact(rates.hour)
    amount = None if price is None else rounded(price * minutes / HOUR, rates)
    words = f"{one.what}: {one.words}"
    return Line("work", words, minutes, "min", price, amount, "an hour's work")


def _outside_lines(tubes: Sequence[TubePlan], rates: Rates, count: int) -> list[Line]:
    """Give the lines of finish and packing; a price of 0 says that there is none."""
    lines = []
    if rates.finish is None or rates.finish > 0:
        area = count * sum((outside(tube) for tube in tubes), Decimal(0))
        price = None if rates.finish is None else exact(rates.finish)
        amount = None if price is None else rounded(price * area, rates)
        words = "finishing, by the tubes' outside"
        lines.append(Line("finish", words, area, "m2", price, amount, "finishing"))
    if rates.packing is None or rates.packing > 0:
        price = None if rates.packing is None else exact(rates.packing)
        amount = None if price is None else rounded(price * count, rates)
        words = "packing, a parcel for each set" if count > 1 else "packing, one parcel"
        lines.append(Line("packing", words, Decimal(count), "parcel", price, amount, "packing"))
    return lines


def outside(tube: TubePlan) -> Decimal:
    """Give the outside area of a tube in m2, to the mm2: pi x OD x length along the centreline.

    By Pappus' theorem that is exact for bends too; the ends are left out.
    """
    area = 3.141592653589793 * tube.setup.od * tube.length
    return Decimal(round(area)) / 1_000_000
