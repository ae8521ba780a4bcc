"""The pages' addresses: what each answers, and what it says when it cannot."""

from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from motiffit.ledger import Ledger
from motiffit.review.answers import (
    HANDLERS,
    KEPT,
    Json,
    page_of,
    page_of_pile,
    read_message,
    shown_name,
)
from motiffit.review.desk import Desk
from motiffit.review.guard import Gate
from motiffit.review.jobs import look_at, show_plain
from motiffit.review.table import Missing
from motiffit.review.tidings import Tidings
from motiffit.review.uploads import (
    MOST_PHOTOS,
    put_into_pile,
    receive_file,
    safe_photo_name,
)
from motiffit.review.workshop import Workshop

__all__ = ["Pages", "make_app"]

_MOST_NOTE = 2000  # letters


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """The pages of one pile.

    Attributes
    ----------
    is_shared
        Whether others on the network can reach the page.
    new_link
        Makes a link that lets another browser in, as the page shows it.
    cookie_name
        Of the cookie that tells a browser that was let in.
    """

    ledger: Ledger
    desk: Desk
    tidings: Tidings
    workshop: Workshop
    gate: Gate
    cookie_name: str
    is_shared: bool
    new_link: Callable[[], Mapping[str, Any]]

    async def enter(self, request: Request) -> Response:
        """Let a browser in with a one-time link; a look at the headers alone does not use it up."""
        if request.method != "GET":
            return PlainTextResponse("", 405)
        known = self.gate.knows(request.cookies.get(self.cookie_name, ""))
        found = self.gate.let_in(request.path_params["word"])
        if found is None and not known:
            return PlainTextResponse(
                "This link was used before, or belongs to an earlier start of the program. "
                "Use the one that 'motiffit review' printed last, or ask the page for a new link.",
                403,
            )
        cookie, page = found or ("", "/")
        answer = page_of("enter.html", page=page)
        if cookie:
            answer.set_cookie(self.cookie_name, cookie, httponly=True, samesite="strict")
        return answer

    async def pile(self, _: Request) -> Response:
        """Show the pile."""
        return page_of_pile("pile.html", self.ledger, view="pile")

    async def garment(self, request: Request) -> Response:
        """Show one garment."""
        photo = await self._photo(request)
        return page_of_pile("garment.html", self.ledger, view="garment", photo=shown_name(photo))

    async def phone(self, _: Request) -> Response:
        """Show the camera's page."""
        return page_of_pile("phone.html", self.ledger, view="phone", is_shared=self.is_shared)

    async def listing(self, _: Request) -> Response:
        """Return the pile's photos, and see to those that have no answer yet."""
        await run_in_threadpool(self.tidings.catch_up)
        return Json(await run_in_threadpool(self.tidings.listing))

    async def look(self, request: Request) -> Response:
        """Return everything that is shown of a garment."""
        return Json(await run_in_threadpool(self.desk.look, await self._photo(request)))

    async def revision(self, request: Request) -> Response:
        """Return how often a garment was spoken of, for a page to see others' words."""
        photo = await self._photo(request)
        said = await run_in_threadpool(self.ledger.said, photo)
        return Json({"revision": said.revision})

    async def try_out(self, request: Request) -> Response:
        """Return what would come of a change."""
        changes = _object(await read_message(request), "changes")
        return Json(await run_in_threadpool(self.desk.try_out, await self._photo(request), changes))

    async def say(self, request: Request) -> Response:
        """Keep a change, and return what it took the place of and how the garment stands now."""
        words, photo = await read_message(request), await self._photo(request)
        accepts, seen = words.get("accepts"), words.get("revision", 0)
        if accepts not in (True, False, None) or not isinstance(seen, int):
            raise ValueError("not a message of the page")

        def keep() -> dict[str, Any]:
            told = self.desk.say(photo, _object(words, "changes"), seen=seen, accepts=accepts)
            look = self.desk.look(photo)
            return {**look, "before": told.before, "meanwhile": told.meanwhile}

        return Json(await run_in_threadpool(keep))

    async def flat_picture(self, request: Request) -> Response:
        """Return a garment's flat picture."""
        picture = await run_in_threadpool(self.desk.flat_picture, await self._photo(request))
        return Response(picture, media_type="image/jpeg", headers=KEPT)

    async def plain_picture(self, request: Request) -> Response:
        """Return a photo as it was taken, for one that could not be measured."""
        path = str(self.ledger.path_of(await self._photo(request)).absolute())
        picture = await run_in_threadpool(self.workshop.give(show_plain, path).result)
        return Response(picture, media_type="image/jpeg", headers=KEPT)

    async def thumbnail(self, request: Request) -> Response:
        """Return a photo with its square drawn in, small."""
        path = self.ledger.picture_of(await self._photo(request), small=True)
        if not path.is_file():
            raise Missing
        return FileResponse(path, media_type="image/jpeg", headers=KEPT)

    async def add_photo(self, request: Request) -> Response:
        """Take a photo into the pile and size it."""
        name = safe_photo_name(request.query_params.get("name", ""))
        if len(await run_in_threadpool(self.ledger.photos)) >= MOST_PHOTOS:
            raise HTTPException(409, f"This pile has {MOST_PHOTOS} photos; no more are taken.")
        part = await receive_file(request.stream(), self.ledger.home)
        try:
            await run_in_threadpool(self.workshop.give(look_at, str(part)).result)
            photo = await run_in_threadpool(put_into_pile, part, name, self.ledger)
        finally:
            part.unlink(missing_ok=True)
        await run_in_threadpool(self.tidings.size, photo)
        return Json(await run_in_threadpool(self.tidings.tile, photo))

    async def link(self, _: Request) -> Response:
        """Return a link for another browser."""
        return Json(dict(self.new_link()))

    async def _photo(self, request: Request) -> str:
        """Return the photo that an address names."""
        key = request.path_params["key"]
        known = self.desk.known(key)  # while one drags, every hop to a thread counts
        if known is not None:
            return known
        return await run_in_threadpool(self.desk.photo_of, key)


def make_app(pages: Pages, more: Sequence[Route]) -> Starlette:
    """Return the pages as an application, to be put behind a `motiffit.review.guard.Guard`."""

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(pages.workshop.close)

    garment = "/api/garments/{key}"
    routes = [
        Route("/enter/{word}", pages.enter),
        Route("/", pages.pile),
        Route("/garment/{key}", pages.garment),
        Route("/phone", pages.phone),
        Route("/picture/{key}/flat.jpg", pages.flat_picture),
        Route("/picture/{key}/plain.jpg", pages.plain_picture),
        Route("/picture/{key}/small.jpg", pages.thumbnail),
        Route("/api/pile", pages.listing),
        Route("/api/photos", pages.add_photo, methods=["POST"]),
        Route("/api/links", pages.link, methods=["POST"]),
        Route(garment, pages.look),
        Route(f"{garment}/revision", pages.revision),
        Route(f"{garment}/try", pages.try_out, methods=["POST"]),
        Route(f"{garment}/say", pages.say, methods=["POST"]),
        *more,
        Mount("/static", StaticFiles(packages=[("motiffit.review", "static")])),
    ]
    return Starlette(routes=routes, lifespan=lifespan, exception_handlers=HANDLERS)


def _object(words: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    """Return a part of a message that is an object; notes no longer than a page."""
    part = words.get(name, {})
    if not isinstance(part, dict):
        raise ValueError(f"{name} must be an object")
    restored = part.get("restore")
    values = [*part.values(), *(restored.values() if isinstance(restored, dict) else ())]
    if any(isinstance(value, str) and len(value) > _MOST_NOTE for value in values):
        raise ValueError(f"text may have {_MOST_NOTE} letters")
    return part
