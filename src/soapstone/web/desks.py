"""The jobs that lie open: each once, however many pages look at it."""

import threading
from dataclasses import dataclass, field

from soapstone.web.desk import Desk
from soapstone.web.shop import Shop


@dataclass(frozen=True, slots=True)
class Desks:
    """The open jobs of a shop by name, shared by all pages."""

    shop: Shop
    _opened: dict[str, Desk] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def open(self, name: str) -> Desk:
        """Give the desk that a job lies open on, as its file and bench are now.

        Raises
        ------
        InputError
            There is no such job, or its file cannot be read, or not any more.
        """
        with self._lock:
            if name not in self._opened:
                self._opened[name] = Desk.open(self.shop.path(name))
            desk = self._opened[name]
        desk.look()
        return desk
