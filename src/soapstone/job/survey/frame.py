"""Whether the known points hold the whole of a survey, or let it turn or shift as one piece."""

from collections.abc import Collection

import numpy as np

from soapstone.job.survey.adjust import Adjusted
from soapstone.job.survey.model import Survey
from soapstone.job.survey.placing import known_points, numbers, size

_FREE = 1e-5  # share of the firmest resistance that counts as none


def frame_fault(data: Survey, answer: Adjusted, group: Collection[str]) -> tuple[str, str] | None:
    """Say how a group can move as one piece, and what would hold it; None if it cannot."""
    known = known_points(data, answer.dropped)
    if not known:
        return (
            "there is no known point to measure from",
            "give three points under [datum]: [0, 0, 0], one along x from it, one off that line",
        )
    tied = _tied(data, known, group)
    if not tied:
        return "no row ties it to a known point", f"tape it to {listed(known[:3])}"
    if len(group) < 2 or not _in_line(data, tied) or not _moves_as_one(data, answer, group):
        return None
    what = f"all of it can turn as one piece about {listed(tied)}, where alone it is held"
    if len(tied) == 1:
        return what, "tape it to two more known points, or add them under [datum]"
    return what, "tape it to a known point off that line, or add such a point under [datum]"


def _moves_as_one(data: Survey, answer: Adjusted, group: Collection[str]) -> bool:
    """Whether some shift or turn of a whole group changes nothing that was measured."""
    mine = numbers(data, group)
    places = answer.places[mine]
    arms = (places - places.mean(axis=0)) / size(data)
    shifts = [np.broadcast_to(axis, arms.shape) for axis in np.eye(3)]
    turns = [np.cross(axis, arms) for axis in np.eye(3)]
    moves = np.array([*shifts, *turns]).reshape(6, -1)
    # a shift and a turn together may be a turn about any line; six numbers say which
    real = np.linalg.matrix_rank(moves, tol=1e-6)
    felt = answer.equations.slopes(answer.places, mine) @ moves.T
    resisted = np.linalg.matrix_rank(felt, tol=_FREE * max(float(np.abs(felt).max()), 1e-12))
    return bool(resisted < real)


def _in_line(data: Survey, names: Collection[str]) -> bool:
    """Whether known points lie on one line, to a thousandth of their distance."""
    places = np.array([data.datum[name] for name in names])
    extents = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    return len(places) < 3 or bool(extents[1] <= 1e-3 * extents[0])


def _tied(data: Survey, known: Collection[str], group: Collection[str]) -> tuple[str, ...]:
    """Known points that share a row with a point of the group."""
    rows = [row for row in data.rows if set(row.points) & set(group)]
    return tuple(dict.fromkeys(name for row in rows for name in row.points if name in known))


def listed(names: Collection[str]) -> str:
    """Write names as a list: "a", "b" and "c"."""
    *front, last = (f'"{name}"' for name in names)
    return f"{', '.join(front)} and {last}" if front else last
