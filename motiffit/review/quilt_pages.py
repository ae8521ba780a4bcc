"""The quilt's addresses, and the comparison of size sets."""

from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from motiffit.ledger import Ledger
from motiffit.review.answers import KEPT, Json, page_of_pile, read_message
from motiffit.review.quilting import QUILT_FILES, Quilting
from motiffit.review.size_choice import SizeSets
from motiffit.review.table import Missing

__all__ = ["QuiltPages"]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuiltPages:
    """The pages of one pile's quilt."""

    ledger: Ledger
    quilting: Quilting
    sizes: SizeSets

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/quilt", self.page),
            Route("/quilt/preview.jpg", self.preview),
            Route("/quilt/file/{name}", self.file),
            Route("/api/quilt", self.look),
            Route("/api/quilt/form", self.fill_in, methods=["POST"]),
            Route("/api/quilt/swap", self.swap, methods=["POST"]),
            Route("/api/quilt/anew", self.lay_out_anew, methods=["POST"]),
            Route("/api/quilt/restore", self.restore, methods=["POST"]),
            Route("/api/sizes", self.compare),
            Route("/api/sizes/use", self.use_sizes, methods=["POST"]),
        ]

    async def page(self, _: Request) -> Response:
        """Show the quilt."""
        return page_of_pile("quilt.html", self.ledger, view="quilt")

    async def look(self, _: Request) -> Response:
        """Return everything that is shown of the quilt."""
        return Json(await run_in_threadpool(self.quilting.look))

    async def preview(self, _: Request) -> Response:
        """Return the quilt's picture."""
        picture = await run_in_threadpool(self.quilting.picture)
        return Response(picture, media_type="image/jpeg", headers=KEPT)

    async def fill_in(self, request: Request) -> Response:
        """Keep the form."""
        form = await read_message(request)
        await run_in_threadpool(self.quilting.fill_in, form)
        return await self.look(request)

    async def swap(self, request: Request) -> Response:
        """Exchange two blocks."""
        words = await read_message(request)
        await run_in_threadpool(self.quilting.swap, words.get("one"), words.get("other"))
        return await self.look(request)

    async def lay_out_anew(self, request: Request) -> Response:
        """Try another layout."""
        await run_in_threadpool(self.quilting.lay_out_anew)
        return await self.look(request)

    async def restore(self, request: Request) -> Response:
        """Bring back a form and where blocks lay."""
        words = await read_message(request)
        await run_in_threadpool(self.quilting.restore, words.get("form"), words.get("places"))
        return await self.look(request)

    async def file(self, request: Request) -> Response:
        """Give one of the plan's files away."""
        name = request.path_params["name"]
        if name not in QUILT_FILES:
            raise Missing
        path = await run_in_threadpool(self.quilting.file, name)
        return FileResponse(path, media_type=QUILT_FILES[name], filename=f"quilt-{name}")

    async def compare(self, request: Request) -> Response:
        """Return how sets of sizes compare, with a set of one's own if one is asked for."""
        own = request.query_params.get("own", "")
        return Json(await run_in_threadpool(self.sizes.compare, own))

    async def use_sizes(self, request: Request) -> Response:
        """Answer the pile anew for another set of sizes."""
        words = await read_message(request)
        return Json(await run_in_threadpool(self.sizes.use, words.get("sizes_mm")))
