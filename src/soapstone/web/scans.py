"""Scans that are brought to a page: kept beside the job, under a plain name, once they read."""

import tempfile
from pathlib import Path

from soapstone.errors import InputError
from soapstone.geometry.mesh_files import read_mesh
from soapstone.textfiles import one_line, write_whole
from soapstone.web.shop import plain_name

KINDS = (".stl", ".obj", ".ply", ".glb")


def keep_scan(folder: Path, named: str, data: bytes) -> Path:
    """Write a scan into a folder and give its file; no other file is ever written over.

    Raises
    ------
    InputError
        It is not of a kind that is read, or does not read as a mesh; nothing is kept then.
    """
    given = Path(named.replace("\\", "/")).name
    suffix = Path(given).suffix.lower()
    if suffix not in KINDS:
        raise InputError(one_line(f"{given[:60]}: expected a scan as {', '.join(KINDS)}"))
    with tempfile.TemporaryDirectory() as place:
        trial = Path(place) / f"scan{suffix}"
        trial.write_bytes(data)
        try:
            read_mesh(trial)
        except InputError as error:
            said = str(error).replace(str(trial), given[:60])
            raise InputError(one_line(said)) from None
    stem = plain_name(Path(given).stem) or "scan"
    kept, number = folder / f"{stem}{suffix}", 2
    while kept.exists():
        kept, number = folder / f"{stem} {number}{suffix}", number + 1
    write_whole(kept, data)
    return kept
