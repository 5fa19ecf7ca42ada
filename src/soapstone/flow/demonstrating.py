"""The demo job, from its files to its printed pack."""

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.flow.packing import Pack, write_pack
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.flow.remembering import Remember
from soapstone.textfiles import write_whole


@dataclass(frozen=True, slots=True)
class Demo:
    """The demo: its files and what came of them."""

    job: Path
    bench: Path
    plan: JobPlan
    pack: Pack

    def as_json(self) -> dict[str, Any]:
        """Give the files and the plan as a JSON object."""
        return {
            "job": str(self.job),
            "bench": str(self.bench),
            "pack": self.pack.as_json(),
            "plan": self.plan.as_json(),
        }


DEMO_FILES = ("bench.toml", "trials-38.csv", "stern-arch-wish.toml", "stern-arch.toml")


def demo(folder: Path, date: str) -> Demo:
    """Write the demo's files into a folder, plan the job and print its pack.

    Raises
    ------
    InputError
        A file of that name is there already and is not the demo's own: nothing is written then.
    """
    job = demo_files(folder)
    planned = plan_job(job, Remember(left_out=True))
    pack = write_pack(planned, folder / "stern-arch.pdf", None, date)
    return Demo(job, (folder / "bench.toml").absolute(), pack.plan, pack)


def demo_files(folder: Path) -> Path:
    """Write the demo's files into a folder, and give its job file.

    Raises
    ------
    InputError
        A file of that name is there already and is not the demo's own: nothing is written then.
    """
    source = files("soapstone.demo")
    texts = {name: (source / name).read_bytes() for name in DEMO_FILES}
    for name, text in texts.items():
        there = folder / name
        if there.exists() and there.read_bytes() != text:
            raise InputError(
                f"{there}: it is there already and has been changed; give another folder"
            )
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        write_whole(folder / name, text)
    return (folder / "stern-arch.toml").absolute()
