"""One line per photo of a pile: what the table, the page and the screen all show of it."""

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import PurePath
from typing import TypeVar

from motiffit.errors import UsageError
from motiffit.record import Message, Outcome, Sizing

__all__ = [
    "BRIEF",
    "Row",
    "SizeCount",
    "by_garment",
    "do_without",
    "make_row",
    "needing_an_eye",
    "size_counts",
]

BRIEF: dict[str, tuple[int, str]] = {
    "motif-too-large": (0, "motif larger than any size"),
    "placed-cuts": (0, "your square cuts the motif"),
    "motif-cut": (1, "motif reaches the photo's edge"),
    "motif-maybe-too-large": (1, "motif may be larger than any size"),
    "motif-doubtful": (1, "box may miss the motif or part of it"),
    "motif-maybe-none": (1, "may be no motif"),
    "motif-several": (2, "several motifs"),
    "size-doubtful": (2, "a smaller size may do"),
    "placed-close": (2, "your square comes close to the motif"),
    "reference-unusual": (0, "card's size in doubt"),
    "reference-doubtful": (0, "size of card or square in doubt"),
    "reference-in-the-way": (1, "card or paper lies on motif or square"),
    "reference-on-square": (2, "card or paper lies on the square"),
    "reference-on-garment": (2, "card or paper may hide a motif"),
    "reference-bent": (3, "card not flat, or covered"),
    "reference-covered": (3, "card partly covered"),
    "reference-glare": (3, "glare on the card"),
    "reference-small": (3, "card small in the photo"),
    "far-from-reference": (3, "card far from the motif"),
    "tilted": (3, "camera tilted"),
    "garment-unclear": (4, "garment's outline unclear"),
    "cloth-short": (4, "too little cloth"),
    "cloth-scant": (4, "square ends at the garment's edge"),
    "cloth-short-at-motif": (1, "too little cloth beside the motif"),
}
"""How urgently each warning needs an eye, 0 first, and in a few words why: what may ruin a motif
before what costs sewing. Photos not measured stand between those that would be cut and the rest."""

T = TypeVar("T", bound=Hashable)

_NOT_MEASURED, _OTHER = 0.5, (5, "")
_OUTCOME_ORDER: tuple[Outcome, ...] = ("sized", "check", "no-motif", "refused")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What is shown of a photo.

    Attributes
    ----------
    photo
        Its name.
    garment
        The garment that it shows.
    sizing
        The record without what would fill the memory: garment, plane, list of sizes.
    counts
        Whether its square goes into the quilt: of several photos of one garment, usually one does.
    is_accepted
        Whether a person accepted the answer.
    flags
        Words for what the garment carries.
    note
        The person's note, empty for none.
    keep
        What the person said about using this photo.
    """

    photo: str
    garment: str
    sizing: Sizing
    counts: bool = True
    is_accepted: bool = False
    flags: tuple[str, ...] = ()
    note: str = ""
    keep: bool | None = None

    @property
    def reasons(self) -> tuple[Message, ...]:
        """What needs a person's eye."""
        return tuple(message for message in self.sizing.messages if message.severity != "note")

    @property
    def brief_reasons(self) -> str:
        """What needs a person's eye, in a few words, the most urgent first."""
        if self.sizing.outcome == "refused":
            return " ".join(message.text for message in self.reasons)
        known = sorted(BRIEF[message.code] for message in self.reasons if message.code in BRIEF)
        other = [message.text for message in self.reasons if message.code not in BRIEF]
        return "; ".join([*(words for _, words in known), *other])

    @property
    def is_settled(self) -> bool:
        """Whether nobody has to look any more: measured without doubt, or accepted."""
        return self.is_accepted or not self.reasons

    @property
    def needs_an_eye(self) -> bool:
        """Whether a person has to look before anything is cut."""
        return self.counts and not self.is_settled

    @property
    def urgency(self) -> tuple[float, float, float]:
        """Sorting key, the worst first: kind of reason, how doubtful, how many reasons."""
        sizing = self.sizing
        if sizing.outcome == "refused":
            return _NOT_MEASURED, 0.0, 0.0
        kinds = [BRIEF.get(message.code, _OTHER)[0] for message in self.reasons] or [_OTHER[0]]
        trust = sizing.motifs[0].trust if sizing.motifs else 1.0
        sure = sizing.window.p_clear if sizing.window else None
        return float(min(kinds)), trust * (1.0 if sure is None else sure), -float(len(kinds))


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeCount:
    """How many squares of one size the pile gives: safe ones, and those to look at first."""

    finished: str
    cut: str
    sized: int
    to_check: int

    @property
    def all(self) -> int:
        """Squares of this size altogether."""
        return self.sized + self.to_check


def make_row(
    sizing: Sizing,
    *,
    garment: str,
    is_accepted: bool = False,
    flags: tuple[str, ...] = (),
    note: str = "",
    keep: bool | None = None,
) -> Row:
    """Make the line of a photo; `by_garment` decides later whether it counts."""
    light = replace(
        sizing,
        garment=None,
        plane=None,
        motifs=sizing.motifs[:1],
        sizes=(),
        messages=tuple(_shared(message) for message in sizing.messages),
        settings=_shared(sizing.settings),
    )
    return Row(
        photo=sizing.photo,
        garment=garment,
        sizing=light,
        is_accepted=is_accepted,
        flags=flags,
        note=note,
        keep=keep,
    )


def by_garment(rows: Iterable[Row]) -> tuple[tuple[Row, ...], ...]:
    """Put the photos of one garment together and decide which of them count.

    Those that a person keeps count; where nothing was said, the best one does: sized before check
    before no motif before not measured, then the larger motif. A photo that a person does not keep
    never counts. Order is that of the first photo of each garment.
    """
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(row.garment.casefold(), []).append(row)
    return tuple(tuple(_counted(group)) for group in groups.values())


def do_without(rows: Sequence[Row], names: Iterable[str]) -> list[Row]:
    """Return the lines with some garments or photos left out: these do not count any more.

    Parameters
    ----------
    rows
        One line per photo, as `by_garment` gives them.
    names
        Of photos, with or without ending, or of garments; in any case of letters.

    Raises
    ------
    UsageError
        For a name that is none of them.
    """
    left = {name.casefold(): name for name in names}
    known = {name for row in rows for name in _names_of(row)}
    for folded, name in left.items():
        if folded not in known:
            raise UsageError(f"no photo or garment of the pile is named '{name}'")
    told = [replace(row, keep=False) if _names_of(row) & left.keys() else row for row in rows]
    return [row for group in by_garment(told) for row in group]


def needing_an_eye(rows: Iterable[Row]) -> list[Row]:
    """Return the lines that need a person's eye, the worst first."""
    return sorted((row for row in rows if row.needs_an_eye), key=lambda row: row.urgency)


def size_counts(rows: Iterable[Row]) -> list[SizeCount]:
    """Return for each finished size, ascending, how many squares of it are proposed.

    Counted are squares that may be cut: of photos that count, with a motif, and not too small
    unless a person accepted them.
    """
    squares = Counter(
        (window.finished_mm, window.finished, window.cut, row.is_settled)
        for row in rows
        if (window := row.sizing.window) and row.counts and row.sizing.motifs
        if row.is_accepted or not row.sizing.is_too_small
    )
    sizes = sorted({key[:3] for key in squares})
    return [
        SizeCount(
            finished=finished,
            cut=cut,
            sized=squares[mm, finished, cut, True],
            to_check=squares[mm, finished, cut, False],
        )
        for mm, finished, cut in sizes
    ]


@lru_cache(maxsize=1024)
def _shared(value: T) -> T:
    """Return an equal value that other rows hold already: a thousand rows say much the same."""
    return value


def _names_of(row: Row) -> set[str]:
    """Return the names by which a person may call a photo."""
    return {name.casefold() for name in (row.photo, PurePath(row.photo).stem, row.garment)}


def _counted(group: Sequence[Row]) -> list[Row]:
    """Mark which photos of a garment count."""
    kept = {row.photo for row in group if row.keep}
    if not kept:
        open_ones = [row for row in group if row.keep is None]
        kept = {min(open_ones, key=_preference).photo} if open_ones else set()
    return [replace(row, counts=row.photo in kept) for row in group]


def _preference(row: Row) -> tuple[int, float]:
    """Sorting key, the best photo of a garment first."""
    area = sum(motif.width_mm * motif.height_mm for motif in row.sizing.motifs[:1])
    return _OUTCOME_ORDER.index(row.sizing.outcome), -area
