"""The folder of jobs that the pages work in; nothing outside of it can be named."""

import contextlib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

from soapstone.errors import InputError
from soapstone.textfiles import one_line, write_whole

NAME = re.compile(r"[\w][\w .()+-]{0,79}")
"""What a job's file may be called: letters, digits and a few plain marks, and no dot in front."""

RESERVED = {"con", "prn", "aux", "nul", *(f"{p}{i}" for p in ("com", "lpt") for i in range(10))}
"""Names that Windows keeps for itself."""


@dataclass(frozen=True, slots=True)
class JobEntry:
    """A job file of the shop: its name in the folder, its title, and when it was last changed.

    `tubes` counts them; `trouble` says why the file cannot be read, else it is empty. `changed` is
    in seconds since 1970.
    """

    name: str
    title: str
    tubes: int
    changed: float
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Shop:
    """A folder whose .toml files with tubes in them are jobs.

    `address` is where phones have the pages, for packs to print: "http://192.168.1.20:8760/";
    empty where this machine alone has them.
    """

    folder: Path
    address: str = ""

    def path(self, name: str) -> Path:
        """Give the file of a job by its name.

        Raises
        ------
        InputError
            It is not a plain name, or leads out of the folder.
        """
        path = self.folder / f"{checked_name(name)}.toml"
        if path.is_symlink() and self.folder.resolve() not in path.resolve().parents:
            raise InputError(one_line(f"{name}: leads out of the folder of jobs"))
        return path

    def jobs(self) -> tuple[JobEntry, ...]:
        """List the jobs, the one changed last first."""
        found = (_entry(path) for path in self.folder.glob("*.toml") if not path.is_symlink())
        jobs = [entry for entry in found if entry is not None]
        return tuple(sorted(jobs, key=lambda job: (-job.changed, job.name)))

    def job_paths(self) -> tuple[Path, ...]:
        """Give the files of those jobs that can be opened."""
        return tuple(self.path(job.name) for job in self.jobs() if not job.trouble)

    def benches(self) -> tuple[Path, ...]:
        """List the bench files, `bench.toml` first."""
        found = [
            path for path in self.folder.glob("*.toml") if not path.is_symlink() and _is_bench(path)
        ]
        return tuple(sorted(found, key=lambda path: (path.stem != "bench", path.stem)))

    def stamp(self) -> tuple[tuple[str, int], ...]:
        """Give what changes when a job, a bench or a table of trials is changed by anyone."""
        seen = []
        for path in self.folder.iterdir():
            if path.suffix in (".toml", ".csv"):
                with contextlib.suppress(OSError):
                    seen.append((path.name, path.stat().st_mtime_ns))
        return tuple(sorted(seen))

    def free_name(self, wanted: str) -> str:
        """Give a name like the one wanted that no file of the folder has."""
        stem = plain_name(wanted) or "job"
        if stem.split(".")[0].lower() in RESERVED:
            stem = f"job {stem}"
        name, number = stem, 2
        while (self.folder / f"{name}.toml").exists():
            name, number = f"{stem} {number}", number + 1
        return name

    def add(self, wanted: str, text: str) -> str:
        """Write a new job file, and give the name it got; nothing is ever written over."""
        name = self.free_name(wanted)
        write_whole(self.path(name), text.encode())
        return name


def checked_name(name: str) -> str:
    """Give a job's name back when it is a plain one.

    Raises
    ------
    InputError
        It holds a path, a mark that file systems use, or nothing.
    """
    plain = name.strip()
    if not NAME.fullmatch(plain) or plain.split(".")[0].lower() in RESERVED or ".." in plain:
        raise InputError(
            one_line(f"{name[:60]!r}: expected a name of letters, digits, blanks and - + ( ) .")
        )
    return plain


def plain_name(wanted: str) -> str:
    """Give what of a wanted name can be in a file's name; perhaps nothing."""
    kept = re.sub(r"[^\w .()+-]", " ", wanted).replace("..", ".")
    return re.sub(r"\s+", " ", kept).strip(" .")[:60].strip(" .")


def _entry(path: Path) -> JobEntry | None:
    """Look into a file; None when it holds no job."""
    try:
        changed = path.stat().st_mtime
        tables = tomllib.loads(path.read_text("utf-8-sig"))
    except (OSError, ValueError) as error:
        return JobEntry(path.stem, path.stem, 0, 0.0, one_line(str(error))[:200])
    if not isinstance(tubes := tables.get("tube"), list):
        return None
    try:
        checked_name(path.stem)
    except InputError:
        why = "its name has marks that an address cannot have; rename the file"
        return JobEntry(path.stem, path.stem, len(tubes), changed, why)
    title = tables.get("name")
    return JobEntry(
        path.stem, title if isinstance(title, str) and title else path.stem, len(tubes), changed
    )


def _is_bench(path: Path) -> bool:
    try:
        tables = tomllib.loads(path.read_text("utf-8-sig"))
    except (OSError, ValueError):
        return path.stem == "bench"
    return "tube" not in tables and any(key in tables for key in ("die", "tubing", "bender"))
