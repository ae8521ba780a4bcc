"""The pile as the page lists it, and the sizing of photos that have no answer yet."""

import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from motiffit.errors import FileError, Refusal
from motiffit.garments import garment_name, heed_table
from motiffit.ledger import Ledger
from motiffit.lock import Busy
from motiffit.pile import out_of_date, size_pile, write_overview
from motiffit.renamed import follow_renamed
from motiffit.review.asked import Asked, size_words
from motiffit.review.table import Missing
from motiffit.review.words import least_words, outcome_of, page_text, waits_for_side
from motiffit.review.workshop import Workshop
from motiffit.show.pile_table import row_counted_as
from motiffit.show.rows import Row, by_garment, make_row, needing_an_eye, size_counts
from motiffit.show.table import headline
from motiffit.task import Done, Task, give_up
from motiffit.working import size_and_draw

__all__ = ["Tidings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hands:
    """A `motiffit.runners.Runner` that works in the workshop."""

    workshop: Workshop
    is_urgent: bool

    def run(self, tasks: Iterable[Task]) -> Iterator[Done]:
        """Yield what came of each task, in order."""
        for task in tasks:
            future = self.workshop.give(size_and_draw, task, is_urgent=self.is_urgent)
            try:
                yield future.result()
            except Refusal as refusal:
                yield give_up(task, refusal.code, **refusal.details)


class Tidings:
    """What is known of all photos of a pile.

    Parameters
    ----------
    ledger
        The pile.
    asked
        What is asked of all photos.
    workshop
        Where photos are sized.
    """

    def __init__(self, ledger: Ledger, asked: Asked, workshop: Workshop) -> None:
        self._ledger = ledger
        self._asked = asked
        self._workshop = workshop
        self._rows: dict[str, tuple[tuple[int, ...], Row]] = {}
        self._catching_up = threading.Lock()
        self._trouble = ""
        self._seen: tuple[str, ...] = ()

    def size(self, photo: str) -> None:
        """Size one photo now and keep the record.

        Raises
        ------
        FileError
            If it cannot be kept.
        """
        hands = _Hands(workshop=self._workshop, is_urgent=True)
        for _ in size_pile(self._ledger, self._asked.settings, hands, [photo]):
            pass

    def catch_up(self) -> None:
        """Size what is new or out of date, in a thread of its own; once at a time."""
        photos = self._ledger.photos()
        if photos != self._seen and self._catching_up.acquire(blocking=False):
            self._seen = photos
            threading.Thread(target=self._catch_up, args=(photos,), daemon=True).start()

    def look_again(self) -> None:
        """See to photos whose answer no longer holds, as soon as somebody looks at the pile."""
        self._seen = ()

    def rows(self) -> list[Row]:
        """Return one line for each photo that was sized, photos of one garment together."""
        lines = [row for photo in self._ledger.photos() if (row := self._row(photo)) is not None]
        return [row for group in by_garment(lines) for row in group]

    def write_overview(self) -> None:
        """Write the pile's table and its page, as a run over the pile would."""
        write_overview(self._ledger, self.rows())

    def listing(self) -> dict[str, Any]:
        """Return the pile as the page lists it, JSON-ready."""
        rows = self.rows()
        order = {row.photo: rank for rank, row in enumerate(_queue(rows))}
        known = {row.photo for row in rows}
        return {
            "title": self._ledger.folder.resolve().name,
            "units": self._asked.settings.units,
            "sizes_in_use": size_words(self._asked.settings),
            "photos": [self._tile(row, order[row.photo]) for row in rows],
            "measuring": [photo for photo in self._ledger.photos() if photo not in known],
            "gone": list(self._ledger.gone()),
            "strays": list(self._ledger.strays()),
            "sizes": [
                {"words": size.finished, "cut": size.cut, "sure": size.sized, "open": size.to_check}
                for size in size_counts(rows)
            ],
            "trouble": self._trouble,
        }

    def tile(self, photo: str) -> dict[str, Any]:
        """Return what is shown of one photo.

        Raises
        ------
        Missing
            If it is no longer there.
        """
        for rank, row in enumerate(_queue(self.rows())):
            if row.photo == photo:
                return self._tile(row, rank)
        raise Missing

    def _catch_up(self, photos: tuple[str, ...]) -> None:
        """Size what has no answer that holds."""
        hands = _Hands(workshop=self._workshop, is_urgent=False)
        self.rows()  # reads all records before the first browser asks for them
        try:
            with self._ledger.running():
                follow_renamed(self._ledger)
                heed_table(self._ledger)
                settings = self._asked.settings
                late = out_of_date(self._ledger, settings, photos)
                for _ in size_pile(self._ledger, settings, hands, late):
                    pass
            self._trouble = ""
        except Busy:
            self._seen = ()  # another run sizes them; look again later
        except FileError as error:
            self._trouble = str(error).replace(str(self._ledger.folder), "the folder")
        finally:
            self._catching_up.release()

    def _row(self, photo: str) -> Row | None:
        """Return a photo's line, read anew only when one of its files changed."""
        stamp = self._stamp(photo)
        kept = self._rows.get(photo)
        if kept is not None and kept[0] == stamp:
            return kept[1]
        entry = self._ledger.entry(photo)
        if entry is None:
            return None
        row = make_row(
            entry.sizing,
            garment=entry.said.garment or garment_name(entry.photo),
            is_accepted=entry.is_accepted,
            flags=entry.said.flags,
            note=entry.said.note or "",
            keep=entry.said.keep,
        )
        self._rows[photo] = (stamp, row)
        return row

    def _stamp(self, photo: str) -> tuple[int, ...]:
        """Return what changes when a photo's record or corrections do."""
        key = self._ledger.picture_of(photo).stem
        stamp: list[int] = []
        for part in ("records", "corrections"):
            try:
                state = (self._ledger.home / part / f"{key}.json").stat()
                stamp += [state.st_mtime_ns, state.st_ino]
            except OSError:
                stamp += [0, 0]
        return tuple(stamp)

    def _tile(self, row: Row, rank: int) -> dict[str, Any]:
        """Return what is shown of a photo."""
        window, units = row.sizing.window, row.sizing.settings.units
        least = window.clearance_mm.least() if window and window.clearance_mm else None
        small = self._ledger.picture_of(row.photo, small=True)
        return {
            "key": self._ledger.picture_of(row.photo).stem,
            "photo": row.photo,
            "garment": row.garment,
            "rank": rank,
            "outcome": outcome_of(row.sizing),
            "kind": row_counted_as(row) if row.counts else "left-out",
            "headline": headline(row.sizing),
            "finished": window.finished if window else None,
            "finished_mm": window.finished_mm if window else None,
            "cut": window.cut if window else None,
            "clearance": None if least is None else least_words(least, units),
            "brief": " ".join(map(page_text, row.reasons))
            if row.sizing.outcome == "refused"
            else row.brief_reasons,
            "reasons": [page_text(message) for message in row.reasons],
            "waits_for_side": waits_for_side(row.sizing.messages),
            "flags": list(row.flags),
            "note": row.note,
            "counts": row.counts,
            "is_accepted": row.is_accepted,
            "needs_an_eye": row.needs_an_eye,
            "picture": small.stat().st_mtime_ns if small.is_file() else None,
        }


def _queue(rows: list[Row]) -> list[Row]:
    """Return lines in the order in which a person should look at them."""
    urgent = needing_an_eye(rows)
    first = {row.photo for row in urgent}
    rest = [row for row in rows if row.photo not in first]
    return urgent + sorted(rest, key=lambda row: (row.is_accepted, not row.counts))
