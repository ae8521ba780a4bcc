"""The quilt's page: its plan, drawn and laid out anew after every wish, and its files."""

import hashlib
import threading
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from motiffit.errors import FileError, Refusal, UsageError
from motiffit.garments import TABLE_NAME
from motiffit.ledger import Ledger
from motiffit.planning import plan_pile, read_places, write_places, write_plan
from motiffit.quilt import Plan, PlanOptions
from motiffit.review.form import QuiltForm, read_form, usual_words, write_form
from motiffit.review.quilt_sheet import places_of, plan_in_words, shown_fabrics
from motiffit.review.tidings import Tidings
from motiffit.review.workshop import Workshop
from motiffit.show.pdf import Paper, usual_paper
from motiffit.show.picture_file import encode_picture
from motiffit.show.preview import draw_preview
from motiffit.show.rows import Row, do_without
from motiffit.units import Units

__all__ = ["QUILT_FILES", "Quilting"]

QUILT_FILES = {
    "sheets.pdf": "application/pdf",
    "index.html": "text/html",
    "cutting.csv": "text/csv",
    "layout.csv": "text/csv",
    "quilt.jpg": "image/jpeg",
    "plan.json": "application/json",
}
"""What can be taken away: names in the plan's folder, and what they are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Planned:
    """A plan, its picture, and what it was made from."""

    state: str
    plan: Plan
    picture: bytes


class Quilting:
    """The quilt of one pile.

    Parameters
    ----------
    ledger
        The pile.
    tidings
        Its photos.
    units
        How lengths are shown.
    workshop
        Where pictures are drawn.
    """

    def __init__(self, ledger: Ledger, tidings: Tidings, units: Units, workshop: Workshop) -> None:
        self._ledger = ledger
        self._tidings = tidings
        self._units = units
        self._workshop = workshop
        self._planned: _Planned | None = None
        self._written = ("", 0)
        self._lock = threading.Lock()

    def look(self) -> dict[str, Any]:
        """Return everything that the page shows, JSON-ready; the reason where there is no plan."""
        form = read_form(self._ledger)
        head: dict[str, Any] = {
            "form": asdict(form),
            "usual": usual_words(self._units),
            "wanted": {photo: list(place) for photo, place in read_places(self._ledger).items()},
            **shown_fabrics(form, self._units),
        }
        try:
            planned = self._plan(form)
        except UsageError as error:
            return {**head, "trouble": str(error)}
        except Refusal as refusal:
            return {**head, "trouble": f"The quilt cannot be planned ({refusal.code})."}
        plan, rows = planned.plan, self._tidings.rows()
        return {
            **head,
            "trouble": "",
            "version": planned.state,
            **plan_in_words(plan, rows),
            **places_of(plan),
            "keys": {row.photo: self._ledger.picture_of(row.photo).stem for row in rows},
        }

    def fill_in(self, words: Mapping[str, Any]) -> None:
        """Keep the form.

        Raises
        ------
        ValueError
            For what the form cannot say.
        """
        form = QuiltForm.from_dict(words)
        form.to_options(self._units)
        write_form(self._ledger, form)

    def swap(self, one: object, other: object) -> None:
        """Exchange the blocks of two places (row and column from 1) and keep all where they are.

        Raises
        ------
        ValueError
            If there are no such places.
        """
        plan = self._plan(read_form(self._ledger)).plan
        by_place = {(cell.row, cell.column): cell for cell in plan.layout.cells}
        cells = [by_place.get(_place(place)) for place in (one, other)]
        here, there = cells
        if here is None or there is None:
            raise ValueError("no such place in the quilt")
        places = {cell.photo: (cell.row, cell.column) for cell in plan.layout.cells if cell.photo}
        if here.photo:
            places[here.photo] = (there.row, there.column)
        if there.photo:
            places[there.photo] = (here.row, here.column)
        write_places(self._ledger, places)

    def lay_out_anew(self) -> None:
        """Forget where a person put blocks, and try another layout."""
        form = read_form(self._ledger)
        write_places(self._ledger, {})
        write_form(self._ledger, replace(form, seed=form.seed % 10**6 + 1))

    def restore(self, words: object, places: object) -> None:
        """Bring back a form and where blocks lay, for an undo.

        Raises
        ------
        ValueError
            If that is no form, or those are no places of photos.
        """
        if not isinstance(words, dict) or not isinstance(places, dict):
            raise ValueError("not a form and places of blocks")
        known = set(self._ledger.photos())
        kept = {photo: _place(place) for photo, place in places.items() if photo in known}
        self.fill_in(words)
        write_places(self._ledger, kept)

    def picture(self) -> bytes:
        """Return the preview, a JPEG file.

        Raises
        ------
        UsageError
            If there is no plan.
        """
        return self._plan(read_form(self._ledger)).picture

    def file(self, name: str) -> Path:
        """Return where a file of `QUILT_FILES` lies, written anew when the plan changed.

        Raises
        ------
        UsageError
            If there is no plan.
        """
        form = read_form(self._ledger)
        rows = self._rows(form)
        state = self._state(form, rows)
        with self._lock:
            if self._written != (state, self._stamp()):
                paper = form.paper or usual_paper(self._units)
                options = form.to_options(self._units)
                error = self._workshop.give(
                    _write_quilt, self._ledger, rows, options, paper
                ).result()
                if error is not None:
                    raise error
                self._written = (state, self._stamp())
        return self._ledger.home / "plan" / name

    def _stamp(self) -> int:
        """Return what changes when another program writes the plan's files, or takes them away."""
        path = self._ledger.home / "plan" / "plan.json"
        return path.stat().st_mtime_ns if path.is_file() else 0

    def _plan(self, form: QuiltForm) -> _Planned:
        """Return the plan that goes with the pile, the form and the places as they are now."""
        rows = self._rows(form)
        if not rows:
            raise UsageError("No photo was measured yet: add some to the pile first.")
        state = self._state(form, rows)
        with self._lock:
            if self._planned is None or self._planned.state != state:
                options = form.to_options(self._units)
                future = self._workshop.give(_plan_quilt, self._ledger, rows, options)
                plan, picture, trouble = future.result()
                if plan is None:
                    raise UsageError(trouble)
                self._planned = _Planned(state=state, plan=plan, picture=picture)
            return self._planned

    def _rows(self, form: QuiltForm) -> list[Row]:
        """Return the pile's photos, those that are not wanted in the quilt left out."""
        rows = self._tidings.rows()
        plain = [row.photo for row in rows if form.motifs_only and not row.sizing.motifs]
        return do_without(rows, plain)

    def _state(self, form: QuiltForm, rows: list[Row]) -> str:
        """Return what changes when anything does that the plan is made from."""
        table = self._ledger.folder / TABLE_NAME
        stamp = table.stat().st_mtime_ns if table.is_file() else 0
        text = repr((form, rows, sorted(read_places(self._ledger).items()), stamp))
        return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:16]


def _plan_quilt(
    ledger: Ledger, rows: list[Row], options: PlanOptions
) -> tuple[Plan | None, bytes, str]:
    """Plan in a worker: the plan and its picture, or why there is none."""
    try:
        planned = plan_pile(ledger, rows, options)
    except (UsageError, FileError) as error:
        return None, b"", str(error).replace(str(ledger.folder), "the folder")
    picture = draw_preview(planned.plan, planned.patches)
    return planned.plan, encode_picture(picture, ".jpg", quality=85), ""


def _write_quilt(
    ledger: Ledger, rows: list[Row], options: PlanOptions, paper: Paper
) -> Exception | None:
    """Plan and write the plan's files in a worker; the error where that fails."""
    try:
        write_plan(ledger, plan_pile(ledger, rows, options), paper=paper)
    except (UsageError, FileError) as error:
        return error
    return None


def _place(value: object) -> tuple[int, int]:
    """Read a row and a column."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise ValueError("a place has a row and a column")
    row, column = value
    if (
        type(row) is not int
        or type(column) is not int
        or not (0 < row < 1000 and 0 < column < 1000)
    ):
        raise ValueError("a place has a row and a column")
    return row, column
