"""The walk over a pile: which photos are out of date, sizing them, and what came of it all."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from motiffit.errors import FileError
from motiffit.files import write_whole
from motiffit.garments import TABLE_NAME, garment_name
from motiffit.ledger import Entry, Ledger, program_version
from motiffit.record import Sizing
from motiffit.runners import Runner
from motiffit.settings import Settings
from motiffit.show.rows import Row, by_garment, make_row
from motiffit.task import Done, Task

__all__ = [
    "Sized",
    "out_of_date",
    "pile_rows",
    "pile_settings",
    "size_pile",
    "write_overview",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """A photo that was just sized.

    Attributes
    ----------
    photo
        Its name.
    sizing
        The record.
    is_kept
        Whether it was written: not when the photo vanished before it could be read.
    """

    photo: str
    sizing: Sizing
    is_kept: bool


def out_of_date(ledger: Ledger, settings: Settings, photos: Iterable[str]) -> list[str]:
    """Return those photos for which no record holds: new, changed, corrected, or asked anew."""
    return [photo for photo in photos if not _is_current(ledger, settings, photo)]


def size_pile(
    ledger: Ledger, settings: Settings, runner: Runner, photos: Iterable[str]
) -> Iterator[Sized]:
    """Size photos of a pile, keep each record as soon as there is one, and tell of it.

    A photo that a person corrects while it is in hand is sized once more, with the correction.

    Parameters
    ----------
    ledger
        The pile, held with `Ledger.running`.
    settings
        What is asked of all photos; a person's corrections take their place.
    runner
        Who does the work.
    photos
        Names, for instance those of `out_of_date`.

    Raises
    ------
    FileError
        If a record cannot be written. What was kept before stays.
    """
    waiting = list(photos)
    while waiting:
        batch, waiting = waiting, []
        for done in runner.run(_task(ledger, settings, photo) for photo in batch):
            _check(done)
            photo = done.task.photo
            if done.sizing.says({"photo-missing"}):
                yield Sized(photo=photo, sizing=done.sizing, is_kept=False)
            elif _keep(ledger, settings, done):
                yield Sized(photo=photo, sizing=done.sizing, is_kept=True)
            else:
                waiting.append(photo)


def pile_settings(ledger: Ledger) -> Settings | None:
    """Return what all photos of a pile were last asked; None when nothing tells."""
    asked = ledger.asked()
    if asked is not None:
        return asked
    for entry in ledger.entries():
        settings = _settings_of_all(entry)
        if settings is not None:
            return settings
    return None


def pile_rows(
    ledger: Ledger,
    *,
    separator: str | None = None,
    news: Mapping[str, Mapping[str, Any]] | None = None,
) -> list[Row]:
    """Return one line for each photo that was sized, those of one garment together.

    Parameters
    ----------
    ledger
        The pile.
    separator
        As for `motiffit.garments.garment_name`.
    news
        What a person says beside what the pile has noted, by photo, from
        `motiffit.garments.table_news`.
    """
    rows = [_row(entry, (news or {}).get(entry.photo, {}), separator) for entry in ledger.entries()]
    return [row for group in by_garment(rows) for row in group]


def write_overview(ledger: Ledger, rows: list[Row]) -> None:
    """Write the pile's table and its page.

    Raises
    ------
    FileError
        If one of them cannot be written.
    """
    # imported here: a look at the pile's state needs no templates
    from motiffit.show.page import page_parts
    from motiffit.show.pile_table import table_parts

    def thumbnail(photo: str) -> bytes | None:
        path = ledger.picture_of(photo, small=True)
        return path.read_bytes() if path.is_file() else None

    def link(photo: str) -> str | None:
        path = ledger.picture_of(photo)
        return path.relative_to(ledger.home).as_posix() if path.is_file() else None

    write_whole(ledger.home / "pile.csv", table_parts(rows))
    parts = page_parts(
        rows, title=ledger.folder.resolve().name, gone=ledger.gone(), thumbnail=thumbnail, link=link
    )
    write_whole(ledger.home / "index.html", parts)


def _row(entry: Entry, news: Mapping[str, Any], separator: str | None) -> Row:
    """Return a photo's line after what is new of it."""
    said = entry.said.told(news, at="", by=TABLE_NAME)
    return make_row(
        entry.sizing,
        garment=said.garment or garment_name(entry.photo, separator=separator),
        is_accepted=entry.is_accepted,
        flags=said.flags,
        note=said.note or "",
        keep=said.keep,
    )


def _settings_of_all(entry: Entry) -> Settings | None:
    """Return what was asked of all photos, as far as one record tells; None where it does not."""
    said, settings = entry.said, entry.sizing.settings
    is_its_own = said.size_mm is not None or said.side_mm is not None
    if is_its_own or said.heeded(settings) != settings:
        return None
    own = {"outline_px", "outline_sd_mm", "near_px", "pick", "no_motif", "place"}
    return replace(settings, **{name: getattr(Settings(), name) for name in own})


def _is_current(ledger: Ledger, settings: Settings, photo: str) -> bool:
    """Tell whether a photo's record still holds."""
    entry = ledger.entry(photo)
    if entry is None:
        return False
    photo_hash = ledger.hash_of(photo)
    return photo_hash is not None and entry.is_current(photo_hash, settings)


def _task(ledger: Ledger, settings: Settings, photo: str) -> Task:
    """Return what a worker needs to know, with what a person said by now."""
    return Task(
        photo=photo,
        path=str(ledger.path_of(photo).absolute()),
        settings=ledger.said(photo).heeded(settings),
    )


def _keep(ledger: Ledger, settings: Settings, done: Done) -> bool:
    """Write pictures, then the record that vouches for them; False for a record gone stale."""
    photo = done.task.photo
    for small, content in ((False, done.picture), (True, done.thumbnail)):
        path = ledger.picture_of(photo, small=small)
        if content is None:
            path.unlink(missing_ok=True)
        else:
            write_whole(path, content)
    return ledger.write(photo, done.sizing, photo_hash=done.photo_hash or "", settings=settings)


def _check(done: Done) -> None:
    """Stop when a worker elsewhere runs another version: its answers would not be repeatable."""
    if done.program != program_version():
        raise FileError(
            f"a worker runs motiffit {done.program}, this is {program_version()}: "
            "install the same version everywhere"
        )
    if done.sizing.settings != done.task.settings:
        raise ValueError("a worker answered with other settings than it was asked with")
