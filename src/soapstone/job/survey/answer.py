"""From a survey to its answer."""

from collections.abc import Sequence

import numpy as np

from soapstone.geometry.centreline import vec
from soapstone.geometry.vectors import Array
from soapstone.job.survey.adjust import Adjusted, per_axis
from soapstone.job.survey.blunders import Doubt, find, noise
from soapstone.job.survey.model import Survey
from soapstone.job.survey.remarks import Answer, checked_points, look_over, remarks
from soapstone.job.survey.result import SurveyPoint, SurveyResult
from soapstone.job.survey.spread import spreads
from soapstone.job.survey.suspects import suspects


def survey(data: Survey) -> SurveyResult:
    """Find the points of a survey.

    Rows are weighted by their plus_minus, taken as two standard deviations. Readings that do not
    fit are left out and named. Where the rows allow two places, the hints choose, then how well
    they fit; where that does not decide the upper place is taken, and a finding says so.
    """
    adjusted, doubts = find(data)
    factor = noise(adjusted)
    answer = look_over(data, adjusted, spreads(data, adjusted, factor), factor)
    blamed = suspects(data, adjusted, doubts, factor)
    checked = checked_points(data, adjusted)
    findings, tapes = remarks(answer, blamed, checked)
    shift = _shifts(adjusted, doubts)
    return SurveyResult(
        name=data.name,
        units=data.units,
        datum=dict(data.datum),
        points={
            name: _point(answer, name, shift[name], checked[name])
            for name in adjusted.sought
            if name not in answer.undetermined
        },
        undetermined=answer.undetermined,
        suspects=blamed,
        findings=findings,
        measure_next=tapes,
        rows=len(adjusted.misfits),
        redundancy=adjusted.redundancy,
        noise=factor,
    )


def _point(answer: Answer, name: str, shift: Array, checked: bool) -> SurveyPoint:
    p, spread = answer.data.names.index(name), answer.spread[name]
    others = [one.places[p] for one in answer.rivals if name in one.moved and not one.ruled_out]
    return SurveyPoint(
        at=vec(answer.adjusted.places[p]),
        plus_minus=spread.radius + float(np.linalg.norm(shift)),
        plus_minus_xyz=vec(per_axis(spread.covariance) + shift),
        checked=checked,
        elsewhere=tuple(vec(place) for place in others),
    )


def _shifts(answer: Adjusted, doubts: Sequence[Doubt]) -> dict[str, Array]:
    """How far (3,) each point would move if another reading than the one left out were wrong."""
    others = [other for doubt in doubts for _, other in doubt.instead]
    shifts = {}
    for p, name in zip(answer.free, answer.sought, strict=True):
        moves = [np.abs(other.places[p] - answer.places[p]) for other in others]
        shifts[name] = np.max(moves, axis=0) if moves else np.zeros(3)
    return shifts
