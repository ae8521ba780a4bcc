"""The work behind the page: a person's words on one photo, and what follows from them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from motiffit.corrections import CORRECTABLE, Corrections, answer_digest
from motiffit.errors import FileError, Refusal
from motiffit.ledger import Ledger
from motiffit.messages import MACHINE_REFUSALS
from motiffit.record import Sizing, make_message, refused_sizing
from motiffit.review.asked import Asked
from motiffit.review.jobs import Opened
from motiffit.review.pictures import Pictures
from motiffit.review.sheet import frame, read_changes, said_words, sheet
from motiffit.review.table import Missing, Table
from motiffit.review.words import page_text, waits_for_side
from motiffit.sizing import size_survey

__all__ = ["Desk", "Told"]

_TRIES = 8  # somebody else corrects the same photo at the same moment: once or twice at most


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What came of a word: fields that it changed as they were before, and others' news."""

    before: dict[str, Any]
    meanwhile: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    """The answer to a person's words on a photo; ``opened`` is None where it was not measured."""

    opened: Opened | None
    sizing: Sizing
    photo_hash: str

    @property
    def digest(self) -> str | None:
        """What is kept when the answer is accepted; None when there is nothing to accept."""
        return None if self.opened is None else answer_digest(self.sizing, self.photo_hash)


class Desk:
    """One pile, photo by photo.

    Parameters
    ----------
    ledger
        The pile.
    asked
        What is asked of all photos.
    table
        Where photos lie that were surveyed.
    pictures
        Where squares are drawn into photos.
    """

    def __init__(self, ledger: Ledger, asked: Asked, table: Table, pictures: Pictures) -> None:
        self._ledger = ledger
        self._asked = asked
        self._table = table
        self._pictures = pictures
        self._photos: dict[str, str] = {}

    def photo_of(self, key: str) -> str:
        """Return the photo that a key of `key_of` stands for; keys are looked up, never opened.

        Raises
        ------
        Missing
            If no photo of the pile has it.
        """
        if self.known(key) is None:
            self._photos = {self.key_of(photo): photo for photo in self._ledger.photos()}
        if key not in self._photos:
            raise Missing
        return self._photos[key]

    def known(self, key: str) -> str | None:
        """Return the photo of a key that was looked up before, unless it may lead elsewhere now."""
        photo = self._photos.get(key)
        if photo is None or self._ledger.path_of(photo).is_symlink():
            return None
        return photo

    def key_of(self, photo: str) -> str:
        """Return a photo's name as addresses hold it."""
        return self._ledger.picture_of(photo).stem

    def flat_picture(self, photo: str) -> bytes:
        """Return a garment's flat picture, a JPEG file.

        Raises
        ------
        Missing
            If the photo cannot be measured.
        """
        try:
            return self._table.open(photo, self._ledger.said(photo)).flat.jpeg
        except Refusal as refusal:
            raise Missing from refusal

    def look(self, photo: str) -> dict[str, Any]:
        """Return everything that the page shows of a photo."""
        said = self._ledger.said(photo)
        answer = self._answer(photo, said)
        entry = self._ledger.entry(photo)
        if entry is None or entry.sizing.settings != answer.sizing.settings:
            self._keep(photo)
        opened, sizing = answer.opened, answer.sizing
        return {
            "photo": photo,
            "key": self.key_of(photo),
            "said": said_words(said, self._asked.settings.units),
            "units": self._asked.settings.units,
            "version": self._table.stamp(photo),
            "frame": opened and frame(opened),
            "sheet": opened and self._sheet(opened, said, sizing),
            "reason": "" if opened else page_text(sizing.messages[0]),
            "waits_for_side": waits_for_side(sizing.messages),
            "is_accepted": said.accepted is not None and said.accepted == answer.digest,
        }

    def try_out(self, photo: str, changes: Mapping[str, Any]) -> dict[str, Any]:
        """Return what would come of a word, without keeping it.

        Raises
        ------
        ValueError
            For a word that cannot be.
        """
        before = self._ledger.said(photo)
        said = self._with(before, self._read(photo, before, changes))
        answer = self._answer(photo, said)
        if answer.opened is None:
            raise ValueError("this photo could not be measured")
        return self._sheet(answer.opened, said, answer.sizing)

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
        before = self._ledger.said(photo)
        told = self._read(photo, before, changes)
        if accepts is not None:
            answer = self._answer(photo, self._with(before, told))
            told["accepted"] = answer.digest if accepts else None
        after = self._ledger.tell(photo, told, by="review")
        self._keep(photo)
        changed = [n for n in CORRECTABLE if getattr(before, n) != getattr(after, n)]
        return Told(
            before={name: getattr(before, name) for name in changed},
            meanwhile=before.changed_since(seen),
        )

    def _read(self, photo: str, said: Corrections, changes: Mapping[str, Any]) -> dict[str, Any]:
        """Read the page's words, and check that a photo can be asked for such an answer."""
        opened = None
        if changes.keys() & {"box", "place"}:
            try:
                opened = self._table.open(photo, said)
            except Refusal as refusal:
                raise ValueError("this photo could not be measured") from refusal
        told = read_changes(changes, opened, self._asked.settings.units)
        self._with(said, told).heeded(self._asked.settings)
        return told

    def _with(self, said: Corrections, told: Mapping[str, Any]) -> Corrections:
        """Return the words with more said, for a try."""
        return said.told(told, at="", by="") if told else said

    def _answer(self, photo: str, said: Corrections) -> _Answer:
        """Answer a person's words on a photo."""
        try:
            opened = self._table.open(photo, said)
        except Refusal as refusal:
            sizing = self._refused(photo, said, refusal)
            photo_hash = self._ledger.hash_of(photo) or ""
            return _Answer(opened=None, sizing=sizing, photo_hash=photo_hash)
        sizing = self._sized(opened, said)
        return _Answer(opened=opened, sizing=sizing, photo_hash=opened.survey.photo_hash)

    def _sized(self, opened: Opened, said: Corrections) -> Sizing:
        """Size a photo on the table with a person's words."""
        try:
            return size_survey(opened.survey, said.heeded(self._asked.settings))
        except Refusal as refusal:
            return self._refused(opened.survey.photo, said, refusal)

    def _refused(self, photo: str, said: Corrections, refusal: Refusal) -> Sizing:
        """Return the record of a photo that cannot be measured, or not as the person said."""
        message = make_message(refusal.code, **refusal.details)
        return refused_sizing(photo, said.heeded(self._asked.settings), message)

    def _sheet(self, opened: Opened, said: Corrections, sizing: Sizing) -> dict[str, Any]:
        """Return what changes while a person drags."""
        free = sizing
        if said.size_mm is not None:
            free = self._sized(opened, replace(said, size_mm=None))
        return sheet(opened, sizing, free)

    def _keep(self, photo: str) -> None:
        """Write the record that follows from what was said by now, and draw its pictures."""
        for _ in range(_TRIES):
            answer = self._answer(photo, self._ledger.said(photo))
            sizing = replace(answer.sizing, photo=photo)
            old = self._ledger.entry(photo)
            if answer.opened is None and old is not None:
                if old.sizing.settings == sizing.settings:
                    return  # nothing was measured then, and nothing is now
                if sizing.says(MACHINE_REFUSALS):
                    return  # the old answer stays, out of date, until the machine can measure
            if self._ledger.write(
                photo, sizing, photo_hash=answer.photo_hash, settings=self._asked.settings
            ):
                if old is None or old.sizing.window != sizing.window:
                    self._pictures.draw(photo, sizing)
                return
        raise FileError("somebody else corrects this photo at the same time: try again")
