"""Points from taped distances, levels and plumb lines: nobody measures x, y, z on a boat."""

from soapstone.job.survey.answer import survey
from soapstone.job.survey.files import read_survey, survey_from
from soapstone.job.survey.model import Survey
from soapstone.job.survey.result import SurveyPoint, SurveyResult, Suspect

__all__ = [
    "Survey",
    "SurveyPoint",
    "SurveyResult",
    "Suspect",
    "read_survey",
    "survey",
    "survey_from",
]
