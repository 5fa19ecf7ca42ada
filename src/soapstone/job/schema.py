"""JSON Schema of job, bench and survey files, for editors that complete and check as one types."""

from typing import Any, TypeAlias

from pydantic import BaseModel

from soapstone.bench.model import Bench
from soapstone.job.model import Job
from soapstone.job.survey.model import Survey

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Schema: TypeAlias = dict[str, Any]


def job_schema() -> Schema:
    """Give the JSON Schema (draft 2020-12) of the job file, its TOML taken as JSON."""
    return _schema(Job, "soapstone job file")


def bench_schema() -> Schema:
    """Give the JSON Schema (draft 2020-12) of the bench file, its TOML taken as JSON."""
    return _schema(Bench, "soapstone bench file")


def survey_schema() -> Schema:
    """Give the JSON Schema (draft 2020-12) of the survey file, its TOML taken as JSON."""
    return _schema(Survey, "soapstone survey file")


def _schema(model: type[BaseModel], title: str) -> Schema:
    plain: Schema = _without_null(model.model_json_schema(by_alias=True))
    return {"$schema": DIALECT, **plain, "title": title}


def _without_null(node: Any) -> Any:
    """Drop what says that a key may be null (TOML has none; it is left out) and made-up titles."""
    if isinstance(node, list):
        return [_without_null(entry) for entry in node]
    if not isinstance(node, dict):
        return node
    kept: Schema = {
        key: _properties(value) if key in ("properties", "$defs") else _without_null(value)
        for key, value in node.items()
        if key not in ("title", "discriminator") and not (key == "default" and value is None)
    }
    choices = kept.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        kept["anyOf"] = [choice for choice in choices if choice != {"type": "null"}]
        if len(kept["anyOf"]) == 1:
            only: Schema = kept.pop("anyOf")[0]
            return only | kept
    return kept


def _properties(table: Schema) -> Schema:
    """Go through named schemas, whose names are keys of the file and stay, "title" too."""
    return {name: _without_null(schema) for name, schema in table.items()}
