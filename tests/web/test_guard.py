"""Who may come in to the pages."""

import asyncio

import pytest

from soapstone.web.guard import COOKIE, LARGEST, Guard, new_token


async def inside(scope, receive, send):
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"in"})


def ask(guard, path="/", method="GET", query=b"", kind="http", **headers):
    sent = []

    async def send(message):
        sent.append(message)

    async def receive():
        return {"type": "http.request", "body": b""}

    rows = [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()]
    scope = {"type": kind, "method": method, "path": path, "query_string": query, "headers": rows}
    asyncio.run(guard(scope, receive, send))
    return sent[0]


HOST = "localhost:8760"


def guard(token=""):
    return Guard(inside, ("localhost", "127.0.0.1", "::1"), token)


@pytest.mark.parametrize("host", [HOST, "127.0.0.1", "[::1]:8760", "LOCALHOST"])
def test_this_machine_comes_in(host):
    assert ask(guard(), host=host)["status"] == 200


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "", "10.0.0.1:8760"])
def test_other_names_for_this_machine_get_nothing(host):
    assert ask(guard(), host=host)["status"] == 421


def test_another_site_may_not_send_anything():
    assert ask(guard(), method="POST", host=HOST, origin="http://evil.example")["status"] == 403
    assert ask(guard(), method="POST", host=HOST, origin=f"http://{HOST}")["status"] == 200
    socket = ask(guard(), kind="websocket", host=HOST, origin="http://evil.example")
    assert socket["type"] == "websocket.close"


def test_too_much_at_once_is_refused():
    size = str(LARGEST + 1)
    assert ask(guard(), method="POST", host=HOST, content_length=size)["status"] == 413
    assert ask(guard(), method="POST", host=HOST, content_length="x")["status"] == 413


def test_over_the_network_the_code_is_asked_for_once_and_kept_by_the_browser():
    token = new_token()
    assert ask(guard(token), host=HOST)["status"] == 401
    assert ask(guard(token), host=HOST, query=b"token=wrong")["status"] == 401
    first = ask(guard(token), path="/job/a", host=HOST, query=b"token=" + token.encode() + b"&x=1")
    assert first["status"] == 303
    headers = dict(first["headers"])
    assert headers[b"location"] == b"/job/a?x=1", "the code does not stay in the address"
    assert b"HttpOnly" in headers[b"set-cookie"]
    assert ask(guard(token), host=HOST, cookie=f"{COOKIE}={token}")["status"] == 200
    assert ask(guard(token), host=HOST, cookie=f"{COOKIE}={token}x")["status"] == 401
    assert ask(guard(token), kind="websocket", host=HOST)["type"] == "websocket.close"


def test_no_way_back_leads_to_another_site():
    token = new_token()
    for path in ("//evil.example/x", "/\\evil.example"):
        sent = ask(guard(token), path=path, host=HOST, query=b"token=" + token.encode())
        assert (
            dict(sent["headers"])[b"location"].startswith(b"/evil")
            or b"evil" in dict(sent["headers"])[b"location"]
        )
        assert not dict(sent["headers"])[b"location"].startswith((b"//", b"/%5C"))
