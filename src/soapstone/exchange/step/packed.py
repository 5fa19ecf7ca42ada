"""Bodies as bytes and back: plain numbers and names, so that reading them runs nothing."""

import io
import json
from collections.abc import Sequence

import numpy as np

from soapstone.exchange.step.model import Body, Piece, Surface
from soapstone.geometry.vectors import Array


def pack(bodies: Sequence[Body]) -> bytes:
    """Give bodies as bytes."""
    pieces = [piece for body in bodies for piece in body.pieces]
    heads = [
        {
            "name": one.name,
            "pieces": len(one.pieces),
            "other": one.other,
            "free": one.free,
            "closed": one.closed,
            "damaged": one.damaged,
        }
        for one in bodies
    ]
    rims = [piece.rim for piece in pieces]
    out = io.BytesIO()
    np.savez(
        out,
        heads=np.frombuffer(json.dumps(heads).encode(), dtype=np.uint8),
        rows=np.array([_row(piece) for piece in pieces]).reshape(-1, 14),
        rims=np.concatenate(rims) if rims else np.empty((0, 3)),
        counts=np.array([len(rim) for rim in rims], dtype=np.int64),
    )
    return out.getvalue()


def _row(piece: Piece) -> list[float]:
    known = piece.surface
    sizes = (known.bend, known.radius, piece.area, piece.outside, piece.residual)
    return [*known.at, *known.axis, *piece.middle, *sizes]


def unpack(content: bytes) -> list[Body]:
    """Give back the bodies that `pack` took."""
    with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
        heads = json.loads(arrays["heads"].tobytes())
        rows, rims, counts = arrays["rows"], arrays["rims"], arrays["counts"]
    parts = np.split(rims, np.cumsum(counts)[:-1]) if len(counts) else []
    pieces = iter([_piece(row, rim) for row, rim in zip(rows, parts, strict=True)])
    return [
        Body(
            str(head["name"]),
            tuple(next(pieces) for _ in range(head["pieces"])),
            float(head["other"]),
            float(head["free"]),
            bool(head["closed"]),
            bool(head["damaged"]),
        )
        for head in heads
    ]


def _piece(row: Array, rim: Array) -> Piece:
    bend, radius, area, outside, residual = row[9:].tolist()
    known = Surface(row[:3], row[3:6], bend, radius)
    return Piece(known, rim, row[6:9], area, bool(outside), residual)
