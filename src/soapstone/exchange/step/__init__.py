"""STEP read: `reading` the file, `rounds` its faces, `fitting` free surfaces, `chain` the tubes."""

from soapstone.exchange.step.tubes import FoundTube, StepTubes, read_step

__all__ = ["FoundTube", "StepTubes", "read_step"]
