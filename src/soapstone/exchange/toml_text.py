"""The text of a TOML file with its remarks, to change a part of it and keep the rest."""

from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError


def parsed(text: str) -> Any:
    """Read TOML so that it can be changed and written with its remarks, order and layout.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise ValueError(f"not TOML: {error}") from None
