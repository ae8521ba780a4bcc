"""The photos on the table: surveyed once, kept while there is room."""

import threading
from collections import OrderedDict
from concurrent.futures import Future
from dataclasses import replace

from motiffit.corrections import Corrections
from motiffit.ledger import Ledger
from motiffit.review.asked import Asked
from motiffit.review.jobs import Opened, open_photo
from motiffit.review.workshop import Workshop
from motiffit.settings import Settings
from motiffit.sizing import size_survey

__all__ = ["Missing", "Table"]

_MOST_OPEN = 48
"""Photos kept on the table, each about 2 MB."""


class Missing(Exception):
    """There is no such photo."""


class Table:
    """Photos that were surveyed lately.

    Parameters
    ----------
    ledger
        The pile.
    asked
        What is asked of all photos.
    workshop
        Where pictures are decoded.
    """

    def __init__(self, ledger: Ledger, asked: Asked, workshop: Workshop) -> None:
        self._ledger = ledger
        self._asked = asked
        self._workshop = workshop
        self._open: OrderedDict[tuple[str, str, float | None], Future[Opened]] = OrderedDict()
        self._lock = threading.Lock()

    def open(self, photo: str, said: Corrections) -> Opened:
        """Return a photo, surveyed with the square's side that a person gave, if any.

        Raises
        ------
        Refusal
            If it cannot be measured.
        Missing
            If it is no longer there.
        """
        settings = self._settings(said)
        opened = self._future(photo, settings).result()
        if opened.own.settings != settings:  # sizes were changed since: the survey still holds
            opened = replace(opened, own=size_survey(opened.survey, settings))
        return opened

    def stamp(self, photo: str) -> str:
        """Return what changes when a photo's file does.

        Raises
        ------
        Missing
            If it is no longer there.
        """
        try:
            state = self._ledger.path_of(photo).stat()
        except OSError as error:
            raise Missing from error
        return f"{state.st_mtime_ns}-{state.st_size}"

    def _settings(self, said: Corrections) -> Settings:
        """Return the settings with which a photo is surveyed and sized without further words."""
        settings = self._asked.settings
        return settings if said.side_mm is None else replace(settings, side_mm=said.side_mm)

    def _future(self, photo: str, settings: Settings) -> Future[Opened]:
        """Have a photo surveyed, unless it lies on the table already."""
        at = (photo, self.stamp(photo), settings.side_mm)
        with self._lock:
            future = self._open.get(at)
            if future is None or (future.done() and future.exception() is not None):
                path = str(self._ledger.path_of(photo).absolute())
                future = self._workshop.give(open_photo, path, settings)
                self._open[at] = future
            self._open.move_to_end(at)
            while len(self._open) > _MOST_OPEN:
                self._open.popitem(last=False)
        return future
