"""Entries of a list of tables, such as `[[die]]`, put in and taken out of a file's text by lines.

A remark that stands above an entry, or below the last one, is about something else as likely as
not: it stays where it is. What an entry is changed to is read again, and held against what it was.
"""

import re
import tomllib
from collections.abc import Collection, Mapping
from typing import Any

import tomlkit

from soapstone.exchange.toml_text import parsed

_HEADER = re.compile(r"\s*\[\[?\s*([^\[\]#]+?)\s*\]\]?\s*(?:#.*)?$")
_SILENT = re.compile(r"\s*(?:#.*)?$")
_OTHERWISE = "is not written entry by entry, as [[{table}]]: change it in a text editor"


def entry_texts(text: str, table: str) -> tuple[str, ...]:
    """Give each entry of a list of tables as it stands in the file, its header and remarks with it.

    Raises
    ------
    ValueError
        The text is no TOML, or writes the list in another way.
    """
    lines = _lines(text)
    return tuple("".join(lines[start:end]) for start, end in _spans(text, table))


def with_entry_text(text: str, table: str, entry: str) -> str:
    """Put an entry, written as `entry_texts` gives them, below the last one of its list.

    Raises
    ------
    ValueError
        Either text is no TOML, or it does not come out as it was meant.
    """
    lines, spans = _lines(text), _spans(text, table)
    at = spans[-1][1] if spans else len(lines)
    before, after = "".join(lines[:at]).rstrip("\n"), "".join(lines[at:])
    gap = "\n\n" if before else ""
    made = f"{before}{gap}{entry.strip()}\n{after}"
    added = tomllib.loads(entry)[table]
    return _as_meant(made, text, table, [*_rows(text, table), *added])


def without_entry_text(text: str, table: str, number: int) -> str:
    """Take the entry at a place, from 0, out of a list of tables; remarks about it stay.

    Raises
    ------
    ValueError
        The text is no TOML, there is no such entry, or the list is written in another way.
    """
    lines, spans = _lines(text), _spans(text, table)
    if not 0 <= number < len(spans):
        raise ValueError(f"no {table} {number + 1}")
    start, end = spans[number]
    rows = _rows(text, table)
    del rows[number]
    before, after = lines[:start], lines[end:]
    if after and not after[0].strip() and (not before or not before[-1].strip()):
        del after[0]
    return _as_meant("".join([*before, *after]), text, table, rows)


def with_entries_as_remarks(text: str, table: str, numbers: Collection[int], why: str) -> str:
    """Turn the entries at some places, from 0, into remarks below a line that says `why`.

    Raises
    ------
    ValueError
        The text is no TOML, or the list is written in another way.
    """
    lines, spans = _lines(text), _spans(text, table)
    for number in sorted(numbers, reverse=True):
        start, end = spans[number]
        kept = [f"# {line}" for line in lines[start:end]]
        lines[start:end] = [f"# {why}\n", *kept]
    rows = [row for place, row in enumerate(_rows(text, table)) if place not in numbers]
    return _as_meant("".join(lines), text, table, rows)


def entry_made(table: str, figures: Mapping[str, Any]) -> str:
    """Write an entry of a list of tables anew."""
    made = tomlkit.table()
    for key, figure in figures.items():
        made[key] = figure
    return f"[[{table}]]\n{tomlkit.dumps(made)}"


def entry_changed(entry: str, table: str, figures: Mapping[str, Any]) -> str:
    """Write an entry, as `entry_texts` gives it, with some figures changed; None takes one out.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    file = parsed(entry)
    row = file[table][0]
    for key, figure in figures.items():
        if figure is None:
            row.pop(key, None)
        else:
            row[key] = figure
    return tomlkit.dumps(file)


def _rows(text: str, table: str) -> list[Any]:
    rows = tomllib.loads(text).get(table, [])
    return list(rows) if isinstance(rows, list) else []


def _lines(text: str) -> list[str]:
    """Give the lines as TOML counts them: other marks that break a line may stand in a name."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def _spans(text: str, table: str) -> list[tuple[int, int]]:
    """Give where the entries of a list stand: the line of its header, and that after its last."""
    rows, lines = _rows(text, table), _lines(text)
    heads = [(at, found) for at, line in enumerate(lines) if (found := _HEADER.match(line))]
    heads = [(at, found) for at, found in heads if _is_header(found[0])]
    spans = []
    for place, (at, found) in enumerate(heads):
        name = found[1].strip("\"'")
        if name != table or not found[0].lstrip().startswith("[["):
            continue
        end = next((to for to, later in heads[place + 1 :] if not _within(later, table)), None)
        end = len(lines) if end is None else end
        while _SILENT.match(lines[end - 1]):
            end -= 1
        spans.append((at, end))
    if len(spans) != len(rows):
        raise ValueError(f"{table} " + _OTHERWISE.format(table=table))
    return spans


def _is_header(line: str) -> bool:
    """Whether a line that looks like a header is one: a list of numbers over lines is not."""
    try:
        tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return False
    return True


def _within(found: re.Match[str], table: str) -> bool:
    return found[1].strip().startswith(f"{table}.")


def _as_meant(made: str, text: str, table: str, rows: list[Any]) -> str:
    """Give what was made of a text, if it holds these rows and else what it held.

    Raises
    ------
    ValueError
        It does not.
    """
    wanted = {**tomllib.loads(text), table: rows}
    if not rows:
        del wanted[table]
    try:
        sound = tomllib.loads(made) == wanted
    except tomllib.TOMLDecodeError:
        sound = False
    if not sound:
        raise ValueError(f"{table} " + _OTHERWISE.format(table=table))
    return made
