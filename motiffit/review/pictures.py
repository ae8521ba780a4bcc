"""The pile's pictures, drawn anew when a square changes and there is time for it."""

from concurrent.futures import Future

from motiffit.files import write_whole
from motiffit.ledger import Ledger
from motiffit.record import Sizing
from motiffit.review.jobs import draw_pictures
from motiffit.review.workshop import Workshop

__all__ = ["Pictures"]


class Pictures:
    """Draws records into photos.

    Parameters
    ----------
    ledger
        The pile.
    workshop
        Where pictures are drawn.
    """

    def __init__(self, ledger: Ledger, workshop: Workshop) -> None:
        self._ledger = ledger
        self._workshop = workshop

    def draw(self, photo: str, sizing: Sizing) -> None:
        """Have a photo's pictures drawn, after all that a person waits for.

        The old ones go at once: were the drawing dropped, they would show a square of another size.
        """
        for small in (False, True):
            self._ledger.picture_of(photo, small=small).unlink(missing_ok=True)
        path = str(self._ledger.path_of(photo).absolute())
        future = self._workshop.give(draw_pictures, path, sizing, is_urgent=False)
        future.add_done_callback(lambda done: self._write(photo, sizing, done))

    def _write(self, photo: str, sizing: Sizing, done: "Future[tuple[bytes, bytes]]") -> None:
        """Write pictures, unless they have been overtaken."""
        if done.cancelled() or done.exception() is not None:
            return
        entry = self._ledger.entry(photo)
        if entry is None or entry.sizing.window != sizing.window:
            return
        for small, content in zip((False, True), done.result(), strict=True):
            write_whole(self._ledger.picture_of(photo, small=small), content)
