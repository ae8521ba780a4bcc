"""The work behind the page: photos on the table, a person's words, the pile's lines."""

import threading
from collections import OrderedDict
from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass, replace
from typing import Any

from motiffit.corrections import CORRECTABLE, Corrections, answer_digest
from motiffit.errors import FileError, Refusal
from motiffit.files import write_whole
from motiffit.ledger import Entry, Ledger
from motiffit.record import Sizing, make_message, refused_sizing
from motiffit.review.jobs import Opened, draw_pictures, open_photo
from motiffit.review.sheet import frame, read_changes, said_words, sheet
from motiffit.review.words import page_text
from motiffit.review.workshop import Workshop
from motiffit.settings import Settings
from motiffit.sizing import size_survey

__all__ = ["Desk", "Missing", "Told"]

_MOST_OPEN = 48
"""Photos kept on the table, each about 2 MB."""

_TRIES = 8  # somebody else corrects the same photo at the same moment: once or twice at most


class Missing(Exception):
    """There is no such photo."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What came of a word: fields that it changed as they were before, and others' news."""

    before: dict[str, Any]
    meanwhile: tuple[str, ...]


class Desk:
    """One pile on the table.

    Parameters
    ----------
    ledger
        The pile.
    settings
        What is asked of all photos.
    workshop
        Where pictures are decoded.
    """

    def __init__(self, ledger: Ledger, settings: Settings, workshop: Workshop) -> None:
        self.ledger = ledger
        self.settings = settings
        self.workshop = workshop
        self._photos: dict[str, str] = {}
        self._open: OrderedDict[tuple[str, str], Future[Opened]] = OrderedDict()
        self._lock = threading.Lock()

    def photo_of(self, key: str) -> str:
        """Return the photo that a key of `key_of` stands for; keys are looked up, never opened.

        Raises
        ------
        Missing
            If no photo of the pile has it.
        """
        if key not in self._photos:
            self._photos = {self.key_of(photo): photo for photo in self.ledger.photos()}
        if key not in self._photos:
            raise Missing
        return self._photos[key]

    def known(self, key: str) -> str | None:
        """Return the photo of a key that was looked up before."""
        return self._photos.get(key)

    def key_of(self, photo: str) -> str:
        """Return a photo's name as addresses hold it."""
        return self.ledger.picture_of(photo).stem

    def open(self, photo: str) -> Future[Opened]:
        """Have a photo surveyed, unless it lies on the table already."""
        at = (photo, self._stamp(photo))
        with self._lock:
            future = self._open.get(at)
            if future is None or (future.done() and future.exception() is not None):
                path = str(self.ledger.path_of(photo).absolute())
                future = self.workshop.give(open_photo, path, self.settings)
                self._open[at] = future
            self._open.move_to_end(at)
            while len(self._open) > _MOST_OPEN:
                self._open.popitem(last=False)
        return future

    def opened(self, photo: str) -> Opened | None:
        """Return a photo on the table; None when it cannot be measured."""
        try:
            return self.open(photo).result()
        except Refusal:
            return None

    def look(self, photo: str) -> dict[str, Any]:
        """Return everything that the page shows of a photo."""
        said = self.ledger.said(photo)
        try:
            opened = self.open(photo).result()
        except Refusal as refusal:
            return self._refused_look(photo, said, refusal)
        sizing = self._answer(opened, said)
        entry = self.ledger.entry(photo)
        if entry is None or entry.sizing.settings != sizing.settings:
            self._keep(photo, opened)
        return {
            **self._head(photo, said),
            "frame": frame(opened),
            "sheet": self._sheet(opened, said, sizing),
            "is_accepted": said.accepted == answer_digest(sizing, opened.survey.photo_hash),
        }

    def try_out(self, photo: str, changes: Mapping[str, Any]) -> dict[str, Any]:
        """Return what would come of a word, without keeping it.

        Raises
        ------
        ValueError
            For a word that cannot be.
        """
        opened = self.opened(photo)
        said = self._with(self.ledger.said(photo), read_changes(changes, opened))
        if opened is None:
            raise ValueError("this photo could not be measured")
        return self._sheet(opened, said, self._answer(opened, said))

    def say(
        self, photo: str, changes: Mapping[str, Any], *, seen: int, accepts: bool | None
    ) -> Told:
        """Keep a person's word and what follows from it.

        Parameters
        ----------
        photo
            Its name.
        changes
            What the page sends.
        seen
            Revision of the corrections that the page shows.
        accepts
            Whether the person accepts the answer that results; None to leave that as it is.

        Raises
        ------
        ValueError
            For a word that cannot be.
        FileError
            If it cannot be written.
        """
        opened = self.opened(photo)
        told = read_changes(changes, opened)
        before = self.ledger.said(photo)
        if accepts is not None:
            told["accepted"] = self._digest(opened, self._with(before, told)) if accepts else None
        after = self.ledger.tell(photo, told, by="review")
        if opened is not None:
            self._keep(photo, opened)
        changed = [n for n in CORRECTABLE if getattr(before, n) != getattr(after, n)]
        return Told(
            before={name: getattr(before, name) for name in changed},
            meanwhile=before.changed_since(seen),
        )

    def _head(self, photo: str, said: Corrections) -> dict[str, Any]:
        """Return name, key and the person's words."""
        return {
            "photo": photo,
            "key": self.key_of(photo),
            "said": said_words(said),
            "units": self.settings.units,
            "version": self._stamp(photo),
        }

    def _refused_look(self, photo: str, said: Corrections, refusal: Refusal) -> dict[str, Any]:
        """Return what is shown of a photo that cannot be measured."""
        message = make_message(refusal.code, **refusal.details)
        return {
            **self._head(photo, said),
            "frame": None,
            "sheet": None,
            "is_accepted": False,
            "reason": page_text(message),
        }

    def _with(self, said: Corrections, told: Mapping[str, Any]) -> Corrections:
        """Return the words with more said, for a try."""
        return said.told(told, at="", by="") if told else said

    def _answer(self, opened: Opened, said: Corrections) -> Sizing:
        """Size a photo on the table with a person's words."""
        settings = said.heeded(self.settings)
        try:
            return size_survey(opened.survey, settings)
        except Refusal as refusal:
            message = make_message(refusal.code, **refusal.details)
            return refused_sizing(opened.survey.photo, settings, message)

    def _sheet(self, opened: Opened, said: Corrections, sizing: Sizing) -> dict[str, Any]:
        """Return what changes while a person drags."""
        free = sizing
        if said.size_mm is not None:
            free = self._answer(opened, replace(said, size_mm=None))
        return sheet(opened, sizing, free)

    def _digest(self, opened: Opened | None, said: Corrections) -> str | None:
        """Return the digest of the answer to a person's words."""
        if opened is None:
            return None
        return answer_digest(self._answer(opened, said), opened.survey.photo_hash)

    def _keep(self, photo: str, opened: Opened) -> None:
        """Write the record that follows from what was said by now, and draw its pictures."""
        for _ in range(_TRIES):
            sizing = replace(self._answer(opened, self.ledger.said(photo)), photo=photo)
            old = self.ledger.entry(photo)
            if self.ledger.write(
                photo, sizing, photo_hash=opened.survey.photo_hash, settings=self.settings
            ):
                if old is None or old.sizing.window != sizing.window:
                    self._draw(photo, sizing)
                return
        raise FileError("somebody else corrects this photo at the same time: try again")

    def _draw(self, photo: str, sizing: Sizing) -> None:
        """Have a photo's pictures drawn anew, when there is time for it."""
        path = str(self.ledger.path_of(photo).absolute())
        future = self.workshop.give(draw_pictures, path, sizing, is_urgent=False)
        future.add_done_callback(lambda done: self._write_pictures(photo, sizing, done))

    def _write_pictures(
        self, photo: str, sizing: Sizing, done: "Future[tuple[bytes, bytes]]"
    ) -> None:
        """Write pictures, unless they have been overtaken."""
        if done.cancelled() or done.exception() is not None:
            return
        entry = self.ledger.entry(photo)
        if entry is None or entry.sizing.window != sizing.window:
            return
        for small, content in zip((False, True), done.result(), strict=True):
            write_whole(self.ledger.picture_of(photo, small=small), content)

    def _stamp(self, photo: str) -> str:
        """Return what changes when a photo's file does.

        Raises
        ------
        Missing
            If it is no longer there.
        """
        try:
            state = self.ledger.path_of(photo).stat()
        except OSError as error:
            raise Missing from error
        return f"{state.st_mtime_ns}-{state.st_size}"


def entry_settings(entry: Entry) -> Settings | None:
    """Return what was asked of all photos, as far as one record tells; None where it does not."""
    said, settings = entry.said, entry.sizing.settings
    if said.size_mm is not None or said.heeded(settings) != settings:
        return None
    return replace(settings, outline_px=(), near_px=None, pick=None, no_motif=False, place=None)
