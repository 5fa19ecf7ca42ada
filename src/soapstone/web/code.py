"""The code that lets phones in: kept beside the log, so that a phone once let in stays so."""

import contextlib
import os
import re
from pathlib import Path

from soapstone.errors import InputError
from soapstone.textfiles import one_line
from soapstone.web.guard import new_token

FILE = "phone-code"

SOUND = re.compile(r"[A-Za-z0-9_-]{22}")
"""What a code looks like: 128 bits by chance."""


def kept_token(folder: Path, *, new: bool = False) -> str:
    """Give the code kept in a folder, made at the first time, or anew when asked.

    Raises
    ------
    InputError
        It cannot be kept there.
    """
    file = folder / FILE
    with contextlib.suppress(OSError, UnicodeDecodeError):
        kept = file.read_text("ascii").strip()
        if not new and SOUND.fullmatch(kept):
            return kept
    token = new_token()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        # a file of its own, that nobody else may read, put in place of the old one in one move
        fresh = folder / f"{FILE}.{os.getpid()}"
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as out:
            out.write(f"{token}\n")
        fresh.replace(file)
    except OSError as fault:
        raise InputError(one_line(f"{file}: {fault.strerror}")) from None
    return token
