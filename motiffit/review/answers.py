"""What goes out and comes in over the page's addresses: JSON, filled templates, plain refusals."""

import hashlib
import json
import os
from collections.abc import Awaitable, Callable
from typing import Any

from jinja2 import Environment, PackageLoader
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response

from motiffit.errors import FileError, Refusal, UsageError
from motiffit.ledger import Ledger
from motiffit.measure.photo import LIMIT_MEGABYTES
from motiffit.record import make_message
from motiffit.review.table import Missing
from motiffit.review.uploads import TooLarge
from motiffit.review.words import page_text

__all__ = ["HANDLERS", "KEPT", "Json", "page_of", "page_of_pile", "read_message", "shown_name"]

_MARK_LETTERS = 12  # 48 bits: enough for the piles of one computer
_MOST_BYTES = 256 * 1024  # of one message from the page; the places of a large quilt have 40 KB

KEPT = {"Cache-Control": "private, max-age=3600"}
"""Pictures carry what they show in their address, so they may be kept for a while."""

_TEMPLATES = Environment(loader=PackageLoader("motiffit.review"), autoescape=True)


class Json(Response):
    """JSON in plain ASCII: names that are not proper Unicode pass too."""

    media_type = "application/json"

    def render(self, content: Any) -> bytes:
        """Encode."""
        return json.dumps(content, allow_nan=False).encode("ascii")


def page_of(template: str, **values: Any) -> HTMLResponse:
    """Fill a template."""
    return HTMLResponse(_TEMPLATES.get_template(template).render(values))


def page_of_pile(template: str, ledger: Ledger, **values: Any) -> HTMLResponse:
    """Fill the template of one of a pile's pages; ``pile`` tells piles apart in a browser."""
    pile = hashlib.sha256(os.fsencode(ledger.home.resolve())).hexdigest()[:_MARK_LETTERS]
    title = shown_name(ledger.folder.resolve().name)
    return page_of(template, title=title, pile=pile, **values)


def shown_name(name: str) -> str:
    """Return a name that can be encoded, whatever is in it."""
    return name.encode("utf-8", "replace").decode("utf-8", "replace")


async def read_message(request: Request) -> dict[str, Any]:
    """Read a message of the page.

    Raises
    ------
    ValueError
        If it is none, or too long.
    """
    if request.headers.get("content-type", "").partition(";")[0] != "application/json":
        raise ValueError("the page speaks JSON")
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > _MOST_BYTES:
            raise ValueError("too long a message")
    try:
        message = json.loads(body)
    except RecursionError as error:
        raise ValueError("not a message of the page") from error
    if not isinstance(message, dict):
        raise ValueError("not a message of the page")
    return message


def _trouble(request: Request, status: int, words: str) -> Response:
    """Say what went wrong, to the page or to the person."""
    if request.url.path.startswith("/api/"):
        return Json({"error": words}, status)
    return PlainTextResponse(words, status)


async def _missing(request: Request, _: Exception) -> Response:
    return _trouble(request, 404, "There is no such photo in this pile.")


async def _wrong(request: Request, error: Exception) -> Response:
    return _trouble(request, 400, str(error))


async def _too_large(request: Request, _: Exception) -> Response:
    return _trouble(request, 413, f"Photos of up to {LIMIT_MEGABYTES:.0f} MB are taken.")


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refusal)
    return _trouble(request, 415, page_text(make_message(error.code, **error.details)))


async def _no_file(request: Request, _: Exception) -> Response:
    words = "It could not be read or written. Is the disk full, or the folder protected?"
    return _trouble(request, 507, words)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return _trouble(request, error.status_code, error.detail)


HANDLERS: dict[Any, Callable[[Request, Exception], Awaitable[Response]]] = {
    Missing: _missing,
    ValueError: _wrong,
    UsageError: _wrong,
    TooLarge: _too_large,
    Refusal: _refused,
    FileError: _no_file,
    HTTPException: _http,
}
"""What is said of each error: never a path, never a line of the program."""
