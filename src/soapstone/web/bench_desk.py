"""A bench that lies open on pages: the file is the bench, and changes can be taken back."""

import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from soapstone.bench.files import read_bench
from soapstone.errors import InputError
from soapstone.flow.keeping import Edit, change_bench
from soapstone.flow.owning import jobs_on, lost
from soapstone.flow.showing import ShownBench, show_bench
from soapstone.job.files import own_bench_path
from soapstone.textfiles import LARGEST_TOML, read_text, write_whole
from soapstone.web.shop import Shop

STEPS_BACK = 200
"""Changes that are kept to take back."""

OWN = "own"
"""What the shop's own bench, outside the folder, is called in addresses."""


@dataclass(frozen=True, slots=True)
class Done:
    """A change that was made: what it was, and each file's text before and after, the bench first.

    Job files change with the bench where they name a thing that got another name.
    """

    what: str
    files: tuple[tuple[Path, str, str], ...]


@dataclass(slots=True)
class BenchDesk:
    """One bench file, or None for the starter bench, which cannot be changed.

    `jobs` gives the job files that may be made on it.
    """

    path: Path | None
    jobs: Callable[[], Iterable[Path]] = tuple
    past: list[Done] = field(default_factory=list)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def stamp(self) -> str:
        """Give what changes when the file, or a trial file beside it, is changed by anyone."""
        if self.path is None:
            return ""
        beside = sorted(self.path.parent.glob("*.csv"))
        try:
            seen = [(one.name, one.stat().st_mtime_ns) for one in (self.path, *beside)]
        except OSError:
            return "gone"
        return repr(seen)

    def shown(self) -> ShownBench:
        """Read the bench as it is now.

        Raises
        ------
        InputError
            The file is gone or does not read; one line says where.
        """
        return show_bench(self.path)

    def change(
        self, act: Callable[[Path], str], done: str, beside: Mapping[Path, Edit] | None = None
    ) -> tuple[str, ...]:
        """Make a change; `act` makes it in the file at a path, and gives the text before it.

        `beside` are changes of job files that belong to it. Gives the jobs, a line each, with
        tubes that find their die or tubing no longer.

        Raises
        ------
        InputError
            It is not sound: the files are as they were then.
        """
        if self.path is None:
            raise InputError("the starter bench cannot be changed: write a bench of your own")
        with self._lock:
            was = read_bench(self.path)
            jobs = [(job, read_text(job, LARGEST_TOML), edit) for job, edit in _each(beside)]
            files = [(self.path, act(self.path), read_text(self.path, LARGEST_TOML))]
            for job, before, edit in jobs:
                files.append((job, before, edit(before)))
                write_whole(job, files[-1][2].encode())
            if any(before != after for _, before, after in files):
                self.past.append(Done(done, tuple(files)))
                del self.past[:-STEPS_BACK]
            return lost(was, read_bench(self.path), jobs_on(self.path, self.jobs()))

    def undo(self) -> str:
        """Take the last change back; gives what it was, or nothing where there is none.

        Raises
        ------
        InputError
            A file of it was changed elsewhere since then.
        """
        with self._lock:
            if not self.past or self.path is None:
                return ""
            done = self.past[-1]
            for path, _, after in done.files:
                if read_text(path, LARGEST_TOML) != after:
                    raise InputError(
                        f"{path.name}: changed in another program since; nothing is taken back"
                    )
            (_, bench, _), *beside = done.files
            change_bench(self.path, lambda _: bench)
            for path, before, _ in beside:
                write_whole(path, before.encode())
            self.past.pop()
            return done.what


def _each(edits: Mapping[Path, Edit] | None) -> Iterable[tuple[Path, Edit]]:
    return edits.items() if edits else ()


@dataclass(frozen=True, slots=True)
class Benches:
    """The benches of a shop, each open once."""

    shop: Shop
    _opened: dict[Path | None, BenchDesk] = field(default_factory=dict)

    def names(self) -> tuple[str, ...]:
        """Give the names of all benches there are: those of the folder, and the shop's own."""
        own = (OWN,) if own_bench_path() else ()
        return (*(path.stem for path in self.shop.benches()), *own)

    def open(self, name: str = "") -> BenchDesk:
        """Give a bench by name; without one the first there is, else the starter bench.

        Raises
        ------
        InputError
            There is none of that name.
        """
        names = self.names()
        if name and name not in names:
            raise InputError(f"there is no bench {name[:60]!r} in this folder")
        chosen = name or next(iter(names), "")
        path: Path | None = None
        if chosen == OWN and chosen not in [one.stem for one in self.shop.benches()]:
            path = own_bench_path()
        elif chosen:
            path = self.shop.path(chosen)
        return self._opened.setdefault(path, BenchDesk(path, self.shop.job_paths))
