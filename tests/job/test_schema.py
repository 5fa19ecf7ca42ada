"""The JSON Schemas accept what the readers accept, and refuse what they refuse."""

import re
import tomllib
from typing import Any

import pytest

from soapstone.bench.files import starter_text
from soapstone.job.files import starter_job_text
from soapstone.job.schema import bench_schema, job_schema, survey_schema
from tests.bench.test_files import FULL as FULL_BENCH
from tests.job.test_faults import FAULTS
from tests.job.test_files import FULL, HEAD

TYPES = {
    "object": dict, "array": list, "string": str, "boolean": bool,
    "number": (int, float), "integer": int,
}  # fmt: skip

KEYWORDS = {
    "$defs", "$schema", "title", "description", "default", "examples", "$ref", "type", "enum",
    "const", "pattern", "minLength", "maxLength", "minimum", "maximum", "exclusiveMinimum",
    "required", "properties", "additionalProperties", "items", "minItems", "maxItems", "anyOf",
    "oneOf", "propertyNames",
}  # fmt: skip


def accepts(schema: dict[str, Any], node: dict[str, Any], value: Any) -> bool:
    """Whether a value fits, by the keywords of JSON Schema that the schemas use."""
    assert set(node) <= KEYWORDS
    assert not {"anyOf", "oneOf"} <= set(node)
    if "$ref" in node:
        return accepts(schema, schema["$defs"][node["$ref"].rpartition("/")[2]], value)
    required = set(node.get("required", ()))
    fits = [accepts(schema, one, value) for key in ("anyOf", "oneOf") for one in node.get(key, ())]
    return (
        of_type(node.get("type"), value)
        and value in node.get("enum", [value])
        and value == node.get("const", value)
        and (not fits or (any(fits) if "anyOf" in node else fits.count(True) == 1))
        and required <= set(value if isinstance(value, dict) else ())
        and limits(node, value)
        and inside(schema, node, value)
    )


def of_type(kind: str | None, value: Any) -> bool:
    if isinstance(value, bool):
        return kind in (None, "boolean")
    return kind is None or isinstance(value, TYPES[kind])


def limits(node: dict[str, Any], value: Any) -> bool:
    if isinstance(value, str):
        return re.search(node.get("pattern", ""), value) is not None and node.get(
            "minLength", 0
        ) <= len(value) <= node.get("maxLength", 10**6)
    if isinstance(value, list):
        return node.get("minItems", 0) <= len(value) <= node.get("maxItems", 10**6)
    if isinstance(value, (int, float)):
        return node.get("minimum", value) <= value <= node.get(
            "maximum", value
        ) and not value <= node.get("exclusiveMinimum", value - 1)
    return True


def inside(schema: dict[str, Any], node: dict[str, Any], value: Any) -> bool:
    if isinstance(value, list) and "items" in node:
        return all(accepts(schema, node["items"], entry) for entry in value)
    if not isinstance(value, dict):
        return True
    known, others = node.get("properties", {}), node.get("additionalProperties", {})
    named = node.get("propertyNames", {})
    return all(accepts(schema, named, key) for key in value) and all(
        accepts(schema, known[key], entry)
        if key in known
        else others is not False and accepts(schema, others, entry)
        for key, entry in value.items()
    )


@pytest.mark.parametrize("text", [FULL, starter_job_text("mm"), starter_job_text("in")])
def test_sound_jobs_fit_the_schema(text: str) -> None:
    assert accepts(job_schema(), job_schema(), tomllib.loads(text))


def test_sound_benches_fit_the_schema() -> None:
    schema = bench_schema()
    for text in (starter_text("mm"), starter_text("in")):
        assert accepts(schema, schema, tomllib.loads(text))
    full = tomllib.loads(FULL_BENCH)
    full["trial"][0]["date"] = "2024-03-01"  # JSON has no dates
    assert accepts(schema, schema, full)


SEEN_ONLY_BY_THE_READER = (
    "no point named", "stands twice", "one more leg", "as many rotations", "first rotation",
    "no tube named", "its own mirror", "of no length", "parallel", "start.within",
    "two bend angles",
    "centreline radius", "different points", "no file", "a point", "under 1 km", "g: expected mass",
    "points[1].z", "a mass above 0", "did you mean", "with a unit",
)  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        text
        for text, expected in FAULTS
        if not any(part in expected for part in SEEN_ONLY_BY_THE_READER)
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(text: str) -> None:
    """All faults but those that need to look in two places at once, or to read a quantity."""
    assert not accepts(job_schema(), job_schema(), tomllib.loads(HEAD + text))


@pytest.mark.parametrize("text", ["tubes = []", "[[tube]]\nname = 'a'\ntubing = 't'\nponits = []"])
def test_the_schema_refuses_unknown_keys(text: str) -> None:
    assert not accepts(job_schema(), job_schema(), tomllib.loads(HEAD + text))


SURVEY = """
units = "in"
[datum]
a = [0, 0, 0]
b = ["3 ft", 0, 0]
[[tape]]
from = "a"
to = "p"
length = "12 3/8 in"
[[level]]
points = ["a", "p"]
"""


def test_the_survey_fits_its_schema_and_slips_do_not() -> None:
    schema = survey_schema()
    assert accepts(schema, schema, tomllib.loads(SURVEY))
    for old, new in (("length", "lenght"), ('"12 3/8 in"', "-5"), ('["a", "p"]', '["a"]')):
        assert not accepts(schema, schema, tomllib.loads(SURVEY.replace(old, new)))


def test_every_key_says_what_it_means() -> None:
    for schema in (job_schema(), bench_schema(), survey_schema()):
        for table in (schema, *schema["$defs"].values()):
            for key, node in table.get("properties", {}).items():
                assert node.get("description"), key


def test_the_schemas_know_no_null() -> None:
    assert "null" not in str(job_schema()) + str(bench_schema()) + str(survey_schema())
