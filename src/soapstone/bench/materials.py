"""What tubes are made of: density, stiffness and strength, and where each number comes from.

Strengths are the least the standard promises; tube as delivered is usually stronger. A bench
file's own materials go before this table.
"""

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass

from soapstone.errors import InputError
from soapstone.written import shown

KSI = 6.894757  # MPa


@dataclass(frozen=True, slots=True)
class Material:
    """One tube material.

    Attributes
    ----------
    name
        What the shop calls it.
    density
        kg/m3.
    e
        Modulus of elasticity, MPa.
    yield_strength
        Least yield strength, MPa.
    source
        Where the numbers come from.
    strength_k, hardening_n
        Plastic flow stress = strength_k * strain ** hardening_n (MPa), where known. It describes
        soft metal that hardens as it is bent; hard-drawn tube has none here.
    welded_yield
        Yield beside a weld, MPa, where welding softens the metal; None when it does not.
    """

    name: str
    density: float
    e: float
    yield_strength: float
    source: str
    strength_k: float | None = None
    hardening_n: float | None = None
    welded_yield: float | None = None

    @property
    def yield_beside_weld(self) -> float:
        """Yield strength in MPa where the tube has been welded."""
        return self.yield_strength if self.welded_yield is None else self.welded_yield


_ELASTIC = "density and E: handbook values, from memory"
_A513 = f"ASTM A513 least yield as tabulated by two tube distributors; {_ELASTIC}"
_A500 = f"ASTM A500 round, least yield before the 2021 edition, one distributor; {_ELASTIC}"
_EN = f"EN 10305-3 / EN 10219 least yield, from memory; {_ELASTIC}"
_A269 = f"ASTM A269/A554 least yield, from memory; {_ELASTIC}"
_B241 = f"ASTM B241 and an extruder's alloy table, least yield; {_ELASTIC}"
_FLOW = "flow curve K, n: Kalpakjian & Schmid table 2.3, annealed"
_B241_WELD = f"{_B241}; yield beside a weld from memory"


def _steel(name: str, yield_ksi: float, source: str, welded_ksi: float | None = None) -> Material:
    welded = None if welded_ksi is None else welded_ksi * KSI
    return Material(name, 7850.0, 205_000.0, yield_ksi * KSI, source, welded_yield=welded)


def _european(name: str, yield_mpa: float) -> Material:
    return Material(name, 7850.0, 205_000.0, yield_mpa, _EN)


def _stainless(name: str) -> Material:
    return Material(name, 8000.0, 193_000.0, 30.0 * KSI, f"{_A269}; {_FLOW} 304", 1275.0, 0.45)


def _aluminium(name: str, yield_ksi: float, welded_ksi: float | None = None) -> Material:
    welded = None if welded_ksi is None else welded_ksi * KSI
    source = _B241 if welded_ksi is None else _B241_WELD
    return Material(name, 2700.0, 68_900.0, yield_ksi * KSI, source, welded_yield=welded)


# A weld takes drawn tube back to about the normalised condition, the table's own column.
MATERIALS: tuple[Material, ...] = (
    _steel("1008", 30, _A513, 23),
    _steel("1010", 32, _A513, 25),
    _steel("1015", 35, _A513, 30),
    _steel("1020", 38, _A513, 35),
    _steel("1026", 45, _A513, 40),
    _steel("1010 DOM", 50, _A513, 25),
    _steel("1015 DOM", 55, _A513, 30),
    _steel("1020 DOM", 60, _A513, 35),
    _steel("1026 DOM", 70, _A513, 40),
    Material(
        "mild steel annealed",
        7850.0,
        205_000.0,
        23 * KSI,
        f"{_A513} (1008 normalised); {_FLOW}",
        530.0,
        0.26,
    ),
    _steel("4130", 75, f"AMS 6360 normalised, wall to 3/16 in, from memory; {_ELASTIC}", 50),
    _steel("4130 DOM", 85, _A513, 50),
    _steel("A500 A", 33, _A500),
    _steel("A500 B", 42, _A500),
    _steel("A500 C", 46, _A500),
    _european("E195", 195.0),
    _european("E220", 220.0),
    _european("E235", 235.0),
    _european("E355", 355.0),
    _european("S235", 235.0),
    _european("S275", 275.0),
    _european("S355", 355.0),
    _stainless("304"),
    _stainless("316"),
    _aluminium("6061-T6", 35, 15),
    _aluminium("6061-T4", 16),
    _aluminium("6063-T4", 10),
    _aluminium("6063-T52", 16, 8),
    _aluminium("6063-T6", 25, 8),
    Material(
        "copper", 8940.0, 117_000.0, 62.0, f"annealed yield and {_ELASTIC}; {_FLOW}", 315.0, 0.54
    ),
    Material(
        "Ti-3Al-2.5V",
        4480.0,
        100_000.0,
        105 * KSI,
        f"AMS 4945 (cold worked, stress relieved) least yield, from memory; {_ELASTIC}",
        welded_yield=75 * KSI,
    ),
)

# Words that say no more than the number beside them.
_NOISE = {
    "a513", "a269", "a312", "a554", "aisi", "al", "alloy", "aluminium", "aluminum", "astm", "b241",
    "carbon", "cds", "en", "erw", "gr", "grade", "sae", "ss", "stainless", "steel", "tube",
    "tubing", "type",
}  # fmt: skip
# A bare family name gets the softest common grade, so that strength is never flattered.
_ALIASES = {
    "304l": "304", "14301": "304", "14307": "304", "316l": "316", "14401": "316", "14404": "316",
    "dom": "1020 DOM", "mild": "1010", "erw": "1010", "hrew": "1010", "crew": "1010",
    "steel": "1010", "carbonsteel": "1010", "stainless": "304", "stainlesssteel": "304",
    "chromoly": "4130", "cromoly": "4130", "25crmo4": "4130", "4130normalized": "4130",
    "4130normalised": "4130", "cu": "copper", "s235jr": "S235", "s235jrh": "S235",
    "s275j0h": "S275", "s355j2h": "S355", "s355j0h": "S355", "s355j2": "S355",
    "annealed": "mild steel annealed", "304annealed": "304", "316annealed": "316",
    "titanium": "Ti-3Al-2.5V", "ti325": "Ti-3Al-2.5V", "ti3al25v": "Ti-3Al-2.5V",
}  # fmt: skip


def _key(name: str) -> str:
    """Reduce a name to what tells it from others: case, order of words and noise words go."""
    words = re.findall(r"[a-z0-9]+", name.lower().replace("2.5", "25").replace("1.4", "14"))
    telling = [word for word in words if word not in _NOISE] or words
    return "".join(sorted(telling))


def material(name: str, own: Iterable[Material] = ()) -> Material:
    """Find a material by the name a shop would write.

    Case, hyphens, the order of words and words such as "stainless" or "ASTM" do not matter:
    "SS 304", "304L" and "Type 304 stainless" are all 304.

    Parameters
    ----------
    name
        What the file says.
    own
        Materials of the shop's own, looked at first.

    Raises
    ------
    InputError
        When there is none of that name; the text lists the nearest names.
    """
    table = {_key(entry.name): entry for entry in (*MATERIALS, *own)}
    key = _key(name)
    if key in table:
        return table[key]
    alias = _ALIASES.get(key)
    if alias is not None:
        return table[_key(alias)]
    raise InputError(_no_such(name, list(table.values())))


def _no_such(name: str, known: list[Material]) -> str:
    names = {entry.name.lower(): entry.name for entry in known}
    near = difflib.get_close_matches(name.lower().strip()[:80], names, n=4, cutoff=0.4)
    listed = ", ".join(f'"{names[one]}"' for one in near) if near else ", ".join(names.values())
    expected = "did you mean" if near else "known are"
    return f"no material {shown(name)}: {expected} {listed}? A bench file may add its own"
