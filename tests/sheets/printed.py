"""Reading a printed PDF back: its words, where they stand, and what a printer would put down."""

import ctypes
from dataclasses import dataclass

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

MM = 72 / 25.4


@dataclass(frozen=True)
class Glyphs:
    """Boxes (n, 4) left, bottom, right, top in mm of all visible characters; `run` tells texts apart."""

    characters: str
    boxes: np.ndarray
    run: np.ndarray


def pages(pdf: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(pdf)


def text(page: pypdfium2.PdfPage) -> str:
    """All words of a page, one space between them, fractions with a plain stroke."""
    found = page.get_textpage().get_text_range()
    plain = found.replace("\u2044", "/").replace("\u00a0", " ").replace("\u200b", "")
    return " ".join(plain.split())


def glyphs(page: pypdfium2.PdfPage) -> Glyphs:
    """Every character with ink, its box and the run of text it was set in."""
    textpage = page.get_textpage()
    characters, boxes, runs = [], [], []
    numbers: dict[int, int] = {}
    for i in range(textpage.count_chars()):
        character = chr(pdfium.FPDFText_GetUnicode(textpage, i))
        if character.isspace() or pdfium.FPDFText_IsGenerated(textpage, i) == 1:
            continue
        left, bottom, right, top = textpage.get_charbox(i)
        if right - left < 1e-3 or top - bottom < 1e-3:
            continue
        handle = pdfium.FPDFText_GetTextObject(textpage, i)
        key = ctypes.cast(handle, ctypes.c_void_p).value or -i
        characters.append(character)
        boxes.append((left / MM, bottom / MM, right / MM, top / MM))
        runs.append(numbers.setdefault(key, len(numbers)))
    return Glyphs("".join(characters), np.array(boxes).reshape(-1, 4), np.array(runs, dtype=int))


def overlaps(found: Glyphs, least: float = 0.1) -> list[str]:
    """Say which characters of different runs lie over each other by more than `least` mm."""
    b = found.boxes
    across = np.minimum(b[:, None, 2], b[None, :, 2]) - np.maximum(b[:, None, 0], b[None, :, 0])
    up = np.minimum(b[:, None, 3], b[None, :, 3]) - np.maximum(b[:, None, 1], b[None, :, 1])
    over = (across > least) & (up > least) & (found.run[:, None] < found.run[None, :])
    return [
        f"{_around(found, i)!r} over {_around(found, j)!r} at {b[i].round(1).tolist()}"
        for i, j in zip(*np.nonzero(over), strict=True)
    ]


def _around(found: Glyphs, i: int) -> str:
    return "".join(
        c for c, run in zip(found.characters, found.run, strict=True) if run == found.run[i]
    )


def outside(found: Glyphs, page: pypdfium2.PdfPage, margin: float = 5.0) -> list[str]:
    """Say which characters come nearer to the paper's edge than `margin` mm."""
    width, height = (size / MM for size in page.get_size())
    b = found.boxes
    bad = (b[:, 0] < margin) | (b[:, 1] < margin)
    bad |= (b[:, 2] > width - margin) | (b[:, 3] > height - margin)
    return [f"{_around(found, i)!r} at {b[i].round(1).tolist()}" for i in np.flatnonzero(bad)]


def rendered(page: pypdfium2.PdfPage, dots_per_inch: int) -> np.ndarray:
    """The page as a printer would put it down, grey 0 to 255, row by row."""
    image = page.render(scale=dots_per_inch / 72, grayscale=True).to_numpy()
    return image[:, :, 0] if image.ndim == 3 else image


def longest_runs(dark: np.ndarray) -> np.ndarray:
    """Length of the longest run of true in each row."""
    rows, width = dark.shape
    padded = np.zeros((rows, width + 2), dtype=np.int8)
    padded[:, 1:-1] = dark
    change = np.diff(padded, axis=1)
    longest = np.zeros(rows, dtype=int)
    starts, ends = np.nonzero(change == 1), np.nonzero(change == -1)
    np.maximum.at(longest, starts[0], ends[1] - starts[1])
    return longest
