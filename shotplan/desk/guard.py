"""Who may ask: the page this program opened, and nobody else.

The token is part of every address, not a cookie: cookies of 127.0.0.1 go to every port there. The
host must be the one that was bound (a name that somebody turned to 127.0.0.1 is not), the origin
this one, and what changes something must say its origin.
"""

from __future__ import annotations

import hmac
from collections.abc import Mapping

from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 8_000_000
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode("ascii")),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


class Guard:
    """Lets through what comes from the page at `host` (`127.0.0.1:4711`) with the `token`."""

    def __init__(self, app: ASGIApp, host: str, token: str) -> None:
        """`app` sees its addresses without the token."""
        self.app, self.host, self.token = app, host, token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on with the headers every answer has."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = {k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}
        begins, _, rest = scope["path"].lstrip("/").partition("/")
        said = self._refused(scope["method"], headers, begins)
        if said:
            await _answer(send, *said)
            return
        body = await _body(receive)
        if body is None:
            await _answer(send, 413, "too much at once")
            return
        inner = {**scope, "path": f"/{rest}", "raw_path": f"/{rest}".encode()}

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *HEADERS]}
            await send(message)

        await self.app(inner, _again(body, receive), sent)

    def _refused(
        self, method: str, headers: Mapping[str, str], token: str
    ) -> tuple[int, str] | None:
        origin, own = headers.get("origin"), f"http://{self.host}"
        if headers.get("host") != self.host:
            return 421, "another host"
        if not hmac.compare_digest(token.encode("utf-8"), self.token.encode("ascii")):
            return 404, "nothing here"
        if method not in ("GET", "POST"):
            return 405, "not so"
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403, "another page"
        if origin is not None and origin != own:
            return 403, "another page"
        if method == "POST":
            return self._refused_post(headers, origin)
        return None

    @staticmethod
    def _refused_post(headers: Mapping[str, str], origin: str | None) -> tuple[int, str] | None:
        if origin is None:
            return 403, "no page"
        if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            return 415, "only JSON"
        size = headers.get("content-length", "0")
        if not size.isdecimal() or int(size) > LARGEST_BODY:
            return 413, "too much at once"
        return None


async def _body(receive: Receive) -> bytes | None:
    """All of it; None where it is longer than may be, whatever it said of itself."""
    held: bytes = b""
    while True:
        message = await receive()
        held += message.get("body", b"")
        if len(held) > LARGEST_BODY:
            return None
        if not message.get("more_body", False):
            return held


def _again(body: bytes, receive: Receive) -> Receive:
    """What was read, once more; then what comes after it."""
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again


async def _answer(send: Send, status: int, text: str) -> None:
    body = text.encode("utf-8")
    headers = [(b"content-type", b"text/plain; charset=utf-8"),
               (b"content-length", str(len(body)).encode("ascii")), *HEADERS]  # fmt: skip
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
