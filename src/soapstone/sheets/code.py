"""A QR code (ISO/IEC 18004) that opens a page on a phone, as a drawing."""

from soapstone.sheets.sketch import Box, Mark, Sketch, rectangle

LARGEST = 12
"""The largest version used, 65 modules a side: finer ones do not scan from shop paper."""

QUIET = 4
"""Modules left white around, as the standard asks."""

OVERLAP = 0.02
"""Part of a module by which rows run into each other, so that no printer leaves a gap."""


def draw_code(text: str, size: float) -> Sketch | None:
    """Draw the code of a text, `size` mm a side with its white edge; None if it would be too fine.

    A code of which 15 % is soiled can still be read, where that fits, else 7 %.
    """
    import segno

    for error in ("m", "l"):
        try:
            code = segno.make(text, error=error, micro=False, boost_error=False)
        except ValueError:
            continue
        if int(code.version) <= LARGEST:
            return _drawn([list(row) for row in code.matrix], size)
    return None


def _drawn(rows: list[list[int]], size: float) -> Sketch:
    side = size / (len(rows) + 2 * QUIET)
    marks: list[Mark] = [rectangle(Box(0.0, 0.0, size, size), "#ffffff")]
    for down, row in enumerate(rows):
        top = size - (QUIET + down) * side
        for start, end in _runs(row):
            left, right = (QUIET + start) * side, (QUIET + end) * side
            marks.append(rectangle(Box(left, top - (1 + OVERLAP) * side, right, top), "#000000"))
    return tuple(marks)


def _runs(row: list[int]) -> list[tuple[int, int]]:
    """Give where dark modules begin and end, run by run."""
    edges = [i for i in range(len(row) + 1) if (i < len(row) and row[i]) != (i > 0 and row[i - 1])]
    return list(zip(edges[::2], edges[1::2], strict=True))
