"""The trial piece as a straight stick on a ruler: its lead end, its one mark, its length."""

from html import escape

from soapstone.bench.trial_piece import TrialPiece
from soapstone.quantities import Units, format_length
from soapstone.sheets.stick import MM_IN, graduations
from soapstone.web.stick import BODY, BOLD, EDGE, FINE, TOP, WIDE


def piece_svg(piece: TrialPiece, units: Units, width: float = WIDE) -> str:
    """Draw the piece for a page at least `width` pixels wide."""
    edge = EDGE if width > 600 else 7.5
    scale = (100 - 2 * edge) / piece.stock
    pixels_per_mm = width * scale / 100

    def at(mm: float) -> str:
        return f"{edge + mm * scale:.3f}%"

    stock, mark = format_length(piece.stock, units), format_length(piece.mark, units)
    foot, end = TOP + BODY, TOP + BODY / 2
    parts = [
        f'<rect class="metal" x="{at(0)}" y="{TOP}" width="{100 - 2 * edge:.3f}%" height="{BODY}"/>'
    ]
    for value, named in graduations(piece.stock, units, FINE / pixels_per_mm, BOLD / pixels_per_mm):
        x, high = at(value * MM_IN[units]), 14 if named else 7
        parts.append(f'<line class="tick" x1="{x}" x2="{x}" y1="{foot - high}" y2="{foot}"/>')
        if named:
            parts.append(f'<text class="scale" x="{x}" y="{foot + 17}">{value}</text>')
    x = at(piece.mark)
    parts += [
        f'<line class="mark" x1="{x}" x2="{x}" y1="{TOP - 14}" y2="{foot}"/>',
        f'<text class="value" x="{x}" y="{TOP - 20}">{escape(mark)}</text>',
        f'<text class="scale" x="{x}" y="{TOP - 43}">mark</text>',
        (
            f'<g transform="translate(-16 0)"><circle class="end" cx="{at(0)}" cy="{end}" r="11"/>'
            f'<text x="{at(0)}" y="{end + 5}">A</text></g>'
        ),
    ]
    said = f"The trial piece, {stock} long, with its mark {mark} from end A"
    return (
        f'<svg class="stick" height="{foot + 24}" role="img" aria-label="{escape(said)}">'
        f"{''.join(parts)}</svg>"
    )
