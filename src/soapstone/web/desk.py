"""A job that lies open: its text, what it means, and every step back.

The file on disk is the job. A change is written whole before it counts, so nothing confirmed can be
lost; a change made to the file by someone else is taken over, and what was here before is one step
back.
"""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar, cast

from soapstone.bench.model import Bench
from soapstone.errors import InputError
from soapstone.flow.planning import JobPlan, plan
from soapstone.flow.remembering import bench_as_is
from soapstone.job.files import job_from_text
from soapstone.job.model import Job
from soapstone.textfiles import LARGEST_TOML, read_text, write_whole

Done = TypeVar("Done")

Edit = Callable[[str], str]
"""A change: the text of a job file before and after."""

OFTEN = 0.9
"""Seconds between two looks at the bench and the log."""

TRIES = 10
"""Times that a change is made again because someone else wrote the file meanwhile."""

STEPS_BACK = 500
"""Steps that are kept to go back to."""


@dataclass(frozen=True, slots=True)
class Version:
    """A job's text with what was done to get it, what it means, and the plan that follows."""

    text: str
    done: str
    job: Job
    bench: Bench
    planned: JobPlan


@dataclass(frozen=True, slots=True)
class Step:
    """A job's text as it was, with what was done to get it; it is planned anew when gone back to.

    That keeps memory small, and goes back to today's bench.
    """

    text: str
    done: str


@dataclass(slots=True)
class Desk:
    """One job file, open for editing by any number of pages at once."""

    path: Path
    now: Version
    past: list[Step] = field(default_factory=list)
    future: list[Step] = field(default_factory=list)
    changes: int = 0
    """Counts what happened, so that a page sees whether it is behind."""
    _looked: float = -OFTEN
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _reckoned: dict[Callable[[JobPlan], Any], tuple[JobPlan, Any]] = field(default_factory=dict)
    _reckoning: threading.Lock = field(default_factory=threading.Lock)

    @classmethod
    def open(cls, path: Path) -> "Desk":
        """Read a job file.

        Raises
        ------
        InputError
            One line naming the file, the key and what is expected.
        """
        text = read_text(path, LARGEST_TOML)
        return cls(path, _version(text, "opened", path))

    def change(self, edit: Edit, done: str) -> str:
        """Make a change and write it down; `done` says what it was, for the way back.

        Gives what was done: nothing where the job is so already.

        Raises
        ------
        InputError
            The job would not be sound to read: nothing has changed then.
        """
        with self._lock:
            for _ in range(TRIES):
                self.look()
                text = self._edited(edit)
                if text == self.now.text:
                    return ""
                version = _version(text, done, self.path)
                # planning takes its time: what someone wrote meanwhile is not written over
                if read_text(self.path, LARGEST_TOML) == self.now.text:
                    write_whole(self.path, text.encode())
                    self._keep(version)
                    return done
        raise InputError(f"{self.path.name}: another program keeps writing it; try again")

    def _edited(self, edit: Edit) -> str:
        try:
            return edit(self.now.text)
        except ValueError as error:
            raise InputError(f"{self.path.name}: {error}") from None
        except (KeyError, IndexError, StopIteration):
            gone = "what was to be changed is not there any more; look at the page again"
            raise InputError(f"{self.path.name}: {gone}") from None

    def look(self, *, wait: bool = True) -> bool:
        """Take over a change made to the file, or to its bench, from elsewhere; True when so.

        Without `wait` nothing is looked at while a change is being made.

        Raises
        ------
        InputError
            The file is gone, or does not read as a job any more; what is open stays open.
        """
        if not self._lock.acquire(blocking=wait):
            return False
        try:
            text = read_text(self.path, LARGEST_TOML)
            if text != self.now.text:
                self._keep(_version(text, "changed in the file itself", self.path))
                return True
            # the bench, and the log it learns from, are looked at for all pages at once
            now = time.monotonic()
            if now - self._looked < OFTEN:
                return False
            self._looked = now
            if bench_as_is(self.now.job) == self.now.bench:
                return False
            # the job is as it was: there is no step of it to go back
            self.now = _version(text, self.now.done, self.path)
            self.changes += 1
            return True
        finally:
            self._lock.release()

    def reckon(self, how: Callable[[JobPlan], Done]) -> Done:
        """Give what follows from the job as it is now, reckoned once for all pages that ask.

        Raises
        ------
        InputError
            As `how` does; it is then tried again for whoever asks next.
        """
        with self._reckoning:
            planned = self.now.planned
            kept, done = self._reckoned.get(how, (None, None))
            if kept is not planned:
                done = how(planned)
                self._reckoned[how] = planned, done
            return cast(Done, done)

    def undo(self) -> str:
        """Go a step back; gives what was undone, or nothing when there is no step.

        A change made to the file from elsewhere is a step too, the last one then.

        Raises
        ------
        InputError
            The bench has changed so that the job of that step does not read any more.
        """
        with self._lock:
            self.look()
            if not self.past:
                return ""
            return self._step(self.past, self.future).done

    def redo(self) -> str:
        """Do again what was undone last; gives what it was, or nothing. Raises as `undo`."""
        with self._lock:
            self.look()
            if not self.future:
                return ""
            self._step(self.future, self.past)
            return self.now.done

    def _step(self, taken: list[Step], left: list[Step]) -> Step:
        """Go to the last step of one way, and leave the present one on the other; gives that."""
        version = _version(taken[-1].text, taken[-1].done, self.path)
        write_whole(self.path, version.text.encode())
        taken.pop()
        left.append(Step(self.now.text, self.now.done))
        self.now = version
        self.changes += 1
        return left[-1]

    def _keep(self, version: Version) -> None:
        self.past.append(Step(self.now.text, self.now.done))
        del self.past[:-STEPS_BACK]
        self.future.clear()
        self.now = version
        self.changes += 1


def _version(text: str, done: str, path: Path) -> Version:
    job = job_from_text(text, path)
    bench = bench_as_is(job)
    return Version(text, done, job, bench, plan(job, bench))
