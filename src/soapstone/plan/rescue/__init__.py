"""Save a tube after a bend has come out wrong: solve what is still to be made anew."""

from soapstone.plan.rescue.model import EndMiss, Further, MadeBend, Rescue
from soapstone.plan.rescue.rescue import rescue
from soapstone.plan.rescue.solve import Tolerance

__all__ = ["EndMiss", "Further", "MadeBend", "Rescue", "Tolerance", "rescue"]
