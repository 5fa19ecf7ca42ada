"""A browser and a shop to look at with it."""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright

from soapstone.flow import plan_job
from soapstone.flow.fitting import check
from soapstone.flow.routing import route_tube, wish_between
from soapstone.flow.warming import warm

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
DESK, PHONE = (1400, 900), (390, 844)
PATIENCE = 90_000
"""Milliseconds that anything may take to appear: machines that run the tests are shared."""


def pytest_collection_modifyitems(items):
    for item in items:
        if (
            CHROMIUM is None
            and not os.environ.get("CI")
            and Path(__file__).parent in item.path.parents
        ):
            item.add_marker(pytest.mark.skip(reason="there is no Chromium on this machine"))


@contextmanager
def served(folder: Path, *options: str) -> Iterator[str]:
    """Serve a folder of jobs by the command, and give the address it prints."""
    command = [sys.executable, "-c", "from soapstone.cli import main; main()", "serve", str(folder)]
    log = {**os.environ, "SOAPSTONE_LOG": str(folder / "log.sqlite")}
    run = subprocess.Popen([*command, *options], stdout=subprocess.PIPE, text=True, env=log)
    try:
        assert run.stdout is not None
        url = None
        while url is None:
            line = run.stdout.readline()
            assert line, "the pages did not start"
            url = re.search(r"http://\S+", line)
        yield url[0]
    finally:
        run.terminate()
        run.wait(20)
        run.stdout.close()


def demo_shop(folder: Path) -> Path:
    """Put the demo's files into a folder."""
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, folder / name)
    return folder


@pytest.fixture(scope="package", autouse=True)
def compiled(tmp_path_factory):
    """On a machine that has none of the compiled code yet, no page waits for it."""
    warm()
    job = demo_shop(tmp_path_factory.mktemp("warm")) / "stern-arch.toml"
    planned = plan_job(job)
    brace = planned.planned[3]
    route_tube(planned.job, planned.bench, brace.name, wish_between(brace.points, 6), 2.0)
    check(planned)


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A folder with the demo in it, and the address its pages are served at."""
    folder = demo_shop(tmp_path_factory.mktemp("shop"))
    with served(folder) as url:
        yield folder, url


@pytest.fixture(scope="package")
def browser():
    expect.set_options(timeout=PATIENCE)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def page(browser, request):
    width, height = getattr(request, "param", DESK)
    shown = browser.new_page(viewport={"width": width, "height": height}, has_touch=width < 600)
    faults: list[str] = []
    shown.on("pageerror", lambda fault: faults.append(str(fault)))
    shown.set_default_timeout(PATIENCE)
    yield shown
    shown.close()
    assert not faults
