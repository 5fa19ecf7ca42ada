"""What a panel needs of the page it is on."""

from typing import Protocol

from soapstone.plan.model import TubePlan, Unplanned
from soapstone.sheets.words import Numbers
from soapstone.web.desk import Desk, Edit


class DeskPage(Protocol):
    """The page of a job, as its panels see it."""

    name: str
    desk: Desk
    unfolded: set[str]

    @property
    def tube(self) -> TubePlan | Unplanned | None:
        """The tube picked, as planned now."""

    def numbers(self, tube: TubePlan) -> Numbers:
        """Give how a tube's numbers are written."""

    def change(self, edit: Edit, done: str) -> None:
        """Change the job's file, or say why that cannot be."""

    def pick(self, name: str) -> None:
        """Take up another tube."""
