"""Planning a pile's quilt: what its records, table and photos say, made into a plan and its files.

Places that a person chose for blocks (`motiffit.places`) count more than those of the table.
"""

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from motiffit.errors import FileError, Refusal
from motiffit.files import write_whole
from motiffit.garments import TABLE_NAME, TableRow, read_table, rows_of
from motiffit.ledger import Ledger
from motiffit.measure.photo import read_photo
from motiffit.places import read_places, write_places
from motiffit.quilt import GarmentNote, Plan, PlanOptions, make_plan
from motiffit.record import Window
from motiffit.runners import available_cores
from motiffit.show.patch import cloth_colour, cut_patch
from motiffit.show.pdf import Paper
from motiffit.show.picture_file import encode_picture
from motiffit.show.plan_page import plan_page
from motiffit.show.plan_sheets import plan_pdf
from motiffit.show.plan_tables import cutting_table, layout_table, shopping_table
from motiffit.show.preview import draw_preview
from motiffit.show.rows import Row

__all__ = ["PlannedPile", "plan_pile", "read_places", "write_places", "write_plan"]

Picture = NDArray[np.uint8]

_PATCH_PX_PER_MM = 1.6  # a 4 in square is then 160 pixels wide, as much as a usual photo carries


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPile:
    """A plan, and the squares of cloth that show in its picture, by photo."""

    plan: Plan
    patches: dict[str, Picture]


def plan_pile(ledger: Ledger, rows: list[Row], options: PlanOptions) -> PlannedPile:
    """Plan the quilt of a pile.

    Parameters
    ----------
    ledger
        The pile.
    rows
        Its photos, as `motiffit.pile.pile_rows` gives them.
    options
        The quilter's wishes.
    """
    wanted = {row.photo: row.sizing.window for row in rows if row.counts and row.sizing.window}
    with ThreadPoolExecutor(available_cores()) as workers:
        cut = workers.map(lambda item: _patch(ledger, *item), wanted.items())
        patches = {
            photo: patch for photo, patch in zip(wanted, cut, strict=True) if patch is not None
        }
    path = ledger.folder / TABLE_NAME
    table = rows_of(read_table(path), ledger.photos()) if path.is_file() else {}
    plan = make_plan(
        [row.sizing for row in rows],
        options,
        notes=_notes(rows, table, read_places(ledger)),
        colours={photo: cloth_colour(patch) for photo, patch in patches.items()},
    )
    return PlannedPile(plan=plan, patches=patches)


def write_plan(ledger: Ledger, planned: PlannedPile, *, paper: Paper) -> Path:
    """Write the plan's files; the folder that holds them.

    Raises
    ------
    FileError
        If one of them cannot be written.
    """
    plan, home = planned.plan, ledger.home / "plan"
    try:
        home.mkdir(exist_ok=True)
    except OSError as error:
        raise FileError(f"cannot make the folder {home}: {error.strerror}") from error
    title = ledger.folder.resolve().name

    def thumbnail(photo: str) -> bytes | None:
        path = ledger.picture_of(photo, small=True)
        return path.read_bytes() if path.is_file() else None

    picture = encode_picture(draw_preview(plan, planned.patches), ".jpg", quality=88)
    document = json.dumps(plan.to_dict(), allow_nan=False, indent=1)
    write_whole(home / "plan.json", document.encode("ascii"))
    write_whole(home / "quilt.jpg", picture)
    write_whole(home / "shopping.csv", shopping_table(plan))
    write_whole(home / "cutting.csv", cutting_table(plan))
    write_whole(home / "layout.csv", layout_table(plan))
    write_whole(home / "index.html", plan_page(plan, title=title, picture=picture))
    pdf = plan_pdf(plan, paper=paper, title=title, thumbnail=thumbnail)
    write_whole(home / "sheets.pdf", pdf)
    return home


def _patch(ledger: Ledger, photo: str, window: Window) -> Picture | None:
    """Square of cloth of one photo; None where the photo cannot be read any more."""
    path = ledger.path_of(photo)
    try:
        return _cut(path, path.stat().st_mtime_ns, window)
    except (OSError, Refusal):
        return None


@lru_cache(maxsize=512)  # a page plans the same pile again and again; a patch has 80 KB
def _cut(path: Path, _stamp: int, window: Window) -> Picture:
    """Square of cloth of a photo as it was at the time of its stamp."""
    source = read_photo(path)
    return cut_patch(source.picture, source.full_per_px, window, px_per_mm=_PATCH_PX_PER_MM)


def _notes(
    rows: list[Row], table: dict[str, TableRow], places: dict[str, tuple[int, int]]
) -> dict[str, GarmentNote]:
    """Tell what is known of each photo's garment, by photo."""
    counted = [row.garment for row in rows if row.counts]
    notes = {}
    for row in rows:
        told = table.get(row.photo, TableRow())
        is_shared = counted.count(row.garment) > 1
        notes[row.photo] = GarmentNote(
            garment=f"{row.garment}, {Path(row.photo).stem}" if is_shared else row.garment,
            note=", ".join(words for words in (*row.flags, row.note) if words),
            keep=row.counts,
            is_accepted=row.is_accepted,
            place=places.get(row.photo, told.pin),
            together=told.together or "",
            apart=told.apart or "",
        )
    return notes
