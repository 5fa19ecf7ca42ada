"""The demo's pack as poppler reads it, a PDF reader written by others.

Poppler is a system package, so elsewhere than in CI these checks are left out when it is missing.
"""

import os
import re
import shutil
import subprocess
from importlib.resources import as_file, files
from pathlib import Path

import pytest

from soapstone.flow.packing import Pack, write_pack
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.sheets.contents import Paper

PAPERS: dict[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # mm

# what poppler says of any tagged PDF whose /Suspects is a plain false, as the standard has it
WRONGLY_BLAMED = "Syntax Error: Suspects object is wrong type (boolean)"

pytestmark = pytest.mark.skipif(
    shutil.which("pdfinfo") is None and "CI" not in os.environ, reason="poppler is not installed"
)


@pytest.fixture(scope="module")
def plan() -> JobPlan:
    with as_file(files("soapstone.demo") / "stern-arch.toml") as job:
        return plan_job(job)


@pytest.fixture(scope="module", params=list(PAPERS))
def pack(request: pytest.FixtureRequest, plan: JobPlan, tmp_path_factory) -> tuple[Paper, Pack]:
    file = tmp_path_factory.mktemp("pack") / "pack.pdf"
    return request.param, write_pack(plan, file, request.param, "a day")


def said(tool: str, *words: str | Path) -> str:
    """What a tool of poppler prints; anything on stderr is a complaint about the file."""
    done = subprocess.run([tool, *map(str, words)], capture_output=True, text=True, check=True)
    assert [line for line in done.stderr.splitlines() if line != WRONGLY_BLAMED] == []
    return done.stdout


def test_every_page_is_there_and_is_the_paper_asked_for(pack: tuple[Paper, Pack]) -> None:
    paper, printed = pack
    told = said("pdfinfo", "-l", "-1", printed.file)
    sizes = re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+) pts", told)
    assert len(sizes) == printed.pages
    for size in sizes:
        mm = [float(points) / 72 * 25.4 for points in size]
        assert mm == pytest.approx(PAPERS[paper], abs=0.05)


def test_every_font_travels_with_the_file(pack: tuple[Paper, Pack]) -> None:
    rows = said("pdffonts", pack[1].file).splitlines()[2:]
    assert rows
    for row in rows:
        embedded, subset, unicode = row.split()[-5:-2]
        assert (embedded, subset, unicode) == ("yes", "yes", "yes"), row
        assert "Barlow" in row


def test_every_mark_and_dial_stop_can_be_read(pack: tuple[Paper, Pack], plan: JobPlan) -> None:
    text = " ".join(said("pdftotext", pack[1].file, "-").split())
    for tube in plan.planned:
        assert tube.name in text
        for bend in tube.bends:
            assert f"{bend.stock_mark:.0f} mm" in text
            assert f"{bend.dial_stop:.1f}°" in text
