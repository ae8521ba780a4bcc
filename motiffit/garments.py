"""Which photos show the same garment: by the file's name, by a table, or by a person's word."""

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from motiffit.corrections import FLAGS
from motiffit.errors import FileError
from motiffit.files import write_whole
from motiffit.ledger import Ledger

__all__ = [
    "TABLE_NAME",
    "TableRow",
    "garment_name",
    "heed_table",
    "read_table",
    "rows_of",
    "table_news",
]

TABLE_NAME = "garments.csv"

_VIEW = re.compile(
    r"(?P<garment>.+?)[\s_.\-(]+"
    r"(?:front|back|rear|left|right|side|inside|detail|close-?up|again|retry|second|try)"
    r"[\s_\-]*\d*\)?",
    re.IGNORECASE,
)
"""A name that ends in a word for a view or another try. Bare numbers do not count: cameras count
their photos, so that IMG_1 and IMG_2 are two garments far more often than one."""

_FLAG_WORDS = {
    "zip": ("zip", "zips", "zipped", "zipper", "zippers", "zippered"),
    "snaps": ("snap", "snaps", "popper", "poppers", "press stud", "press studs"),
    "raised": ("3d", "3d piece", "raised", "applique", "appliqu\u00e9"),
    "vinyl": ("vinyl", "vinyl print", "foil", "heat transfer"),
}
_YES, _NO = {"yes", "y", "true", "1", "x", "keep"}, {"no", "n", "false", "0", "-"}
_MOST_BYTES = 5_000_000  # a table of 100,000 photos; more is some other file


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """What the table says of a photo; None for an empty cell.

    ``pin``, ``together`` and ``apart`` are wishes for the quilt's layout: row and column from 1,
    and words that blocks share which are to lie side by side, or well apart.
    """

    garment: str | None = None
    note: str | None = None
    keep: bool | None = None
    pin: tuple[int, int] | None = None
    together: str | None = None
    apart: str | None = None


def garment_name(photo: str, *, separator: str | None = None) -> str:
    """Return the garment that a photo's name stands for.

    Parameters
    ----------
    photo
        The file's name.
    separator
        Take what stands before the last of these signs; None to look for words such as front,
        back or again at the end.

    Examples
    --------
    >>> [garment_name(name) for name in ("romper-front.jpg", "romper back 2.jpg", "IMG_2.jpg")]
    ['romper', 'romper', 'IMG_2']
    >>> garment_name("tom_romper_2.jpg", separator="_")
    'tom_romper'
    """
    stem = Path(photo).stem
    if separator:
        return stem.rpartition(separator)[0].strip() or stem
    view = _VIEW.fullmatch(stem)
    return view["garment"].rstrip(" _.-(") if view else stem


def read_table(path: Path) -> dict[str, TableRow]:
    """Read a table with the column photo, and as wanted garment, note, keep, pin, together, apart.

    Separated by commas, semicolons or tabs; UTF-8 or what a Western spreadsheet saves.

    Raises
    ------
    FileError
        If it cannot be read, has no column *photo*, says neither yes nor no under *keep*, or has
        no row and column under *pin*.
    """
    text = _text_of(path)
    first = text.partition("\n")[0]
    separator = max(",;\t", key=first.count)
    lines = csv.DictReader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        columns = {(name or "").strip().lower(): name for name in lines.fieldnames or ()}
        if "photo" not in columns:
            raise FileError(f"{path} has no column named 'photo' in its first line")
        return {
            cells["photo"]: _row(cells, f"{path}, line {lines.line_num}")
            for line in lines
            if (cells := _cells(line, columns))["photo"]
        }
    except csv.Error as error:
        raise FileError(f"{path} is not a table that can be read: {error}") from error


def heed_table(ledger: Ledger) -> tuple[str, ...]:
    """Note what is new in the folder's table since it was last read, as a person's word.

    A cell that did not change says nothing new: what was said elsewhere meanwhile stands.

    Returns
    -------
    tuple of str
        Photos that the table names but the folder does not have.

    Raises
    ------
    FileError
        If the table is there but cannot be read, or the corrections cannot be written.
    """
    seen_path = ledger.home / "garments.json"
    table, seen = _table_of(ledger), _seen(seen_path)
    if not table and not seen:
        return ()
    photos = ledger.photos()
    rows = rows_of(table, photos)
    for photo, changes in _all_news(rows, seen).items():
        ledger.tell(photo, changes, by=TABLE_NAME)
    content = {photo: asdict(row) for photo, row in rows.items()}
    write_whole(seen_path, json.dumps(content).encode("ascii"))
    known = _known_names(photos)
    return tuple(name for name in table if name.casefold() not in known)


def table_news(ledger: Ledger) -> dict[str, dict[str, Any]]:
    """Return what `heed_table` would note, by photo and field of the corrections; write nothing.

    Raises
    ------
    FileError
        If the table is there but cannot be read.
    """
    rows = rows_of(_table_of(ledger), ledger.photos())
    return _all_news(rows, _seen(ledger.home / "garments.json"))


def rows_of(table: Mapping[str, TableRow], photos: Sequence[str]) -> dict[str, TableRow]:
    """Return the table's lines by photo: those of photos that are there, whatever their case.

    Parameters
    ----------
    table
        From `read_table`.
    photos
        Names of the folder's photos; the table may leave an ending off where that is clear.
    """
    names = _known_names(photos)
    return {names[name.casefold()]: row for name, row in table.items() if name.casefold() in names}


def _known_names(photos: Sequence[str]) -> dict[str, str]:
    """Return the photo for each way of writing its name: with its ending or, if clear, without."""
    stems = Counter(Path(photo).stem.casefold() for photo in photos)
    names = {Path(photo).stem.casefold(): photo for photo in photos}
    clear = {stem: photo for stem, photo in names.items() if stems[stem] == 1}
    return clear | {photo.casefold(): photo for photo in photos}


def _text_of(path: Path) -> str:
    """Read a table's text."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise FileError(f"{path} is too large for a table of garments")
        content = path.read_bytes()
    except OSError as error:
        raise FileError(f"cannot read {path}: {error.strerror}") from error
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def _cells(line: Mapping[str, Any], columns: Mapping[str, str]) -> dict[str, str]:
    """Return the cells of a line that matter, without surrounding space."""
    wanted = ("photo", "garment", "note", "keep", "pin", "together", "apart")
    return {name: (line.get(columns.get(name, "")) or "").strip() for name in wanted}


def _row(cells: Mapping[str, str], where: str) -> TableRow:
    """Read one line's cells."""
    word = cells["keep"].lower()
    if word and word not in _YES | _NO:
        raise FileError(f"{where}: under 'keep' write yes or no, not '{cells['keep']}'")
    return TableRow(
        garment=cells["garment"] or None,
        note=cells["note"] or None,
        keep=None if not word else word in _YES,
        pin=_read_pin(cells["pin"], where),
        together=cells["together"] or None,
        apart=cells["apart"] or None,
    )


def _read_pin(text: str, where: str) -> tuple[int, int] | None:
    """Read a row and a column, such as 2/3."""
    if not text:
        return None
    numbers = [int(number) for number in re.findall(r"\d+", text)]
    if len(numbers) != 2:
        raise FileError(f"{where}: under 'pin' write row and column, such as 2/3, not '{text}'")
    return numbers[0], numbers[1]


def _seen(path: Path) -> dict[str, TableRow]:
    """Return the table as it was last read."""
    try:
        return {photo: TableRow(**row) for photo, row in json.loads(path.read_bytes()).items()}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}


def _table_of(ledger: Ledger) -> dict[str, TableRow]:
    """Return the folder's table; empty where there is none."""
    path = ledger.folder / TABLE_NAME
    return read_table(path) if path.is_file() else {}


def _all_news(
    rows: Mapping[str, TableRow], seen: Mapping[str, TableRow]
) -> dict[str, dict[str, Any]]:
    """Return what is new, by photo; a line that is gone takes its words back."""
    news = {
        photo: _news(rows.get(photo, TableRow()), seen.get(photo, TableRow()))
        for photo in sorted(rows.keys() | seen.keys())
    }
    return {photo: changes for photo, changes in news.items() if changes}


def _news(row: TableRow, seen: TableRow) -> dict[str, Any]:
    """Return what a line says that it did not say before."""
    news: dict[str, Any] = {}
    if row.garment != seen.garment:
        news["garment"] = row.garment
    if row.keep != seen.keep:
        news["keep"] = row.keep
    if row.note != seen.note:
        flags, note = _read_note(row.note or "")
        old_flags, _ = _read_note(seen.note or "")
        news["note"] = note
        news |= {name: True if name in flags else None for name in flags | old_flags}
    return news


def _read_note(note: str) -> tuple[set[str], str | None]:
    """Take the words that stand for a zip, snaps and so on out of a note."""
    parts = [part.strip() for part in re.split(r"[,;]", note) if part.strip()]
    found = {
        part: name
        for part in parts
        for name in FLAGS
        if part.casefold().replace("-", " ") in _FLAG_WORDS[name]
    }
    rest = "; ".join(part for part in parts if part not in found)
    return set(found.values()), rest or None
