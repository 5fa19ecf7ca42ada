"""How wide text will be, from the font's own tables, so that drawings can keep labels apart."""

import struct
from functools import lru_cache
from pathlib import Path

import fontpkg_barlow

FONT_FOLDER = Path(fontpkg_barlow.ROOT) / "files"
FAMILY = str(fontpkg_barlow.FAMILY)

CAP_HEIGHT = 0.7
"""Height of a capital or figure, in em."""

DESCENT = 0.2
"""Depth of a descender below the baseline, in em."""

_FIGURE = 0.61
"""Advance of the widest tabular figure, in em."""

_UNKNOWN = 1.1
"""Advance assumed for a character the font has not, in em: ideographs and emoji fill one."""

_WEIGHTS = {400: "Regular", 500: "Medium", 600: "SemiBold", 700: "Bold"}


def text_width(text: str, size: float, weight: int = 400) -> float:
    """Width of one line of text in mm, rarely under its true width.

    Parameters
    ----------
    text
        The characters; kerning, which mostly tightens, is left out.
    size
        Font size in mm.
    weight
        400, 500, 600 or 700.
    """
    advances = _advances(weight)
    return size * sum(_FIGURE if c.isdecimal() else advances.get(ord(c), _UNKNOWN) for c in text)


def size_to_fit(text: str, width: float, largest: float, weight: int = 400) -> float:
    """Give the font size in mm, at most `largest`, at which a line of text fits a width in mm."""
    at_one = text_width(text, 1.0, weight)
    return min(largest, width / at_one) if at_one > 0 else largest


@lru_cache(maxsize=8)
def _advances(weight: int) -> dict[int, float]:
    """Advance widths in em by code point, read from the font file."""
    data = (FONT_FOLDER / f"{FAMILY}-{_WEIGHTS[weight]}.ttf").read_bytes()
    tables = _tables(data)
    per_em = struct.unpack_from(">H", data, tables["head"] + 18)[0]
    long_metrics = struct.unpack_from(">H", data, tables["hhea"] + 34)[0]
    metrics = struct.unpack_from(f">{2 * long_metrics}H", data, tables["hmtx"])[::2]
    glyphs = _glyphs(data, tables["cmap"])
    last = long_metrics - 1
    return {code: metrics[min(glyph, last)] / per_em for code, glyph in glyphs.items()}


def _tables(data: bytes) -> dict[str, int]:
    """Where each table of a TrueType file begins (OpenType specification, table directory)."""
    count = struct.unpack_from(">H", data, 4)[0]
    records = (struct.unpack_from(">4sIII", data, 12 + 16 * i) for i in range(count))
    return {tag.decode("latin-1"): offset for tag, _, offset, _ in records}


def _glyphs(data: bytes, cmap: int) -> dict[int, int]:
    """Glyph of each code point of the basic plane (OpenType specification, cmap format 4)."""
    count = struct.unpack_from(">H", data, cmap + 2)[0]
    offsets = (struct.unpack_from(">HHI", data, cmap + 4 + 8 * i)[2] for i in range(count))
    at = next(cmap + o for o in offsets if struct.unpack_from(">H", data, cmap + o)[0] == 4)
    segments = struct.unpack_from(">H", data, at + 6)[0] // 2
    words = f">{segments}H"
    ends = struct.unpack_from(words, data, at + 14)
    starts = struct.unpack_from(words, data, at + 16 + 2 * segments)
    deltas = struct.unpack_from(words, data, at + 16 + 4 * segments)
    ranges_at = at + 16 + 6 * segments
    ranges = struct.unpack_from(words, data, ranges_at)
    found: dict[int, int] = {}
    for i in range(segments - 1):
        for code in range(starts[i], ends[i] + 1):
            glyph = code
            if ranges[i]:
                slot = ranges_at + 2 * i + ranges[i] + 2 * (code - starts[i])
                glyph = struct.unpack_from(">H", data, slot)[0]
                if glyph == 0:
                    continue
            found[code] = (glyph + deltas[i]) & 0xFFFF
    return found
