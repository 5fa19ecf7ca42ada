"""A bench that lies open on pages: the file is the bench, and changes can be taken back."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from soapstone.errors import InputError
from soapstone.flow.keeping import change_bench
from soapstone.flow.showing import ShownBench, show_bench
from soapstone.job.files import own_bench_path
from soapstone.textfiles import LARGEST_TOML, read_text
from soapstone.web.shop import Shop

STEPS_BACK = 200
"""Changes that are kept to take back."""

OWN = "own"
"""What the shop's own bench, outside the folder, is called in addresses."""


@dataclass(slots=True)
class BenchDesk:
    """One bench file, or None for the starter bench, which cannot be changed."""

    path: Path | None
    past: list[tuple[str, str, str]] = field(default_factory=list)
    """What was done, and the file's text before and after."""
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

    def change(self, act: Callable[[Path], str], done: str) -> None:
        """Make a change; `act` makes it in the file at a path, and gives the text before it.

        Raises
        ------
        InputError
            It is not sound: the file is as it was then.
        """
        if self.path is None:
            raise InputError("the starter bench cannot be changed: write a bench of your own")
        with self._lock:
            before = act(self.path)
            after = read_text(self.path, LARGEST_TOML)
            if after != before:
                self.past.append((done, before, after))
                del self.past[:-STEPS_BACK]

    def undo(self) -> str:
        """Take the last change back; gives what it was, or nothing where there is none.

        Raises
        ------
        InputError
            The file was changed elsewhere since then.
        """
        with self._lock:
            if not self.past or self.path is None:
                return ""
            done, before, after = self.past[-1]
            if read_text(self.path, LARGEST_TOML) != after:
                raise InputError(
                    f"{self.path.name}: changed in another program since; nothing is taken back"
                )
            change_bench(self.path, lambda _: before)
            self.past.pop()
            return done


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
        return self._opened.setdefault(path, BenchDesk(path))
