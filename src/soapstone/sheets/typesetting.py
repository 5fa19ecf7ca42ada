"""Turning page data into PDF with the templates beside this file."""

import json
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import typst

from soapstone.sheets import palette
from soapstone.sheets.lettering import FONT_FOLDER

TEMPLATES = Path(__file__).parent / "templates"


@dataclass(frozen=True, slots=True)
class _Colours:
    """The palette under the names that the templates use."""

    ink: str = palette.INK
    slate: str = palette.SLATE
    stone: str = palette.STONE
    pale: str = palette.PALE
    mist: str = palette.MIST
    haze: str = palette.HAZE
    chalk: str = palette.CHALK
    ember: str = palette.EMBER
    sand: str = palette.SAND


class TypesettingError(RuntimeError):
    """The templates and their data do not fit together: a fault of the program."""


def to_pdf(pack: dict[str, Any]) -> bytes:
    """Set a pack into PDF.

    Parameters
    ----------
    pack
        `job`, `paper`, `units`, `notice` and `pages`, each page with its `kind`.

    Raises
    ------
    TypesettingError
        The typesetter refused, or warned of anything.
    """
    inputs = {
        "pack": json.dumps(pack, ensure_ascii=False, allow_nan=False),
        "palette": json.dumps(asdict(_Colours())),
    }
    try:
        pdf, warnings = typst.compile_with_warnings(
            TEMPLATES / "pack.typ",
            root=TEMPLATES,
            format="pdf",
            font_paths=_fonts(),
            ignore_system_fonts=True,
            sys_inputs=inputs,
            timestamp=0,
        )
    except typst.TypstError as error:
        raise TypesettingError(error.diagnostic) from error
    if warnings:
        raise TypesettingError("; ".join(warning.message for warning in warnings))
    return bytes(pdf)


@lru_cache(maxsize=1)
def _fonts() -> Any:
    """Read the fonts once: those of the dependency and the typesetter's own, none of the system."""
    return typst.Fonts(include_system_fonts=False, font_paths=[str(FONT_FOLDER)])
