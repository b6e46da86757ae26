"""Who may talk to the desk: the browser of the person who started it, and nobody else.

Every request must name the desk's own address, come from its own pages, and carry the secret. The secret is
given once, in the address that the desk prints; the browser keeps it as a cookie and the address forgets it.
"""

from __future__ import annotations

import hmac
import secrets

from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

OPEN = "/open"
READS = ("GET", "HEAD")

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "frame-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'self'"
)
"""Content security policy (CSP level 3) of the desk's own pages."""

PAGE_POLICY = "frame-ancestors 'self'"
"""That of an answer's page, which brings a stricter one of its own."""

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Door:
    """The desk's address, its secret, and the one-use words that stand for the secret in an address."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.hosts = (f"127.0.0.1:{port}", f"localhost:{port}")
        self.secret = secrets.token_urlsafe(32)
        self.cookie = f"graftwright_{port}"
        self._once: set[str] = set()

    def address(self) -> str:
        """A new address that opens the desk once."""
        word = secrets.token_urlsafe(24)
        self._once.add(word)
        return f"http://{self.hosts[0]}{OPEN}?once={word}"

    def opens(self, word: str) -> bool:
        """Whether the word opens the desk; it does so once."""
        if word in self._once:
            self._once.remove(word)
            return True
        return False

    def let_in(self, response: Response) -> None:
        """Give the secret to the browser, as a cookie that no script and no other site sees."""
        response.set_cookie(self.cookie, self.secret, httponly=True, samesite="strict", path="/")

    def knows(self, headers: Headers) -> bool:
        """Whether a request carries the secret."""
        kept = cookie_parser(headers.get("cookie", "")).get(self.cookie, "")
        return hmac.compare_digest(kept.encode(), self.secret.encode())

    def fault(self, method: str, path: str, headers: Headers) -> tuple[int, str] | None:
        """Why a request is refused: status and words; None where it is let in."""
        host = headers.get("host", "")
        if host not in self.hosts or len(headers.getlist("host")) != 1:
            return 421, "this address is not the desk's"
        origin = headers.get("origin")
        if origin is None and method not in READS:
            return 403, "the request does not say which page it comes from"
        if origin is not None and origin != f"http://{host}":
            return 403, "the request comes from another page"
        if path == OPEN and method == "GET":
            return None
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "the request comes from another page"
        if not self.knows(headers):
            return 403, "open the desk by the address that it printed when it was started"
        return None


class Guarded:
    """The desk behind its door: refuses what ``Door.fault`` names, and adds the headers to every answer."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request; other kinds of connection are closed."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                told = {name.lower() for name, _ in message["headers"]}
                more = HEADERS | {"Content-Security-Policy": POLICY}
                message["headers"] = [
                    *message["headers"],
                    *(
                        (name.lower().encode(), value.encode())
                        for name, value in more.items()
                        if name.lower().encode() not in told
                    ),
                ]
            await send(message)

        fault = self.door.fault(scope["method"], scope["path"], Headers(scope=scope))
        if fault is None:
            await self.app(scope, receive, with_headers)
        else:
            status, words = fault
            await PlainTextResponse(f"{words}\n", status)(scope, receive, with_headers)
