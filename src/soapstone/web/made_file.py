"""The files of readings of made tubes, beside their job: one for every piece that was measured."""

import hashlib
from itertools import count
from pathlib import Path

from soapstone.errors import InputError
from soapstone.textfiles import LARGEST_TOML, parse_toml, read_text
from soapstone.web.shop import plain_name

LONGEST = 200
"""Bytes of a file's name, which file systems and what is put after it leave room for."""


def made_file(job: Path, tube: str, *, another: bool = False) -> Path:
    """Give the file of the piece of a tube that was measured last, else a free name.

    `another` is for the next piece. Files that are of another tube, or are jobs, are passed over;
    one that cannot be read counts as the tube's, for the page to say so.
    """
    found: list[Path] = []
    stem = _stem(job, tube)
    for number in count(1):
        file = job.with_name(f"{stem}{f' {number}' if number > 1 else ''}.toml")
        if not file.exists() and not file.is_symlink():
            return found[-1] if found and not another else file
        if not file.is_symlink() and _is_of(file, tube):
            found.append(file)
    raise AssertionError  # there is always a number that no file has


def _stem(job: Path, tube: str) -> str:
    stem = f"{job.stem} made {plain_name(tube) or 'tube'}"
    if len(stem.encode()) <= LONGEST:
        return stem
    known = hashlib.sha256(f"{job.stem}\n{tube}".encode()).hexdigest()[:12]
    return f"{stem.encode()[: LONGEST - 20].decode(errors='ignore')} {known}"


def _is_of(file: Path, tube: str) -> bool:
    try:
        return parse_toml(read_text(file, LARGEST_TOML), file.name).get("tube") == tube
    except InputError:
        return True
