"""Put readings into the text of a file of readings, the rest of it untouched."""

import tomlkit

from soapstone.exchange.toml_text import parsed, put_figure, row_of


def with_reading(text: str, table: str, number: int, key: str, reading: str | float | None) -> str:
    """Put a reading into the row at a place, from 0, of a list of rows; None takes it out.

    Raises
    ------
    ValueError
        The text is no TOML, or there is no such row.
    """
    file = parsed(text)
    put_figure(row_of(file, table, number), key, reading)
    return tomlkit.dumps(file)
