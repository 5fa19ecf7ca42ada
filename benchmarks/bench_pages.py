"""How the pages feel: first paint, a number changed, a corner dragged, many browsers, long use.

Run it with `.venv/bin/python benchmarks/bench_pages.py` on a machine with Chromium. The browser
draws without a graphics card here, so that frames are fewer than on any phone.
"""

import argparse
import random
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, Page, sync_playwright

from soapstone.exchange.job_edits import with_entry
from soapstone.job.files import read_job

TRIANGLES = 100_000
FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]


def main() -> None:
    """Measure everything and print it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--edits", type=int, default=500)
    options.add_argument("--kills", type=int, default=20)
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        folder = shop(Path(place))
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        with served(folder) as (url, run):
            first_paint(browser, url)
            edits(browser, url, run, chosen.edits)
            while_a_route_is_sought(browser, url)
            drag(browser, url)
            many(browser, url)
        browser.close()
        kills(folder, chosen.kills)


CORNER = """() => {
  const view = getElement(Number(document.querySelector(".room").id.slice(1)));
  const held = view.tubes.get(view.picked).children.find((one) => one.userData.corner === 3);
  const at = held.getWorldPosition(held.position.clone()).project(view.camera);
  const frame = view.drawer.domElement.getBoundingClientRect();
  return [frame.left + (at.x + 1) / 2 * frame.width, frame.top + (1 - at.y) / 2 * frame.height];
}"""
"""Where a corner of the tube picked is on the page."""


def shop(folder: Path) -> Path:
    """The demo's job, and the same with a sixth tube and a scan of many triangles."""
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        (folder / name).write_bytes((files("soapstone.demo") / name).read_bytes())
    text = (folder / "stern-arch.toml").read_text()
    (folder / "hull.stl").write_bytes(hull(TRIANGLES))
    scan = {"name": "hull", "mesh": {"file": "hull.stl", "at": [3000, 0, 0]}, "gap": 5}
    corners = [[900, 0, 0], [900, 0, 600], [1300, 0, 900]]
    sixth = {"name": "sixth", "tubing": "316 38.1x1.65", "die": "38 on 115", "points": corners}
    heavy = with_entry(with_entry(text, "keepout", scan), "tube", sixth)
    (folder / "heavy.toml").write_text(heavy)
    return folder


def hull(triangles: int) -> bytes:
    """A bowl of triangles as binary STL."""
    n = int(np.sqrt(triangles / 2))
    u, v = np.meshgrid(np.linspace(0, 1, n + 1), np.linspace(0, 1, n + 1), indexing="ij")
    points = np.stack([2000 * u, 1000 * (v - 0.5), 800 * (v - 0.5) ** 2 + 100 * u], axis=-1)
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    faces = np.concatenate([np.stack([a, b, c], -2), np.stack([a, c, d], -2)]).reshape(-1, 3, 3)
    record = np.zeros(len(faces), dtype=[("n", "<f4", 3), ("p", "<f4", (3, 3)), ("x", "<u2")])
    record["p"] = faces
    return b"\0" * 80 + np.uint32(len(faces)).tobytes() + record.tobytes()


@contextmanager
def served(folder: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Serve a folder and give the address and the process."""
    command = [sys.executable, "-c", "from soapstone.cli import main; main()", "serve", str(folder)]
    run = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert run.stdout is not None
    try:
        found = None
        while found is None:
            found = re.search(r"http://\S+", run.stdout.readline())
        yield found[0], run
    finally:
        run.terminate()
        run.wait(20)
        run.stdout.close()


def opened(browser: Browser, address: str) -> Page:
    """Open a page that is ready to be typed into."""
    page = browser.new_page(viewport={"width": 1400, "height": 900})
    page.set_default_timeout(120_000)
    page.goto(address)
    page.get_by_label("Corner 4, y").wait_for()
    return page


def first_paint(browser: Browser, url: str) -> None:
    """From asking for a page to something to see on it, the first time and again."""
    paint = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime"
    for what in ("first page after the start", "again"):
        page = opened(browser, f"{url}job/stern-arch")
        page.wait_for_function(paint)
        print(f"first paint, {what}: {page.evaluate(paint):.0f} ms")
        page.close()


def changed(page: Page, value: str) -> float:
    """Milliseconds from Enter in a field to the new stick on the page."""
    page.get_by_label("Corner 4, y").fill(value)
    return float(
        page.evaluate(
            """() => new Promise((done) => {
              const stick = () => document.querySelector("svg.stick").outerHTML;
              const before = stick(), start = performance.now();
              const see = () => document.querySelector("svg.stick") && stick() !== before
                ? done(performance.now() - start) : requestAnimationFrame(see);
              const field = document.activeElement;
              field.dispatchEvent(new Event("change", { bubbles: true }));
              see();
            })"""
        )
    )


def memory(run: subprocess.Popen[str]) -> float:
    """Megabytes that the server holds."""
    text = Path(f"/proc/{run.pid}/status").read_text()
    found = re.search(r"VmRSS:\s+(\d+)", text)
    return int(found[1]) / 1024 if found else 0.0


def edits(browser: Browser, url: str, run: subprocess.Popen[str], count: int) -> None:
    """Change a number many times: how long each takes, and what the server then holds."""
    page = opened(browser, f"{url}job/stern-arch")
    took, held = [], []
    for number in range(count):
        took.append(changed(page, f"{-150 - 9 * (number % 11)}"))
        if number % (count // 5 or 1) == 0:
            held.append(memory(run))
    held.append(memory(run))
    page.close()
    print(
        f"a number changed to the new stick, {count} times: median "
        f"{statistics.median(took):.0f} ms, 19 of 20 under {np.percentile(took, 95):.0f} ms"
    )
    print("server's memory meanwhile, MB: " + ", ".join(f"{one:.0f}" for one in held))


def while_a_route_is_sought(browser: Browser, url: str) -> None:
    """A number changed on one page while another page looks for a route."""
    other = browser.new_page()
    other.set_default_timeout(120_000)
    other.goto(f"{url}job/stern-arch/route")
    other.get_by_label("Seconds to look for it").fill("20")
    other.get_by_role("button", name="Find the way").click()
    other.get_by_text("Best so far").wait_for()
    page = opened(browser, f"{url}job/stern-arch")
    took = [changed(page, f"{-155 - 9 * (number % 11)}") for number in range(15)]
    print(f"the same while a route is sought: median {statistics.median(took):.0f} ms")
    page.close()
    other.close()


def drag(browser: Browser, url: str) -> None:
    """Frames a second while a corner is dragged, six tubes and a scan in the room."""
    page = opened(browser, f"{url}job/heavy")
    page.wait_for_timeout(3000)
    x, y = page.evaluate(CORNER)
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate(
        """() => { window.frames_seen = 0;
        const tick = () => { frames_seen++; requestAnimationFrame(tick); }; tick(); }"""
    )
    start, began = page.evaluate("frames_seen"), time.perf_counter()
    for step in range(60):
        page.mouse.move(x + step, y + step / 2)
    seconds = time.perf_counter() - began
    print(f"frames while dragging: {(page.evaluate('frames_seen') - start) / seconds:.0f} a second")
    page.mouse.up()
    page.close()


def many(browser: Browser, url: str) -> None:
    """Twenty browsers on one job, and a number changed in one of them."""
    began = time.perf_counter()
    pages = [opened(browser, f"{url}job/stern-arch") for _ in range(20)]
    print(f"20 pages opened in {time.perf_counter() - began:.1f} s")
    took = [changed(pages[7], f"{-159 - 9 * (number % 11)}") for number in range(10)]
    print(f"a number changed with 20 open: median {statistics.median(took):.0f} ms")
    for page in pages:
        page.close()


def kills(folder: Path, count: int) -> None:
    """Kill the server at random while numbers are changed: what was on the page is in the file."""
    lost = 0
    chance = random.Random(1)
    for _ in range(count):
        lost += killed(folder, chance)
    print(f"server killed {count} times amid edits: {lost} confirmed changes lost")


def killed(folder: Path, chance: random.Random) -> int:
    """Change a job's gap again and again, kill the process, and compare what it said it kept."""
    job = folder / "stern-arch.toml"
    code = (
        "import sys, itertools\n"
        "from functools import partial\n"
        "from pathlib import Path\n"
        "from soapstone.exchange.job_edits import with_value\n"
        "from soapstone.web.desk import Desk\n"
        "desk = Desk.open(Path(sys.argv[1]))\n"
        "for k in itertools.count(1):\n"
        "    desk.change(lambda t: with_value(t, ('keepout', 0, 'gap'), k % 30 + k / 1e4), 'gap')\n"
        "    print(k % 30 + k / 1e4, flush=True)\n"
    )
    run = subprocess.Popen(
        [sys.executable, "-c", code, str(job)], stdout=subprocess.PIPE, text=True
    )
    assert run.stdout is not None
    said = [float(run.stdout.readline())]
    time.sleep(chance.uniform(0, 0.6))
    run.send_signal(signal.SIGKILL)
    said += [float(line) for line in run.stdout.read().split()]
    run.wait()
    run.stdout.close()
    k = len(said)
    next_one = (k + 1) % 30 + (k + 1) / 1e4
    kept = read_job(job).keepouts[0].gap
    return int(kept is None or min(abs(kept - said[-1]), abs(kept - next_one)) > 1e-9)


if __name__ == "__main__":
    main()
