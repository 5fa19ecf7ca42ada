"""What is wrong with a file of tables, all faults at once, in the words of a shop.

The data models say what each key means (their field descriptions); this module turns what pydantic
reports into lines such as ``die "38 on 115".clr: missing; expected the centreline radius``.
"""

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from soapstone.errors import InputError
from soapstone.textfiles import refuse_file
from soapstone.written import clipped, shown

NAMED, INLINE = "<named>", "<inline>"  # tags of the two forms of a union: a name, or a table
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
SHOWN_AT_MOST = 5  # faults on the one line; those after are often consequences of these


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: the key as its writer finds it in the file, and what is expected there."""

    key: str
    what: str

    def __str__(self) -> str:
        """Give key and expectation."""
        return f"{self.key}: {self.what}" if self.key else self.what


class KeyedError(ValueError):
    """A check of a whole table or list that knows which of its keys is at fault."""

    def __init__(self, key: str, what: str) -> None:
        super().__init__(what)
        self.key = key


def refuse_faults(path: Path | str, faults: Sequence[Fault]) -> InputError:
    """Give the one-line error for a file's faults; those past the fifth are counted."""
    lines = list(dict.fromkeys(str(fault) for fault in faults))
    more = len(lines) - SHOWN_AT_MOST
    tail = f"; and {more} more" if more > 0 else ""
    return refuse_file(path, "; ".join(lines[:SHOWN_AT_MOST]) + tail)


def near(name: str, known: Iterable[str]) -> str:
    """Give '; did you mean "x"?', or what there is when nothing is near, or nothing."""
    names = list(dict.fromkeys(known))
    by_lower = {other.lower(): other for other in names}
    close = difflib.get_close_matches(name.lower()[:80], by_lower, n=1, cutoff=0.6)
    if close:
        return f'; did you mean "{clipped(by_lower[close[0]])}"?'
    if not names:
        return ""
    listed = ", ".join(f'"{clipped(other)}"' for other in names[:5])
    return f"; there {'is' if len(names) == 1 else 'are'} {listed}" + ("..." if names[5:] else "")


def key_name(raw: object, place: Sequence[int | str]) -> str:
    """Write a place in nested tables as its writer finds it: ``tube "port leg".points[2]``.

    Entries of a list that have a name go by it; others are counted from 1.
    """
    written = ""
    for step in place:
        if step in (NAMED, INLINE):  # which form of a union, no key
            continue
        if isinstance(step, int) and isinstance(raw, dict):  # one table where a list may be
            continue
        raw = _inside(raw, step)
        if isinstance(step, str):
            key = clipped(step) if _BARE_KEY.fullmatch(step) else f'"{clipped(step)}"'
            written += f".{key}" if written else key
            continue
        name = raw.get("name") if isinstance(raw, dict) else None
        if isinstance(name, str) and name.strip():
            written += f' "{clipped(name)}"'
        else:
            written += f"[{step + 1}]"
    return written


def model_faults(model: type[BaseModel], error: ValidationError, raw: object) -> list[Fault]:
    """Turn what pydantic found wrong with `raw`, read as `model`, into faults in file order."""
    meanings = _Meanings(model)
    return [
        Fault(_key(raw, entry), _what(entry, meanings))
        for entry in error.errors(include_url=False)
        if not _follows(entry)
    ]


def _follows(entry: Mapping[str, Any]) -> bool:
    """Whether a fault only follows from another that is reported too."""
    if entry["type"] == "too_short":  # enough entries, of which some are faulty
        return bool(len(entry["input"]) >= entry["ctx"]["min_length"])
    return bool(entry["type"] == "default_factory_not_called")


def _key(raw: object, entry: Mapping[str, Any]) -> str:
    place = list(entry["loc"])
    error = entry.get("ctx", {}).get("error")
    if isinstance(error, KeyedError):
        place.append(error.key)
    return key_name(raw, place)


def _inside(raw: object, step: int | str) -> object:
    if isinstance(raw, dict):
        return raw.get(step)
    if isinstance(raw, (list, tuple)) and isinstance(step, int) and step < len(raw):
        return raw[step]
    return None


def _what(entry: Mapping[str, Any], meanings: "_Meanings") -> str:
    kind, found, context = entry["type"], entry["input"], entry.get("ctx", {})
    if kind == "missing":
        meaning = meanings.of(entry["loc"])
        return f"missing; expected {meaning}" if meaning else "missing"
    if kind == "extra_forbidden":
        known = meanings.keys(entry["loc"][:-1])
        return f"unknown key{near(str(entry['loc'][-1]), known)}"
    if kind == "value_error":
        return str(context["error"])
    if kind == "literal_error":
        return f"expected {context['expected'].replace(chr(39), chr(34))}, found {shown(found)}"
    if kind in ("too_short", "too_long"):
        least = kind == "too_short"
        number = context["min_length"] if least else context["max_length"]
        return f"expected at {'least' if least else 'most'} {number} entries"
    wanted = _FORMS.get(kind)
    return f"expected {wanted}, found {shown(found)}" if wanted else str(entry["msg"])


_FORMS = {
    "model_type": "a table { ... }",
    "dict_type": "a table { ... }",
    "tuple_type": "a list [ ... ]",
    "list_type": "a list [ ... ]",
    "string_type": "text",
    "bool_type": "true or false",
}


@cache
def _schema(model: type[BaseModel]) -> dict[str, Any]:
    return model.model_json_schema()


class _Meanings:
    """What the keys of a model mean, looked up by place in its JSON Schema."""

    def __init__(self, model: type[BaseModel]) -> None:
        self._schema = _schema(model)

    def keys(self, place: Sequence[int | str]) -> list[str]:
        """Give the keys that a table may have."""
        return [key for node in self._at(place) for key in node.get("properties", {})]

    def of(self, place: Sequence[int | str]) -> str:
        """Give what the key at a place means."""
        *above, key = place
        for node in self._at(above):
            if described := node.get("properties", {}).get(key):
                return str(described.get("description", ""))
        return ""

    def _at(self, place: Sequence[int | str]) -> list[dict[str, Any]]:
        nodes = self._forms(self._schema)
        for step in place:
            if step in (NAMED, INLINE):
                continue
            inner = [
                node.get("items") if isinstance(step, int) else node.get("properties", {}).get(step)
                for node in nodes
            ]
            nodes = [form for child in inner if child for form in self._forms(child)]
        return nodes

    def _forms(self, node: dict[str, Any]) -> list[dict[str, Any]]:
        """Follow references and alternatives down to plain schemas."""
        if "$ref" in node:
            return self._forms(self._schema["$defs"][node["$ref"].rpartition("/")[2]])
        choices = [*node.get("anyOf", ()), *node.get("oneOf", ())]
        choices = [choice for choice in choices if "required" not in choice or "type" in choice]
        return [form for choice in choices for form in self._forms(choice)] or [node]
