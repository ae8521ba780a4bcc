"""The garments of a quilt: which centre each gives, and what is known of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import floor
from pathlib import PurePath

from motiffit.errors import UsageError
from motiffit.quilt.lengths import exact_mm
from motiffit.record import Outcome, Sides, Sizing, Window

__all__ = ["Centre", "GarmentNote", "LeftOut", "list_centres", "shared_allowance"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GarmentNote:
    """What a person says of one garment.

    Attributes
    ----------
    garment
        Its name; empty for the photo's file name.
    note
        Anything to mind: zip, snaps, vinyl print.
    keep
        Whether it goes into the quilt.
    is_accepted
        Whether a person looked at its square and accepted it.
    place
        Row and column, from 1, where its block is pinned; None to have one chosen.
    together
        Blocks with the same word here lie side by side.
    apart
        Blocks with the same word here lie well apart.
    """

    garment: str = ""
    note: str = ""
    keep: bool = True
    is_accepted: bool = False
    place: tuple[int, int] | None = None
    together: str = ""
    apart: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """One garment's centre.

    Attributes
    ----------
    name
        As printed on its label.
    photo
        The photo's path as given: what tells it from others.
    outcome, concerns, concern_codes
        How sure the sizing is, and the warnings that go with it: in words, and their codes.
    finished_mm, cut_mm
        Side of the centre.
    short_mm
        How far the cut square reaches beyond the cloth on each side.
    clearance_mm
        From the motif to the seam line on each side; None without a motif.
    colour
        Of the cloth that shows, as ``#rrggbb``; None where it is not known.
    note
        The person's word on the garment.
    """

    name: str
    photo: str
    outcome: Outcome
    concerns: tuple[str, ...]
    concern_codes: tuple[str, ...]
    finished_mm: Fraction
    cut_mm: Fraction
    short_mm: Sides
    clearance_mm: Sides | None
    colour: str | None
    note: GarmentNote

    @property
    def needs_an_eye(self) -> bool:
        """Whether a person should look at its square before the cut."""
        is_doubtful = self.outcome == "check" or bool(self.concerns)
        return is_doubtful and not self.note.is_accepted

    @property
    def has_motif(self) -> bool:
        """Whether there is a motif; without one the square is the largest that fits."""
        return self.clearance_mm is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A photo that gives no block: its path, its name as it can be printed, and why.

    It is marked where that is a square too small for its motif.
    """

    photo: str
    name: str
    reason: str
    is_too_small: bool


def list_centres(
    records: Sequence[Sizing],
    notes: Mapping[str, GarmentNote],
    colours: Mapping[str, str],
) -> tuple[list[Centre], list[LeftOut]]:
    """Return the centres that the records give, and the photos that give none.

    Parameters
    ----------
    records
        One per photo.
    notes, colours
        By the photo's file name; photos may be missing from both.
    """
    centres, left_out = [], []
    for record in records:
        name = PurePath(record.photo).name
        note = notes.get(name, GarmentNote())
        reason = _why_not(record, note)
        if record.window is None or reason:
            is_too_small = note.keep and record.is_too_small
            left_out.append(
                LeftOut(
                    photo=record.photo,
                    name=_printable(name),
                    reason=reason,
                    is_too_small=is_too_small,
                )
            )
        else:
            centres.append(_make_centre(record, record.window, note, colours.get(name)))
    return centres, left_out


def _why_not(record: Sizing, note: GarmentNote) -> str:
    """Say why a photo gives no centre; empty if it does."""
    if record.window is None:
        return record.messages[0].page_text if record.messages else "No square fits."
    if not note.keep:
        return "Left out on your word, or another photo of this garment counts."
    if not record.is_too_small or note.is_accepted:
        return ""
    if record.window.is_cutting:
        return "The largest square of the set would cut into the motif."
    percent = floor(100 * (record.window.p_clear or 0.0))
    return f"Only {percent} % sure that the largest square of the set keeps clear of the motif."


def shared_allowance(records: Sequence[Sizing]) -> Fraction:
    """Return the seam allowance with which photos were sized, at least one.

    Raises
    ------
    UsageError
        If they were sized with several.
    """
    used = {exact_mm(record.settings.seam_allowance_mm) for record in records}
    if len(used) > 1:
        words = ", ".join(f"{float(allowance):g} mm" for allowance in sorted(used))
        raise UsageError(
            f"the seam allowances differ ({words}): size the photos again with one of them"
        )
    return used.pop()


def _make_centre(record: Sizing, window: Window, note: GarmentNote, colour: str | None) -> Centre:
    """Centre of a record with a window."""
    warnings = [message for message in record.messages if message.severity == "warning"]
    return Centre(
        name=_printable(note.garment or PurePath(record.photo).stem),
        photo=record.photo,
        outcome=record.outcome,
        concerns=tuple(message.page_text for message in warnings),
        concern_codes=tuple(message.code for message in warnings),
        finished_mm=exact_mm(window.finished_mm),
        cut_mm=exact_mm(window.cut_mm),
        short_mm=window.cloth_short_mm,
        clearance_mm=window.clearance_mm,
        colour=colour,
        note=replace(note, note=_printable(note.note)),
    )


def _printable(text: str) -> str:
    """Return text without signs that steer a terminal or that no font has."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
