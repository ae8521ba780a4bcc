"""Who may talk to the page: one browser that was let in, at one address, from its own pages.

The page runs on the person's own computer, where any web page open in the same browser, and any
program on the same network, can try to reach it. Every request passes these checks, in this order:

* its Host is one of the addresses served, so that no foreign name leads here (DNS rebinding);
* it comes from a page of ours or from no page at all (Origin, Sec-Fetch-Site);
* it carries the cookie that a one-time link handed out.
"""

import hmac
import secrets
import threading
from collections import OrderedDict
from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["CONTENT_POLICY", "Gate", "Guard"]

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "connect-src 'self'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types 'none'",
    )
)

_HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}

_MOST_LINKS, _MOST_BROWSERS = 20, 50
_READING = {"GET", "HEAD"}


class Gate:
    """One-time links, and the browsers that they let in."""

    def __init__(self) -> None:
        self._links: OrderedDict[str, str] = OrderedDict()
        self._browsers: OrderedDict[str, None] = OrderedDict()
        self._lock = threading.Lock()

    def new_link(self, page: str = "/") -> str:
        """Return a word that lets one browser in to a page, once."""
        word = secrets.token_urlsafe(24)
        with self._lock:
            self._links[word] = page
            while len(self._links) > _MOST_LINKS:
                self._links.popitem(last=False)
        return word

    def let_in(self, word: str) -> tuple[str, str] | None:
        """Take a link's word back and return its browser's cookie and page; None for no such."""
        with self._lock:
            found = next((link for link in self._links if _is_same(link, word)), None)
            if found is None:
                return None
            page = self._links.pop(found)
            cookie = secrets.token_urlsafe(24)
            self._browsers[cookie] = None
            while len(self._browsers) > _MOST_BROWSERS:
                self._browsers.popitem(last=False)
        return cookie, page

    def knows(self, cookie: str) -> bool:
        """Tell whether a cookie was handed out here."""
        with self._lock:
            return any(_is_same(known, cookie) for known in self._browsers)


class Guard:
    """Checks every request before the pages see it, and adds headers to every answer.

    Parameters
    ----------
    app
        The pages.
    gate
        Who was let in.
    hosts
        Addresses served, as the Host header names them.
    cookie_name
        Of the cookie; ports of one computer share their cookies, so it differs by port.
    open_paths
        Beginnings of paths that need no cookie.
    """

    def __init__(
        self,
        app: ASGIApp,
        gate: Gate,
        *,
        hosts: Iterable[str],
        cookie_name: str,
        open_paths: tuple[str, ...],
    ) -> None:
        self._app = app
        self._gate = gate
        self._hosts = frozenset(hosts)
        self._cookie_name = cookie_name
        self._open_paths = open_paths

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Turn a request away, or pass it on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # nothing here speaks over web sockets
            raise RuntimeError("only http is served")

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(_HEADERS)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        refusal = self._refusal(scope, Headers(scope=scope))
        await (refusal or self._app)(scope, receive, send_guarded)

    def _refusal(self, scope: Scope, headers: Headers) -> PlainTextResponse | None:
        """Return why a request is turned away; None when it may pass."""
        host = headers.get("host", "")
        if host not in self._hosts or len(headers.getlist("host")) != 1:
            return PlainTextResponse("This page is not served under that name.", 421)
        if not self._is_own(scope["method"], host, headers):
            return PlainTextResponse("This came from another site and was turned away.", 403)
        if scope["path"].startswith(self._open_paths):
            return None
        if not self._gate.knows(_cookie(headers, self._cookie_name)):
            return PlainTextResponse(
                "This browser was not let in. Open the link that 'motiffit review' printed; each "
                "link works once. For another browser, ask the page for a new link.",
                401,
            )
        return None

    def _is_own(self, method: str, host: str, headers: Headers) -> bool:
        """Tell whether a request comes from our own pages, or was typed by the person."""
        site = headers.get("sec-fetch-site")
        origin = headers.get("origin")
        if origin is not None and origin != f"http://{host}":
            return False
        if method not in _READING:
            return origin is not None and site in (None, "same-origin")
        # a link from elsewhere may lead to a page, but nothing else may be fetched from there
        is_page = headers.get("sec-fetch-mode") == "navigate"
        return site in (None, "same-origin", "none") or is_page


def _is_same(one: str, other: str) -> bool:
    """Compare in constant time."""
    return hmac.compare_digest(one.encode(), other.encode("utf-8", "replace"))


def _cookie(headers: Headers, name: str) -> str:
    """Return a cookie's value; empty without it."""
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return found.value if found else ""
