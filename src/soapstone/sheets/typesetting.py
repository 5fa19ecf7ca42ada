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
    (pdf,) = _set(pack, format="pdf", timestamp=0)
    return pdf


def to_pictures(pack: dict[str, Any], dots_per_inch: float) -> tuple[bytes, ...]:
    """Set a pack into PNG pictures, one for each page; else as `to_pdf`."""
    return _set(pack, format="png", ppi=dots_per_inch)


def _set(pack: dict[str, Any], **how: Any) -> tuple[bytes, ...]:
    inputs = {
        "pack": json.dumps(pack, ensure_ascii=False, allow_nan=False),
        "palette": json.dumps(asdict(_Colours())),
    }
    try:
        made, warnings = typst.compile_with_warnings(
            TEMPLATES / "pack.typ",
            root=TEMPLATES,
            font_paths=_fonts(),
            ignore_system_fonts=True,
            sys_inputs=inputs,
            **how,
        )
    except typst.TypstError as error:
        raise TypesettingError(error.diagnostic) from error
    if warnings:
        raise TypesettingError("; ".join(warning.message for warning in warnings))
    return tuple(map(bytes, made)) if isinstance(made, list) else (bytes(made),)


@lru_cache(maxsize=1)
def _fonts() -> Any:
    """Read the fonts once: those of the dependency and the typesetter's own, none of the system."""
    return typst.Fonts(include_system_fonts=False, font_paths=[str(FONT_FOLDER)])
