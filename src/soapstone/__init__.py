"""From a tube that must fit something real to marks, dial stops and printed sheets."""

__version__ = "0.1.0"
