"""What was made, as a fabricator writes it: "2: 44.2" or "2: 44.2, roll 91, dial 47.5"."""

import re

from soapstone.errors import InputError
from soapstone.plan.rescue.model import MadeBend
from soapstone.quantities import Units, parse_angle, parse_length
from soapstone.textfiles import one_line

EXAMPLE = '"2: 44.2", or "2: 44.2, roll 91, dial 47.5, leg 310"'

_PARTS = re.compile(
    r"\s*(?:bend\s*)?(\d{1,3})\s*[:=]\s*([^,;]+)((?:[,;][^,;]+)*)\s*", re.IGNORECASE
)
_PART = re.compile(r"[,;]\s*(roll|dial|mark|leg)\s*[:=]?\s*([^,;]+)", re.IGNORECASE)


def made_from(text: str, units: Units) -> MadeBend:
    """Read one bend as made; lengths are in the job's units where they carry none.

    Raises
    ------
    InputError
        It is not written so, or a number is none.
    """
    whole = _PARTS.fullmatch(text)
    parts = list(_PART.finditer(whole[3])) if whole else []
    if whole is None or "".join(part[0] for part in parts) != whole[3]:
        raise InputError(
            one_line(f"--made {text[:60]!r}: expected a bend's number and its angle, {EXAMPLE}")
        )
    found: dict[str, float] = {}
    try:
        angle = parse_angle(whole[2].strip())
        for part in parts:
            key, value = part[1].lower(), part[2].strip()
            if key in found:
                raise ValueError(f"{key} stands twice")
            found[key] = (
                parse_length(value, units) if key in ("mark", "leg") else parse_angle(value)
            )
    except ValueError as error:
        raise InputError(one_line(f"--made {text[:60]!r}: {error}")) from None
    return MadeBend(int(whole[1]), angle, **found)
