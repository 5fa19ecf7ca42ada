"""A survey becomes points, and the points go into a job."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.exchange.job_toml import with_named_points
from soapstone.job.files import read_job
from soapstone.job.survey import SurveyResult, read_survey, survey
from soapstone.textfiles import LARGEST_TOML, read_text, write_whole


@dataclass(frozen=True, slots=True)
class Surveyed:
    """What a survey gave; `job` is the job file that its points were put into, if one was."""

    result: SurveyResult
    job: Path | None

    def as_json(self) -> dict[str, Any]:
        """Give the answer as a JSON object; lengths in mm."""
        return {**self.result.as_json(), "job": str(self.job) if self.job else None}


def survey_file(file: Path, into: Path | None) -> Surveyed:
    """Find the points of a survey; with `into`, put them into the points of that job file.

    Points of the job that the survey does not name stay, as does everything else in the file. A
    survey that is not sound changes no job.
    """
    result = survey(read_survey(file))
    if into is None or not result.sound:
        return Surveyed(result, None)
    read_job(into)  # refuses a file that is no sound job, in one line
    try:
        text = with_named_points(read_text(into, LARGEST_TOML), result.places)
    except ValueError as fault:
        raise InputError(f"{into}: {fault}") from None
    write_whole(into, text.encode())
    return Surveyed(result, into.absolute())
