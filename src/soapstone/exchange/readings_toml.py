"""Put readings into the text of a file of readings, the rest of it untouched."""

import tomlkit

from soapstone.exchange.toml_text import add_below, parsed


def with_reading(text: str, table: str, number: int, key: str, reading: str | float | None) -> str:
    """Put a reading into the row at a place, from 0, of a list of rows; None takes it out.

    Raises
    ------
    ValueError
        The text is no TOML, or there is no such row.
    """
    file = parsed(text)
    rows = file.get(table, [])
    if not (isinstance(rows, list) and 0 <= number < len(rows)):
        raise ValueError(f"no {table} {number + 1}")
    row = rows[number]
    if reading is None:
        row.pop(key, None)
    elif key in row:
        row[key] = reading
    else:
        add_below(row, key, reading)
    return tomlkit.dumps(file)
