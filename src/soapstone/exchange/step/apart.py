"""STEP files read in a process of their own: the kernel breaks down on some that are damaged."""

import os
import subprocess
import sys
import tempfile
from importlib.util import find_spec
from pathlib import Path

from soapstone.exchange.kernel import kernel_missing
from soapstone.exchange.step.model import Body
from soapstone.exchange.step.packed import unpack
from soapstone.textfiles import refuse_file

LARGEST = 300_000_000
"""Bytes of a file: some ten thousand tubes."""

PATIENCE = 300
"""Seconds that a file may take; a thousand tubes take about one minute."""


def bodies(path: Path) -> list[Body]:
    """Look at all solids of a STEP file.

    Raises
    ------
    InputError
        The kernel is not installed, or the file is none it can read; one line names it.
    """
    check(path)
    if find_spec("OCP") is None:
        raise kernel_missing()
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "bodies.npz"
        command = [sys.executable, "-m", "soapstone.exchange.step", str(path), str(target)]
        places = os.pathsep.join(place for place in sys.path if place)
        try:
            done = subprocess.run(
                command,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": places},
                timeout=PATIENCE,
                check=False,
            )
        except subprocess.TimeoutExpired:
            late = f"the STEP file took longer than {PATIENCE // 60} minutes; export less of it"
            raise refuse_file(path, late) from None
        said = done.stderr.decode("utf-8", "replace").strip()
        if done.returncode == 2 and said.startswith(str(path)):
            raise refuse_file(path, said.removeprefix(f"{path}: "))
        if done.returncode != 0:
            broken = "the STEP file is damaged: the kernel broke down on it; export it anew"
            raise refuse_file(path, broken)
        return unpack(target.read_bytes())


def check(path: Path) -> None:
    """Refuse what is plainly no STEP file before the kernel sees it."""
    try:
        if path.is_dir():
            raise refuse_file(path, "expected a file, this is a directory")
        size = path.stat().st_size
        with path.open("rb") as stream:
            head = stream.read(4096)
            stream.seek(max(0, size - 4096))
            tail = stream.read()
    except FileNotFoundError:
        raise refuse_file(path, "there is no such file") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or "not a file name"
        raise refuse_file(path, f"the file cannot be read ({reason.lower()})") from None
    if size > LARGEST:
        raise refuse_file(path, f"expected at most {LARGEST // 1_000_000} MB, the file is larger")
    if head[:2] == b"PK" or head[:2] == b"\x1f\x8b":
        raise refuse_file(path, "expected STEP, found a packed archive; unpack it first")
    if b"ISO-10303-21" not in head:
        raise refuse_file(path, "expected STEP (ISO 10303-21), found something else")
    if b"END-ISO-10303-21" not in tail:
        raise refuse_file(path, "expected STEP that ends with END-ISO-10303-21; it is cut short")
