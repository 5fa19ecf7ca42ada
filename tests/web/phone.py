"""A phone at the bender without a screen: it asks for pages and presses what stands on them."""

import asyncio
import json
import re
from importlib.resources import files
from pathlib import Path

import httpx

RAIL = """
format = 1
name = "Rail"
units = "mm"
bench = "bench.toml"

[[tube]]
name = "port rail"
tubing = "{tubing}"
die = "{die}"
points = [[0, 0, 0], [0, 0, 600], [400, 200, 900], [900, 200, 900]]

[[tube]]
name = "stbd rail"
tubing = "{tubing}"
die = "{die}"
mirror = {{ of = "port rail", across = "xz" }}
"""


def rail(folder: Path) -> Path:
    """Put a small job of two hands into a folder, with the demo's bench before its trial bends."""
    bench = (files("soapstone.demo") / "bench.toml").read_text("utf-8")
    folder.joinpath("bench.toml").write_text(
        re.sub(r"(?s)\[\[trial\]\]\n.*?(?=\n\[|\Z)", "", bench)
    )
    job = folder / "rail.toml"
    job.write_text(RAIL.format(tubing="316 38.1x1.65", die="38 on 115"))
    return job


class Client:
    """Ask an application without a network, keeping cookies as a browser does."""

    def __init__(self, app, base="http://localhost"):
        self.transport, self.base = httpx.ASGITransport(app=app, raise_app_exceptions=False), base
        self.cookies = httpx.Cookies()

    def request(self, method, path, **what):
        async def asked():
            where = {"base_url": self.base, "cookies": self.cookies, "timeout": 60}
            async with httpx.AsyncClient(transport=self.transport, **where) as client:
                answer = await client.request(method, path, **what)
                self.cookies.update(client.cookies)
                return answer

        return asyncio.run(asked())

    def get(self, path, **what):
        return self.request("GET", path, **what)

    def post(self, path, **what):
        return self.request("POST", path, **what)


def shown_on(page: str) -> dict[str, str]:
    """Read which run and step a page shows."""
    screen = re.search(r'<div class="bender" id="screen"([^>]*)>', page)
    assert screen, page
    return dict(re.findall(r'data-(\w+)="([^"]*)"', screen[1]))


class Phone:
    """One phone on one tube; `ask(method, path, body)` gives status and text."""

    def __init__(self, ask, tube="port rail", job="rail"):
        self.ask, self.job, self.tube = ask, job, tube
        status, page = ask("GET", f"/job/{job}/bender/{tube.replace(' ', '%20')}", None)
        assert status == 200, page
        self.at, self.html, self.said = shown_on(page), page, ""

    def post(self, path, **what):
        body = {
            "job": self.job,
            "tube": self.tube,
            "run": self.at["run"],
            "number": int(self.at["number"]),
            **what,
        }
        status, answer = self.ask("POST", path, json.dumps(body))
        assert status == 200, answer
        told = json.loads(answer)
        self.said = told.get("said", "")
        if "html" in told:
            self.html = told["html"]
            self.at = {key: str(value) for key, value in told.items() if key != "html"}
        return self

    def begin(self, **what):
        return self.post("/bender/begin", **what)

    def done(self):
        return self.post("/bender/say", kind="done")

    def undo(self):
        return self.post("/bender/say", kind="undo")

    def rescue(self):
        return self.post("/bender/say", kind="rescue")

    def measured(self, off=0.0):
        return self.post("/bender/say", kind="angle", angle=f"{self.wanted + off:.1f}")

    @property
    def measuring(self):
        return 'id="angle"' in self.html

    @property
    def wanted(self):
        return float(re.search(r'data-wanted="([\d.]+)"', self.html)[1])

    @property
    def title(self):
        found = re.search(r"<h2>(.*?)</h2>", self.html)
        return found[1] if found else ""

    def go_on(self):
        """Do the present step as planned."""
        return self.measured() if self.measuring else self.done()

    def until(self, title):
        for _ in range(60):
            if title in self.title:
                return self
            self.go_on()
        raise AssertionError(f"{title} never came; last: {self.title}")
