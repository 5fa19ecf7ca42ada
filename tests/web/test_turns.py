"""What is asked for on a page happens in the order asked for."""

import asyncio
import threading
from contextlib import nullcontext

from nicegui import core

from soapstone.errors import InputError
from soapstone.web import turns
from soapstone.web.turns import Turns


def taken_all(monkeypatch, acts):
    """Take one act after the other on a page; give what came of each, and what was complained."""
    came, complained = [], []
    monkeypatch.setattr(turns, "complain", lambda why: complained.append(str(why)))

    async def page():
        monkeypatch.setattr(core, "loop", asyncio.get_running_loop())
        page_turns = Turns(nullcontext())
        for act in acts:
            page_turns.take(act, came.append, lambda: came.append(None))
        while len(came) < len(acts):
            await asyncio.sleep(0.001)

    asyncio.run(asyncio.wait_for(page(), 20))
    return came, complained


def test_a_slow_change_is_done_before_the_one_asked_for_after_it(monkeypatch):
    done, second_asked = [], threading.Event()

    def slow():
        second_asked.wait(0.2)
        done.append("first")
        return "first"

    def quick():
        done.append("second")
        second_asked.set()
        return "second"

    came, _ = taken_all(monkeypatch, [slow, quick])
    assert done == came == ["first", "second"]


def test_what_is_refused_is_said_and_what_comes_after_it_is_done(monkeypatch):
    def refuse():
        raise InputError("job.toml: no such bend")

    came, complained = taken_all(monkeypatch, [refuse, lambda: "second"])
    assert came == [None, "second"]
    assert complained == ["job.toml: no such bend"]
