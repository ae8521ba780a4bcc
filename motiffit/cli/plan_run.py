"""One planning of a pile: records in, the plan's files out."""

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import typer
from numpy.typing import NDArray

from motiffit.cli.plan_options import Wishes, make_options
from motiffit.cli.terminal import clean_name, screen_width
from motiffit.errors import FileError, Refusal, UsageError
from motiffit.files import write_whole
from motiffit.garments import TABLE_NAME, TableRow, heed_table, read_table
from motiffit.ledger import Ledger
from motiffit.measure.photo import read_photo
from motiffit.pile import pile_rows
from motiffit.quilt import GarmentNote, Plan, PlanOptions, make_plan
from motiffit.record import Window
from motiffit.runners import available_cores
from motiffit.show.patch import cloth_colour, cut_patch
from motiffit.show.pdf import Paper
from motiffit.show.picture_file import encode_picture
from motiffit.show.plan_page import plan_page
from motiffit.show.plan_sheets import plan_pdf
from motiffit.show.plan_tables import cutting_table, layout_table
from motiffit.show.plan_text import plan_text
from motiffit.show.preview import draw_preview
from motiffit.show.rows import Row
from motiffit.units import Units

__all__ = ["Output", "plan_pile", "run_plan", "write_plan"]

Output = Literal["full", "brief", "json"]
Picture = NDArray[np.uint8]

_PATCH_PX_PER_MM = 1.6  # a 4 in square is then 160 pixels wide, as much as a usual photo carries


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPile:
    """A plan, and the squares of cloth that show in its picture, by photo."""

    plan: Plan
    patches: dict[str, Picture]


def run_plan(
    folder: Path,
    wishes: Wishes,
    *,
    units: Units | None,
    paper: Paper | None,
    separator: str | None,
    output: Output,
) -> None:
    """Plan a pile, write the files and tell of it.

    Raises
    ------
    MotiffitError
        If there is nothing to plan from, or wishes cannot be met.
    """
    ledger = Ledger.open(folder, create=output != "json")
    rows = _rows(ledger, separator, may_write=output != "json")
    units = units or rows[0].sizing.settings.units
    planned = plan_pile(ledger, rows, make_options(wishes, units))
    if output == "json":
        typer.echo(json.dumps(planned.plan.to_dict(), allow_nan=False, indent=1))
        return
    home = write_plan(ledger, planned, paper=paper or ("letter" if units == "in" else "a4"))
    if output == "full":
        typer.echo(plan_text(planned.plan, width=screen_width()))
        typer.echo("")
    for name, words in _FILES.items():
        typer.echo(f"{words:9}{clean_name(str(home / name))}")


_FILES = {
    "index.html": "Page:",
    "sheets.pdf": "Sheets:",
    "quilt.jpg": "Picture:",
    "cutting.csv": "Cutting:",
    "layout.csv": "Layout:",
    "plan.json": "Record:",
}


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
    table = _by_stem(read_table(path)) if path.is_file() else {}
    plan = make_plan(
        [row.sizing for row in rows],
        options,
        notes=_notes(rows, table),
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
    write_whole(home / "cutting.csv", cutting_table(plan))
    write_whole(home / "layout.csv", layout_table(plan))
    write_whole(home / "index.html", plan_page(plan, title=title, picture=picture))
    pdf = plan_pdf(plan, paper=paper, title=title, thumbnail=thumbnail)
    write_whole(home / "sheets.pdf", pdf)
    return home


def _rows(ledger: Ledger, separator: str | None, *, may_write: bool) -> list[Row]:
    """Photos of the pile, after what the table says."""
    if may_write:
        heed_table(ledger)
    rows = pile_rows(ledger, separator=separator)
    if not rows:
        raise UsageError(
            f"no photo of {ledger.folder} was sized yet: run 'motiffit pile' on it first"
        )
    return rows


def _patch(ledger: Ledger, photo: str, window: Window) -> Picture | None:
    """Square of cloth of one photo; None where the photo cannot be read any more."""
    try:
        source = read_photo(ledger.path_of(photo))
    except Refusal:
        return None
    return cut_patch(source.picture, source.full_per_px, window, px_per_mm=_PATCH_PX_PER_MM)


def _by_stem(table: dict[str, TableRow]) -> dict[str, TableRow]:
    """Lines of the table by the photo's name, its suffix left off as one may in the table."""
    return {Path(name).stem.casefold(): row for name, row in table.items()}


def _notes(rows: list[Row], table: dict[str, TableRow]) -> dict[str, GarmentNote]:
    """Tell what is known of each photo's garment, by photo."""
    counted = [row.garment for row in rows if row.counts]
    notes = {}
    for row in rows:
        told = table.get(Path(row.photo).stem.casefold(), TableRow())
        is_shared = counted.count(row.garment) > 1
        notes[row.photo] = GarmentNote(
            garment=f"{row.garment}, {Path(row.photo).stem}" if is_shared else row.garment,
            note=", ".join(words for words in (*row.flags, row.note) if words),
            keep=row.counts,
            is_accepted=row.is_accepted,
            place=told.pin,
            together=told.together or "",
            apart=told.apart or "",
        )
    return notes
