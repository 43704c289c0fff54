"""What every request must pass, and what every answer carries; plain ASGI, around the whole app.

A request must be addressed to this host (a foreign page may have its own name point here), be of bounded
size, and come from a known session.  One that changes anything must come from a page of ours.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import parse_qs

from starlette.exceptions import HTTPException

from waitwright.errors import place_of
from waitwright.page.door import Door

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY = 64 * 1024
MOST_QUERY = 16 * 1024
SAFE = {"GET", "HEAD", "OPTIONS"}
DEBUG = "WAITWRIGHT_DEBUG"

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)

HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}
"""On every answer; one that may be kept says so itself."""

_PAGE = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8">'
    '<meta name="viewport" content="width=device-width, initial-scale=1"><title>{title}</title>'
    '<link rel="stylesheet" href="/paper.css"><link rel="stylesheet" href="/bench.css"></head>'
    '<body class="plain"><main id="main"><h1>{title}</h1><p>{text}</p>{more}</main></body></html>'
)
_KEY_FORM = (
    '<form action="/" method="get"><p><label for="key">Key</label> <input id="key" name="key" '
    'autocomplete="off" autocapitalize="off" spellcheck="false" required></p>'
    '<p><button class="big">Come in</button></p></form>'
)
_HOME = '<p><a class="button" href="/">To the bench</a></p>'


class _Refused(Exception):
    """The request ends here."""

    def __init__(self, status: int, title: str, text: str, more: str = _HOME) -> None:
        self.status, self.title, self.text, self.more = status, title, text, more
        super().__init__(title)


@dataclass(frozen=True, slots=True)
class Guard:
    """Around *app*.

    Attributes:
        hosts: What the Host header may say, with the port.
        cookie: Name of the cookie; it tells the port, as cookies do not.
        open_paths: Paths that need no session: stylesheets.
    """

    app: ASGIApp
    door: Door
    hosts: frozenset[str]
    cookie: str
    open_paths: frozenset[str] = field(default_factory=frozenset)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        reply = _Reply(send)
        try:
            await self._pass(scope, receive, reply)
        except _Refused as refused:
            await reply.page(refused.status, refused.title, refused.text, refused.more, scope["method"])
        except Exception as error:  # the last resort: nobody is shown a traceback
            if DEBUG in os.environ:
                raise
            sys.stderr.write(f"waitwright: {scope['method']} {scope['path']}: {place_of(error)}\n")
            if not reply.started:
                text = "Nothing was recorded. The terminal says where it happened; please report that."
                await reply.page(500, "A defect of waitwright", text, _HOME, scope["method"])

    async def _pass(self, scope: Scope, receive: Receive, reply: _Reply) -> None:
        headers = _headers(scope)
        self._addressed(headers)
        if len(scope["query_string"]) > MOST_QUERY:
            raise _Refused(414, "Address too long", f"At most {MOST_QUERY} signs are read.")
        self._own_page(headers, safe=scope["method"] in SAFE)
        self._session(scope, headers, reply)
        if reply.moved:
            await reply.see("/")
            return
        await self.app(scope, _bounded(headers, receive), reply)

    def _addressed(self, headers: Mapping[str, list[str]]) -> None:
        named = headers.get("host", [])
        if len(named) != 1 or named[0].lower() not in self.hosts:
            raise _Refused(
                421, "Not this address", "This bench answers at the address that its terminal shows.", ""
            )

    def _own_page(self, headers: Mapping[str, list[str]], *, safe: bool) -> None:
        """Refuse what a page of another origin sends, or loads into itself; it may only link here."""
        site = headers.get("sec-fetch-site", ["none"])[0]
        followed = safe and headers.get("sec-fetch-mode", [""])[0] == "navigate"
        allowed = {f"http://{host}" for host in self.hosts}
        foreign = any(origin.lower() not in allowed for origin in headers.get("origin", []))
        if foreign or (site not in {"same-origin", "none"} and not followed):
            raise _Refused(
                403, "Sent from another page", "Nothing was recorded: only forms of this bench are taken."
            )

    def _session(self, scope: Scope, headers: Mapping[str, list[str]], reply: _Reply) -> None:
        session = _cookie(headers, self.cookie)
        if self.door.knows(session):
            scope["session"] = session
            return
        given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
        if self.door.locked and scope["path"] == "/" and scope["method"] == "GET" and given:
            if not self.door.redeem(given):
                text = (
                    "It is wrong, or somebody has used it: each key opens once. The terminal shows the next."
                )
                raise _Refused(403, "This key does not open", text, _KEY_FORM)
            reply.moved = True
        elif self.door.locked and scope["path"] not in self.open_paths:
            text = "This bench asks for the key that its terminal shows. Each key opens for one device."
            raise _Refused(403, "This bench is locked", text, _KEY_FORM)
        scope["session"] = self.door.session()
        reply.cookie = f"{self.cookie}={scope['session']}; Path=/; HttpOnly; SameSite=Strict"


class _Reply:
    """Sends, with our headers on the answer."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self.started = False
        self.moved = False
        self.cookie = ""

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            message = {**message, "headers": [*message.get("headers", ()), *self._own(message)]}
        await self._send(message)

    def _own(self, message: Message) -> list[tuple[bytes, bytes]]:
        given = {name.lower() for name, _ in message.get("headers", ())}
        own = [(k.encode(), v.encode()) for k, v in HEADERS.items() if k.encode() not in given]
        return own + ([(b"set-cookie", self.cookie.encode())] if self.cookie else [])

    async def page(self, status: int, title: str, text: str, more: str, method: str) -> None:
        """A small page of our own."""
        body = _PAGE.format(title=escape(title), text=escape(text), more=more).encode()
        headers = [(b"content-type", b"text/html; charset=utf-8"), (b"content-length", b"%d" % len(body))]
        headers.append((b"connection", b"close"))  # a body that was refused is not read to its end
        await self({"type": "http.response.start", "status": status, "headers": headers})
        await self._send({"type": "http.response.body", "body": b"" if method == "HEAD" else body})

    async def see(self, path: str) -> None:
        """Send the browser on to *path*."""
        headers = [(b"location", path.encode()), (b"content-length", b"0")]
        await self({"type": "http.response.start", "status": 303, "headers": headers})
        await self._send({"type": "http.response.body", "body": b""})


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def _cookie(headers: Mapping[str, list[str]], name: str) -> str:
    try:
        jar = SimpleCookie("; ".join(headers.get("cookie", [])))
    except CookieError:
        return ""
    return jar[name].value if name in jar else ""


def _bounded(headers: Mapping[str, list[str]], receive: Receive) -> Receive:
    """*receive*, which ends with a refusal where the body grows too large, declared or not."""
    too_large = f"A form may hold {MOST_BODY // 1024} KB. Nothing was recorded."
    declared = headers.get("content-length", ["0"])[0]
    if not declared.isdecimal() or int(declared[:12]) > MOST_BODY:
        raise _Refused(413, "Too much", too_large)
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > MOST_BODY:
            raise HTTPException(413, too_large, {"connection": "close"})  # the app is at work by now
        return message

    return bounded
