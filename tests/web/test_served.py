"""The pages as `soapstone serve --lan` serves them: nothing is to be had by who is not let in."""

import http.client
import os
import re
from urllib.parse import urlsplit

import pytest

from soapstone.web.code import FILE, kept_token
from soapstone.web.guard import COOKIE
from tests.pages.conftest import served
from tests.web.phone import rail


@pytest.fixture(scope="module")
def lan(tmp_path_factory):
    """The folder, and where its pages are served, with the code."""
    folder = tmp_path_factory.mktemp("lan") / "jobs"
    folder.mkdir()
    rail(folder)
    (folder.parent / "secret.txt").write_text("a secret")
    with served(folder, "--lan", "--port", "8990") as url:
        yield folder, urlsplit(url)


def ask(url, path, method="GET", body=None, **headers):
    connection = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
    try:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        connection.putrequest(method, path, skip_accept_encoding=True)
        for name, value in named.items():
            connection.putheader(name, value)
        if body is not None:
            connection.putheader("content-length", str(len(body)))
        connection.endheaders(body)
        answer = connection.getresponse()
        return answer.status, answer.read().decode("utf-8", "replace")
    finally:
        connection.close()


def let_in(url):
    return {"cookie": f"{COOKIE}={url.query.removeprefix('token=')}"}


UPGRADE = {
    "connection": "Upgrade",
    "upgrade": "websocket",
    "sec_websocket_version": "13",
    "sec_websocket_key": "AAAAAAAAAAAAAAAAAAAAAA==",
}
SOCKET = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"

DOORS = [
    ("GET", "/"),
    ("GET", "/phone"),
    ("GET", "/cautions"),
    ("GET", "/job/rail"),
    ("GET", "/job/rail/bender/port%20rail"),
    ("GET", "/bender/screen?job=rail&tube=port%20rail"),
    ("POST", "/bender/say"),
    ("POST", "/bender/begin"),
    ("GET", "/mesh/rail/0"),
    ("GET", "/letters/Barlow-Regular.ttf"),
    ("GET", "/_nicegui/static/nicegui.js"),
    ("POST", "/_nicegui/client/x/upload/1"),
    ("GET", "/_nicegui_ws/socket.io/?EIO=4&transport=polling"),
    ("GET", "/docs"),
    ("GET", "/openapi.json"),
]


def test_without_the_code_every_door_is_shut(lan):
    _, url = lan
    wrong = {"cookie": f"{COOKIE}={'x' * 22}"}
    for method, path in DOORS:
        for headers in ({}, wrong):
            status, told = ask(url, path, method, b"{}" if method == "POST" else None, **headers)
            assert status == 401, path
            assert "rail" not in told
    assert ask(url, SOCKET, **UPGRADE)[0] == 403
    assert ask(url, SOCKET, **UPGRADE, **let_in(url), origin="http://evil.example")[0] == 403


def test_with_the_code_the_pages_are_there_and_nothing_else(lan):
    _, url = lan
    for path in ("/", "/job/rail/bender", "/phone", "/letters/Barlow-Regular.ttf"):
        assert ask(url, path, **let_in(url))[0] == 200, path
    for path in (
        "/letters/../../secret.txt",
        "/letters/%2e%2e/%2e%2e/secret.txt",
        "/letters/..%2f..%2fsecret.txt",
        "/letters//etc/passwd",
        "/letters/%00",
        "/_nicegui/static/..%2f..%2f..%2fsecret.txt",
        "/job/..%2fsecret/bender",
        "/job/%2e%2e",
        "/rail.toml",
        "/phone-code",
        "/log.sqlite",
        "/docs",
        "/openapi.json",
    ):
        status, told = ask(url, path, **let_in(url))
        assert "a secret" not in told, path
        assert "root:" not in told, path
        assert status in (200, 400, 404), path
        assert status != 200 or "cannot be opened" in told, path


def test_other_names_and_other_sites_get_nothing_with_the_code_either(lan):
    _, url = lan
    connection = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
    connection.request("GET", "/", headers={"host": "evil.example", **let_in(url)})
    assert connection.getresponse().status == 421
    connection.close()
    press = {"content_type": "application/json", **let_in(url)}
    assert ask(url, "/bender/say", "POST", b"{}", origin="http://evil.example", **press)[0] == 403
    assert ask(url, "/bender/say", "POST", b"{}", **press)[0] == 422


def test_the_code_in_the_address_is_kept_as_a_cookie_and_shown_again_for_other_phones(lan):
    folder, url = lan
    connection = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
    connection.request("GET", f"/job/rail/bender?{url.query}")
    answer = connection.getresponse()
    answer.read()
    assert answer.status == 303
    assert answer.headers["location"] == "/job/rail/bender"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    connection.close()
    assert "<svg" in ask(url, "/phone", **let_in(url))[1]
    assert kept_token(folder) == url.query.removeprefix("token=")


def test_the_code_stays_the_same_until_a_new_one_is_asked_for(tmp_path):
    first = kept_token(tmp_path)
    assert kept_token(tmp_path) == first
    assert (tmp_path / FILE).stat().st_mode & 0o077 == 0 or os.name == "nt"
    assert kept_token(tmp_path, new=True) != first
    (tmp_path / FILE).write_text("guess")
    assert re.fullmatch(r"[\w-]{22}", kept_token(tmp_path)), "a code easily guessed is not taken"
