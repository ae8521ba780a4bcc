"""What a person says of a photo: kept apart from what the program measures, and stronger.

Every field has its own revision, so that of two people writing at the same time (two browser
windows, a page and a table) the later word wins field by field and nobody's other words are lost.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, Self

from motiffit.errors import UsageError
from motiffit.record import Point, Sizing
from motiffit.settings import Settings

__all__ = ["CORRECTABLE", "FLAGS", "Corrections", "Stamp", "answer_digest"]

SCHEMA = "motiffit.corrections/1"

FLAGS: dict[str, str] = {
    "zip": "zip",
    "snaps": "snaps",
    "raised": "3D piece",
    "vinyl": "vinyl print",
}
"""What a garment may carry that matters under needle and iron: field name and words."""

_ONE_OF = ("outline_px", "near_px", "pick", "no_motif")
"""Ways to say which motif counts; the latest takes the place of the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """When a field was last written (ISO 8601, UTC), by whom, and at which revision."""

    revision: int
    at: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrections:
    """A person's words on one photo; None wherever nothing was said.

    Attributes
    ----------
    garment
        Which garment the photo shows; photos of one garment belong together.
    note
        Free text.
    zip, snaps, raised, vinyl
        Whether the garment carries such a thing (`FLAGS`).
    keep
        Whether this photo's window goes into the quilt.
    size_mm
        The finished size to take, instead of the smallest that clears.
    side_mm
        Side of the reference square in this photo.
    outline_px, outline_sd_mm, near_px, pick, place
        As in `motiffit.settings.Settings`.
    no_motif
        There is no motif, whatever the finder thinks.
    accepted
        `answer_digest` of the answer that the person accepted.
    revision
        Counts the writes; 0 when nothing was ever said.
    stamps
        The last write of each field that was ever written.
    """

    garment: str | None = None
    note: str | None = None
    zip: bool | None = None
    snaps: bool | None = None
    raised: bool | None = None
    vinyl: bool | None = None
    keep: bool | None = None
    size_mm: float | None = None
    side_mm: float | None = None
    outline_px: tuple[Point, ...] | None = None
    outline_sd_mm: float | None = None
    near_px: Point | None = None
    pick: int | None = None
    no_motif: bool | None = None
    place: tuple[float, float, float] | None = None
    accepted: str | None = None
    revision: int = 0
    stamps: Mapping[str, Stamp] = field(default_factory=dict)

    def told(self, changes: Mapping[str, Any], *, at: str, by: str) -> Self:
        """Return the corrections after a person said something more.

        Parameters
        ----------
        changes
            New values by field; None takes a word back.
        at
            The time, ISO 8601 in UTC.
        by
            Where it was said, for instance ``review``.

        Raises
        ------
        ValueError
            For a field that is not one of `CORRECTABLE`, or a value that cannot be one.
        """
        unknown = set(changes) - set(CORRECTABLE)
        if unknown:
            raise ValueError(f"not a correction: {', '.join(sorted(unknown))}")
        values = {name: _checked(name, value) for name, value in changes.items()}
        if any(values.get(name) for name in _ONE_OF):
            said = {name: getattr(self, name) for name in _ONE_OF if name not in values}
            values |= {name: None for name, value in said.items() if value is not None}
        stamp = Stamp(revision=self.revision + 1, at=at, by=by)
        stamps = {**self.stamps, **dict.fromkeys(values, stamp)}
        return replace(self, **values, revision=stamp.revision, stamps=stamps)._legal()

    def changed_since(self, revision: int) -> tuple[str, ...]:
        """Return the fields written after a revision, for a page that still shows that one."""
        return tuple(name for name, stamp in self.stamps.items() if stamp.revision > revision)

    def heeded(self, settings: Settings) -> Settings:
        """Return the settings with this person's words in place of what was asked of all."""
        changes: dict[str, Any] = {
            name: getattr(self, name) for name in _ONE_OF if getattr(self, name)
        }
        if changes:
            unsaid: dict[str, Any] = {"outline_px": (), "near_px": None, "pick": None}
            changes = {**unsaid, "no_motif": False, **changes}
        if self.outline_px and self.outline_sd_mm is not None:
            changes["outline_sd_mm"] = self.outline_sd_mm
        if self.size_mm is not None:
            changes["sizes_mm"] = (self.size_mm,)
        if self.place is not None:
            changes["place"] = self.place
        if self.side_mm is not None:
            changes["side_mm"] = self.side_mm
        return replace(settings, **changes)

    def _legal(self) -> Self:
        """Return the corrections as they are; a ValueError where no photo can be sized so."""
        try:
            self.heeded(Settings())
        except UsageError as error:
            raise ValueError(f"that cannot be asked of a photo: {error}") from error
        return self

    @property
    def flags(self) -> tuple[str, ...]:
        """The words for what the garment carries, in the order of `FLAGS`."""
        return tuple(words for name, words in FLAGS.items() if getattr(self, name))

    def to_dict(self) -> dict[str, Any]:
        """Return JSON-ready values: every field ever written, with its stamp."""
        said = {
            name: {
                "value": getattr(self, name),
                "revision": stamp.revision,
                "at": stamp.at,
                "by": stamp.by,
            }
            for name, stamp in self.stamps.items()
        }
        return {"schema": SCHEMA, "revision": self.revision, "fields": said}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Self:
        """Read corrections back.

        Raises
        ------
        ValueError
            If the data are not corrections of this schema.
        """
        if data.get("schema") != SCHEMA:
            raise ValueError(f"not corrections of {SCHEMA}: {data.get('schema')!r}")
        try:
            values = {
                name: _checked(name, said["value"])
                for name, said in data["fields"].items()
                if name in CORRECTABLE
            }
            stamps = {
                name: Stamp(revision=said["revision"], at=said["at"], by=said["by"])
                for name, said in data["fields"].items()
                if name in CORRECTABLE
            }
            return cls(**values, revision=int(data["revision"]), stamps=stamps)._legal()
        except (KeyError, TypeError, AttributeError) as error:
            raise ValueError(f"not whole corrections: {error}") from error


CORRECTABLE: tuple[str, ...] = tuple(
    part.name for part in fields(Corrections) if part.name not in ("revision", "stamps")
)
"""The fields that a person can write."""


def answer_digest(sizing: Sizing, photo_hash: str) -> str:
    """Return a short hash of the answer that a person looked at.

    It changes with the photo, the size, or the square's place by a millimetre or a degree, and
    stays when only the program's version, a message or a digit did.
    """
    window = sizing.window
    place = window and (
        round(window.finished_mm, 1),
        [round(value) for value in window.centre_mm],
        round(window.angle_deg),
    )
    text = json.dumps([photo_hash, place])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _checked(name: str, value: Any) -> Any:
    """Return a value in the field's own type, from JSON or from a caller."""
    if value is None:
        return None
    try:
        if name in ("garment", "note", "accepted"):
            return _text(value)
        if name in ("size_mm", "side_mm", "outline_sd_mm"):
            return _positive(value)
        if name == "pick":
            return int(_positive(value))
        if name == "near_px":
            return _point(value)
        if name == "outline_px":
            return tuple(_point(point) for point in value) or None
        if name == "place":
            x, y, turn_deg = value
            return (*_point((x, y)), _point((turn_deg, 0.0))[0])
    except (TypeError, ValueError, OverflowError) as error:
        raise ValueError(f"{value!r} cannot be the {name} of a photo") from error
    if not isinstance(value, bool):
        raise ValueError(f"{name} is yes or no, not {value!r}")
    return value


def _text(value: Any) -> str | None:
    """Return text without surrounding space; None when none is left."""
    if not isinstance(value, str):
        raise TypeError("not text")
    return value.strip() or None


def _positive(value: Any) -> float:
    """Return a finite number greater than zero."""
    number = float(value)
    if not 0 < number < float("inf"):
        raise ValueError("not a number greater than zero")
    return number


def _point(value: Any) -> Point:
    """Return a pair of finite numbers."""
    x, y = (float(part) for part in value)
    if abs(x) + abs(y) == float("inf") or x != x or y != y:
        raise ValueError("not a point")
    return (x, y)
