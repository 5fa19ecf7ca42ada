"""A tube made on a phone: what is pressed is in the log, whoever else presses, looks or reloads."""

import json
import sqlite3
import threading
from contextlib import closing
from urllib.parse import quote

import pytest
from fastapi import FastAPI

from soapstone.log.store import LOG_VARIABLE, open_log
from soapstone.web.guard import Guard
from soapstone.web.pages import bender, cautions, phone
from soapstone.web.shop import Shop
from tests.web.phone import Client, Phone, rail

HERE = "http://localhost"


@pytest.fixture
def job(tmp_path, monkeypatch):
    monkeypatch.setenv(LOG_VARIABLE, str(tmp_path / "log.sqlite"))
    return rail(tmp_path)


def client_of(folder, token="", url=""):
    front = FastAPI()
    front.include_router(bender.router(Shop(folder)))
    front.include_router(cautions.router())
    front.include_router(phone.router(url))
    return Client(Guard(front, ("localhost",), token))


@pytest.fixture
def shop(job):
    return client_of(job.parent)


def asker(shop):
    def ask(method, path, body):
        headers = {"content-type": "application/json"} if body else {}
        answer = shop.request(method, path, content=body, headers=headers)
        return answer.status_code, answer.text

    return ask


@pytest.fixture
def ask(shop):
    return asker(shop)


def log_of(job):
    return open_log(job.with_name("log.sqlite"))


def test_a_whole_tube_is_made_and_what_it_taught_is_told(job, ask):
    made = Phone(ask).begin(lot="L7").until("measure").measured(-3).until("Finished")
    assert "Lot L7 springs back" in made.html
    assert "mark 1 to" in made.html, "what to tape stays in sight"
    with log_of(job) as log:
        assert len(log.trials()) == 2
        assert log.open_run(str(job), "port rail") is None
    assert Phone(ask).title == "Finished", "also when the page is opened anew"


def test_looking_begins_nothing_and_reloading_changes_nothing(job, ask):
    ask("GET", "/job/rail/bender", None)
    Phone(ask)
    with log_of(job) as log:
        assert log.open_run(str(job), "port rail") is None
    first = Phone(ask).begin().done().done()
    again = Phone(ask)
    assert (again.at["run"], again.at["number"]) == (first.at["run"], first.at["number"])
    assert "Take it up again: Bend" in ask("GET", "/job/rail/bender", None)[1]


def test_two_phones_do_not_fight(job, ask):
    one = Phone(ask).begin()
    other = Phone(ask)
    one.done()
    assert other.at["stamp"] != one.at["stamp"]
    other.done()
    assert "already" in other.said
    assert other.title == one.title
    assert other.at["number"] == one.at["number"]
    with log_of(job) as log:
        assert len(log.events(one.at["run"])) == 1


def test_of_presses_at_the_same_moment_one_counts(job, shop):
    phones = [Phone(asker(client_of(job.parent))) for _ in range(4)]
    phones[0].begin()
    phones = [Phone(one.ask) for one in phones]
    threads = [threading.Thread(target=one.done) for one in phones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(one.said == "" for one in phones) == [False, False, False, True]
    assert {one.at["number"] for one in phones} == {"2"}
    with log_of(job) as log:
        assert len(log.events(phones[0].at["run"])) == 1


def test_a_press_meant_for_a_run_given_up_does_nothing_to_the_new_one(job, ask):
    sleeping = Phone(ask).begin().done()
    awake = Phone(ask)
    awake.begin(given_up=awake.at["run"]).done()
    assert awake.at["number"] == sleeping.at["number"]
    sleeping.done()
    assert "anew" in sleeping.said
    assert sleeping.at["run"] == awake.at["run"]
    sleeping.begin(given_up="a run of long ago")
    assert sleeping.at["run"] == awake.at["run"], "only the run that was shown is given up"
    with log_of(job) as log:
        assert len(log.events(awake.at["run"])) == 1


def test_a_bend_gone_too_far_is_rescued_or_kept(ask):
    over = Phone(ask).begin().until("measure").measured(1.5)
    assert "gone too far" in over.title
    assert "The rescue changes" in over.html
    assert "bend 1:" in over.html or "bend 2:" in over.html
    rescued = over.rescue()
    assert rescued.title.startswith("Mark out")
    kept = rescued.undo()
    assert "gone too far" in kept.title
    assert "set up" in kept.done().title


def test_looking_back_shows_what_was_said_and_undoes_nothing(job, ask):
    at = Phone(ask).begin().until("measure").measured(-3)
    steps = int(at.at["number"]) - 1
    query = "/bender/screen?job=rail&tube=port%20rail&back="
    shown = [json.loads(ask("GET", f"{query}{back}", None)[1]) for back in range(1, steps + 1)]
    assert "Measured:" in shown[0]["html"]
    assert "Cut the stock" in shown[-1]["html"]
    assert all('data-say="' not in one["html"] for one in shown), "nothing can be confirmed there"
    with log_of(job) as log:
        assert len(log.events(at.at["run"])) == steps
    far = json.loads(ask("GET", f"{query}99999", None)[1])
    assert far["html"] == shown[-1]["html"]


def test_each_hand_says_which_it_is_and_rolls_its_own_way(ask):
    ways = {}
    for name, told in (("port rail", "its mirror image stbd rail"), ("stbd rail", "mirror image")):
        hand = Phone(ask, name).begin().until("set up").done().until("set up")
        assert told in hand.html
        ways[name] = "anticlockwise" in hand.html
    assert set(ways.values()) == {True, False}


def test_a_wrong_angle_is_told_and_not_kept(job, ask):
    at = Phone(ask).begin().until("measure")
    body = {"job": "rail", "tube": "port rail", "run": at.at["run"], "kind": "angle"}
    for angle in ("", "nan", "-1", "360", "1e400", "forty", "4" * 41, "<b>"):
        body |= {"number": int(at.at["number"]), "angle": angle}
        status, told = ask("POST", "/bender/say", json.dumps(body))
        assert status == 422 or json.loads(told)["said"], angle
    with log_of(job) as log:
        assert len(log.events(at.at["run"])) == int(at.at["number"]) - 1


def test_a_plan_that_has_changed_since_is_told_and_the_tube_can_be_made_anew(job, ask):
    at = Phone(ask).begin().done()
    job.write_text(job.read_text().replace("[900, 200, 900]", "[950, 200, 900]"))
    at.done()
    assert at.said
    assert "plan has changed" in at.html
    run = at.at["run"]
    assert "Cut the stock" in at.begin(given_up=run).title
    assert at.at["run"] != run


NAMES = [
    "../secret",
    "..",
    "%2e%2e/secret",
    "a\0b",
    "x" * 3000,
    "Bögen—弯管",
    '"><script>alert(1)</script>',
    "C:\\secret",
    "nul",
    "' OR 1=1 --",
]


def test_hostile_names_find_nothing_and_do_nothing(job, ask, shop):
    (job.parent.parent / "secret.toml").write_text(job.read_text())
    Phone(ask)
    for name in NAMES:
        refused(shop, name)
    with closing(sqlite3.connect(job.with_name("log.sqlite"))) as log:
        assert log.execute("SELECT count(*) FROM runs").fetchone() == (0,)


def refused(shop, name):
    paths = [f"/job/{quote(name, safe='')}/bender", f"/job/rail/bender/{quote(name, safe='')}"]
    for path in (*paths, paths[0] + "/port%20rail"):
        answer = shop.get(path, follow_redirects=False)
        assert answer.status_code in (307, 404), path
        assert "<script>alert" not in answer.text
        assert "Traceback" not in answer.text
    for job_name, tube in ((name, "port rail"), ("rail", name))[: 1 + (name in NAMES[::3])]:
        body = {"job": job_name, "tube": tube, "run": "", "number": 1}
        for path, what in (("/bender/begin", {}), ("/bender/say", {"kind": "done"})):
            answer = shop.post(path, json={**body, **what})
            assert answer.status_code == 422 or "html" not in answer.json()


def test_a_tube_of_any_name_has_its_page(job, shop):
    names = ["a/b", "50% <b>\"o'", "Bögen q?x=1#y"]
    text = job.read_text()
    for name in names:
        job.write_text(text.replace('"port rail"', json.dumps(name)))
        cards = shop.get("/job/rail/bender").text
        link = f"/job/rail/bender/{quote(name, safe='')}"
        assert f'href="{link}"' in cards
        answer = shop.get(link)
        assert answer.status_code == 200, name
        assert "<b>" not in answer.text.replace("<b>o'", "")


def test_only_the_page_itself_can_press(job, shop):
    at = Phone(asker(shop)).begin()
    body = json.dumps(
        {"job": "rail", "tube": "port rail", "run": at.at["run"], "number": 1, "kind": "done"}
    )
    form = {"content-type": "text/plain"}
    assert shop.post("/bender/say", content=body, headers=form).status_code in (415, 422)
    other = {"content-type": "application/json", "origin": "http://evil.example"}
    assert shop.post("/bender/say", content=body, headers=other).status_code == 403
    assert shop.get("/bender/say").status_code == 405
    extra = json.dumps({**json.loads(body), "more": "x"})
    assert asker(shop)("POST", "/bender/say", extra)[0] == 422
    with log_of(job) as log:
        assert log.events(at.at["run"]) == []


def test_cautions_are_a_press_away(shop):
    assert 'href="/cautions"' in shop.get("/job/rail/bender").text
    told = shop.get("/cautions").text
    for word in ("pinch", "licensed engineer", "local ones rule"):
        assert word in told


def test_the_phones_code_is_shown_to_those_let_in_alone(job):
    token = "t" * 22
    lan = client_of(job.parent, token, f"{HERE}/?token={token}")
    assert lan.get("/phone").status_code == 401
    lan.get(f"/?token={token}", follow_redirects=False)
    assert "<svg" in lan.get("/phone").text
    assert "lan" in client_of(job.parent).get("/phone").text


def test_a_job_that_is_there_but_cannot_be_read_is_not_said_to_be_missing(job, ask):
    job.write_text("this is no job")
    status, page = ask("GET", "/job/rail/bender", None)
    assert status == 422
    assert "cannot be shown" in page
    assert "rail.toml" in page
    status, page = ask("GET", "/job/nothing/bender", None)
    assert status == 404
    assert "Not to be found" in page
