"""Who may come in: the door of the pages, before anything behind it is reached.

Pages listen on this machine alone, and answer only to names that mean this machine: a page of some
other site that is made to point here by its name gets nothing (DNS rebinding). Over the shop's own
network a token is asked for once and then kept by the browser.
"""

import hmac
import secrets
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any, TypeAlias
from urllib.parse import parse_qs, quote, urlencode, urlsplit

Scope: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send: TypeAlias = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App: TypeAlias = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "soapstone"
LARGEST = 80_000_000
"""Bytes that may be sent to a page at once: the scan of a large boat."""

HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
)


def new_token() -> str:
    """Make a token that nobody can guess, short enough for a small QR code."""
    return secrets.token_urlsafe(16)


class Guard:
    """An ASGI application in front of another one.

    `hosts` are the names under which the pages may be asked for, without port. With a `token`
    every request needs it, as `?token=` once and as a cookie from then on; without one nothing of
    the kind is asked.
    """

    def __init__(self, app: App, hosts: Iterable[str], token: str = "") -> None:
        self.app = app
        self.hosts = {host.lower() for host in hosts}
        self.token = token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it with why not."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = {key.lower(): value.decode("latin-1") for key, value in scope["headers"]}
        refusal = self._refusal(scope, headers)
        if refusal:
            await _refuse(scope, send, *refusal)
        elif scope["type"] == "http" and self._token_given(scope):
            await _let_in(scope, send, self.token)
        else:
            await self.app(scope, _counted(receive), _with_headers(send))

    def _refusal(self, scope: Scope, headers: dict[bytes, str]) -> tuple[int, str] | None:
        if _host(headers.get(b"host", "")) not in self.hosts:
            return 421, "these pages are not to be had under that name"
        origin = headers.get(b"origin", "")
        changes = scope["type"] == "websocket" or scope.get("method") not in ("GET", "HEAD")
        if origin and changes and not _same(origin, headers.get(b"host", "")):
            return 403, "another site may not send anything here"
        if scope["type"] == "http" and not _small(headers.get(b"content-length", "0")):
            return 413, f"at most {LARGEST // 1_000_000} MB can be sent at once"
        if self.token and not self._known(headers) and not self._token_given(scope):
            return 401, "open the page by the code that soapstone serve prints"
        return None

    def _known(self, headers: dict[bytes, str]) -> bool:
        try:
            cookie = SimpleCookie(headers.get(b"cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return cookie is not None and _equal(cookie.value, self.token)

    def _token_given(self, scope: Scope) -> bool:
        if not self.token:
            return False
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [""])
        return _equal(given[0], self.token)


def _equal(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), token.encode())


def _host(value: str) -> str:
    """Give a Host header's name without its port."""
    if value.startswith("["):
        return value.partition("]")[0].lstrip("[").lower()
    return value.rpartition(":")[0].lower() if ":" in value else value.lower()


def _same(origin: str, host: str) -> bool:
    try:
        return urlsplit(origin).netloc.lower() == host.lower()
    except ValueError:
        return False


def _small(length: str) -> bool:
    return length.isascii() and length.isdigit() and int(length) <= LARGEST


def _counted(receive: Receive) -> Receive:
    """Stop reading a body that is larger than it said."""
    seen = 0

    async def inner() -> MutableMapping[str, Any]:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b"")) if message["type"] == "http.request" else 0
        if seen > LARGEST:
            return {"type": "http.disconnect"}
        return message

    return inner


def _with_headers(send: Send) -> Send:
    async def inner(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", ()), *HEADERS]}
        await send(message)

    return inner


async def _refuse(scope: Scope, send: Send, status: int, why: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": why})
        return
    body = f"{why[:1].upper()}{why[1:]}.\n".encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


async def _let_in(scope: Scope, send: Send, token: str) -> None:
    """Keep the token in a cookie and take it out of the address."""
    query = parse_qs(scope.get("query_string", b"").decode("latin-1"), keep_blank_values=True)
    query.pop("token", None)
    path = quote("/" + scope.get("path", "/").lstrip("/\\"))
    where = path + (f"?{urlencode(query, doseq=True)}" if query else "")
    cookie = f"{COOKIE}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000"
    headers = [
        (b"location", where.encode("ascii")),
        (b"set-cookie", cookie.encode()),
        *HEADERS,
    ]
    await send({"type": "http.response.start", "status": 303, "headers": headers})
    await send({"type": "http.response.body", "body": b""})
