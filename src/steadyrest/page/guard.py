"""Who may ask? The browser of the user on this machine, and nobody else: neither another machine nor another page in the same browser.

An address without the token is answered as if there were nothing. The Host of a request has to be this machine's own, so that no name of
another site can be made to point here; what changes anything has to come from a page of this one (Origin, RFC 6454; Fetch Metadata, W3C).
The policy of content is that of W3C, Content Security Policy Level 3.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from urllib.parse import quote

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from steadyrest.errors import InputError

MOST_BYTES = 256 * 2**20
"""Of one request: a file dropped on the page, which is longer than any other."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; form-action 'self'; "
    "frame-src 'self'; frame-ancestors 'self'; base-uri 'none'"
)
HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": POLICY,
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "SAMEORIGIN",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""Of every answer, unless it has its own."""
SAFE = ("GET", "HEAD")


class Guard:
    """Lets through to `app` what the user's own browser asks for; `app` sees addresses without the token, which is their `root_path`."""

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self._app, self._token = app, token
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request, or the start and end of the server."""
        if scope["type"] == "lifespan":
            return await self._app(scope, receive, send)
        if scope["type"] != "http":
            raise ValueError(f"the page speaks http only, not {scope['type']}")
        headers = Headers(scope=scope)
        why = self._refusal(scope, headers)
        if why:
            status, wrong = why
            return await _dressed(PlainTextResponse(wrong, status), scope, receive, send)
        root = f"/{quote(self._token)}"
        inner = {**scope, "path": scope["path"], "root_path": root}
        return await _dressed(self._app, inner, _limited(receive), send)

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """Status and sentence for a request that is not let through."""
        if headers.get("host") not in self._hosts or len(headers.getlist("host")) != 1:
            return 421, "This page is for this machine only: use the address that was printed when it was started."
        first = scope["path"].lstrip("/").partition("/")[0]
        if not secrets.compare_digest(first.encode(), self._token.encode()):
            return 404, "There is nothing here: use the whole address that was printed when the page was started."
        origin, site = headers.get("origin"), headers.get("sec-fetch-site", "same-origin")
        own = {f"http://{host}" for host in self._hosts}
        if (origin is not None and origin not in own) or site not in ("same-origin", "none"):
            return 403, "Another page asked for this; only this page itself may."
        if scope["method"] not in SAFE and origin is None:
            return 403, "What changes anything has to come from this page itself."
        length = headers.get("content-length", "0")
        if not length.isascii() or not length.isdigit() or int(length) > MOST_BYTES:
            return 413, f"That is more than {MOST_BYTES // 2**20} MB."
        return None


def _limited(receive: Receive) -> Receive:
    """The same, ended with InputError where it goes on for longer than any request may, whatever length it gave."""
    seen = 0

    async def limited() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MOST_BYTES:
            raise InputError(f"that is more than {MOST_BYTES // 2**20} MB", cure="drop fewer or smaller files")
        return message

    return limited


async def _dressed(app: ASGIApp, scope: Scope, receive: Receive, send: Send) -> None:
    """The answer of `app`, with the headers that keep it on this machine."""

    async def dressed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    await app(scope, receive, dressed)
