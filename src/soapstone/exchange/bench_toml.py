"""Put trial bends into the text of a bench file, the rest of it untouched."""

from collections.abc import Sequence

import tomlkit
from tomlkit.exceptions import TOMLKitError


def with_trial(
    text: str,
    die: str,
    tubing: str,
    bends: Sequence[tuple[float, float]],
    lot: str = "",
    date: str = "",
    piece: str = "",
) -> str:
    """Add a row of trial bends, (dial, angle) in degrees, to the end of a bench file's text.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    try:
        tomlkit.parse(text)
    except TOMLKitError as error:
        raise ValueError(f"not TOML: {error}") from None
    rows = {"die": die, "tubing": tubing, "lot": lot, "date": date, "piece": piece}
    lines = [f"{key} = {tomlkit.item(value).as_string()}" for key, value in rows.items() if value]
    listed = ", ".join(f"[{dial:g}, {angle:g}]" for dial, angle in bends)
    added = "\n".join(["[[trial]]", *lines, f"bends = [{listed}]"])
    return f"{text.rstrip()}\n\n{added}\n"
