"""A route being looked for, beside the pages: what is best so far, and how to stop it."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from soapstone.errors import InputError
from soapstone.fit.route import Route
from soapstone.flow.routing import RoutedJob, mend_tube, route_tube
from soapstone.job.tube import Route as Wish
from soapstone.web.desk import Version


@dataclass(slots=True)
class Search:
    """One search for a tube's route; `best` is there before it ends, `found` or `fault` after.

    Without a wish the tube as it is drawn is mended.
    """

    tube: str
    wish: Wish | None
    seconds: float
    best: Route | None = None
    better: int = 0
    """How many times a better one was found."""
    found: RoutedJob | None = None
    fault: str = ""
    _stop: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def begin(self, version: Version) -> None:
        """Look for it from now on, in a thread of its own."""
        run = threading.Thread(target=self._run, args=(version,), daemon=True)
        self._thread = run
        run.start()

    def stop(self) -> None:
        """Make do with the best so far."""
        self._stop.set()

    @property
    def going(self) -> bool:
        """Whether it still goes on."""
        return self._thread is not None and self.found is None and not self.fault

    def _run(self, version: Version) -> None:
        def better(_: Callable[[float], str], route: Route) -> None:
            self.best = route
            self.better += 1

        try:
            job, bench = version.job, version.bench
            if self.wish is None:
                self.found = mend_tube(job, bench, self.tube, self.seconds)
            else:
                self.found = route_tube(
                    job,
                    bench,
                    self.tube,
                    self.wish,
                    self.seconds,
                    on_better=better,
                    cancel=self._stop.is_set,
                )
        except InputError as error:
            self.fault = str(error)
        except Exception:
            self.fault = "the search broke off; nothing has changed"
            raise
