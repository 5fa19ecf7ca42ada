"""Single changes to the text of a job file; its remarks, order and layout stay as they are."""

from collections.abc import Mapping
from typing import Any, TypeAlias

import tomlkit

from soapstone.exchange.toml_text import parsed, row_of

Step: TypeAlias = str | int
"""A key of a table, or the place of an entry in a list of them, from 0."""


def with_value(text: str, place: tuple[Step, ...], value: Any) -> str:
    """Put a value where `place` leads, tables on the way being made; None takes the key away.

    Raises
    ------
    ValueError
        The text is no TOML, or `place` leads through something that has no keys.
    """
    file = parsed(text)
    *way, last = place
    table: Any = file
    for step in way:
        table = _step_into(table, step)
    if value is None:
        _take_away(table, last)
    elif isinstance(table, list):
        table[int(last)] = value
    else:
        table[last] = _inline(value) if isinstance(value, Mapping) else value
    return tomlkit.dumps(file)


def with_entry(text: str, table: str, entry: Mapping[str, Any]) -> str:
    """Add an entry at the end of a list of tables, such as `[[tube]]` or `[[keepout]]`.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    parsed(text)
    made = tomlkit.table()
    for key, value in entry.items():
        made[key] = _inline(value)
    lines = f"\n[[{table}]]\n{tomlkit.dumps(made)}"
    return text.rstrip("\n") + "\n" + lines


def without_entry(text: str, table: str, number: int) -> str:
    """Take the entry at a place, from 0, out of a list of tables.

    Raises
    ------
    ValueError
        The text is no TOML, or there is no such entry.
    """
    file = parsed(text)
    row_of(file, table, number)
    file[table].pop(number)
    if not file[table]:
        file.remove(table)
    return tomlkit.dumps(file)


def _step_into(table: Any, step: Step) -> Any:
    if isinstance(table, list):
        if not 0 <= int(step) < len(table):
            raise ValueError(f"no entry {int(step) + 1}")
        return table[int(step)]
    if not isinstance(table, dict):
        raise ValueError(f"{step} lies within something that has no keys")
    if step not in table:
        table[step] = tomlkit.table()
    return table[step]


def _take_away(table: Any, last: Step) -> None:
    if isinstance(table, dict) and last in table:
        del table[last]


def _inline(value: Any) -> Any:
    if isinstance(value, Mapping):
        made = tomlkit.inline_table()
        made.update({key: _inline(one) for key, one in value.items()})
        return made
    return [_inline(one) for one in value] if isinstance(value, (list, tuple)) else value
