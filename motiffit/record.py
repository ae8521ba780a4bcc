"""The record: what is known of one photo after sizing, as plain numbers and words.

Frames. *px*: the photo as displayed, (0, 0) at the centre of its top-left pixel, x right, y down,
at full resolution. *mm*: the cloth's plane, origin at the middle of the reference square, x to the
right and y downward as the photo shows them. Angles are degrees, clockwise as seen in the photo.
Corners run top-left, top-right, bottom-right, bottom-left in the garment's upright frame.
"""

import json
import os
import re
from collections.abc import Mapping, Set
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal, Self, TypeVar

from motiffit.errors import UsageError
from motiffit.messages import MESSAGES, Severity, text_of
from motiffit.settings import Settings

__all__ = [
    "P_LIKELY",
    "SCHEMA",
    "Garment",
    "Message",
    "Motif",
    "Outcome",
    "PlaneDigest",
    "Point",
    "Reference",
    "Sides",
    "Size",
    "Sizing",
    "Window",
    "make_message",
    "refused_sizing",
    "settings_from_dict",
]

SCHEMA = "motiffit.sizing/1"

P_LIKELY = 0.5
"""Least probability of keeping clear of the motif with which a square is more than a guess."""

Outcome = Literal["sized", "check", "no-motif", "refused"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """Something a person should know, with its cure in the text."""

    code: str
    severity: Severity
    text: str

    @property
    def page_text(self) -> str:
        """The text with the cure for a page or a sheet, where no option can be typed."""
        return f"{self.picture_text} {MESSAGES[self.code].page_cure or ''}".strip()

    @property
    def picture_text(self) -> str:
        """The text for a picture: without a cure that would name an option."""
        kind = MESSAGES[self.code]
        if kind.page_cure is None:
            return self.text
        filled = _PLACEHOLDER.sub(".+?", re.escape(kind.cure))
        return re.sub(rf" ?{filled}$", "", self.text)


def make_message(code: str, **details: object) -> Message:
    """Make the message of a declared code.

    Examples
    --------
    >>> make_message("focal-unknown").severity
    'note'
    """
    return Message(code=code, severity=MESSAGES[code].severity, text=text_of(code, **details))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """One length (mm) for each side of a square, in the garment's upright frame."""

    top: float
    right: float
    bottom: float
    left: float

    def least(self) -> float:
        """Return the smallest of the four."""
        return min(self.top, self.right, self.bottom, self.left)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """The reference square: which kind, how large, and where its outer corners are."""

    kind: Literal["card", "square"]
    side_mm: float
    corners_px: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneDigest:
    """How photo pixels map to the cloth.

    ``px_to_mm`` (3 x 3, rows) acts on pixels freed of the one-term radial distortion about the
    picture's middle ``middle_px``: with r the distance from there in focal lengths, the photo shows
    a point at r (1 + distortion r^2).
    """

    px_to_mm: tuple[tuple[float, float, float], ...]
    middle_px: Point
    tilt_deg: float
    height_mm: float
    focal_px: float
    distortion: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Garment:
    """The garment's outline, and which way is up on it.

    ``upright_deg`` is how far the garment's up lies clockwise from the photo's up. ``outline_mm``
    is what the window is fitted to; ``outline_px`` is the same polygon in the photo.
    """

    outline_px: tuple[Point, ...]
    outline_mm: tuple[Point, ...]
    upright_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Motif:
    """A motif's tight box.

    Attributes
    ----------
    corners_px
        The box's corners in the photo.
    centre_mm
        The box's middle on the cloth.
    width_mm, height_mm
        Sides of the box along and across its own axis.
    angle_deg
        Turn of the box against the mm frame.
    sd_width_mm, sd_height_mm
        One standard deviation of each side.
    sd_edges_mm
        One standard deviation of where each edge lies, seen from the middle of the box.
    trust
        Probability, 0..1, that the box is the motif's and holds all of it.
    """

    corners_px: tuple[Point, ...]
    centre_mm: Point
    width_mm: float
    height_mm: float
    angle_deg: float
    sd_width_mm: float
    sd_height_mm: float
    sd_edges_mm: Sides
    trust: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The square proposed: finished and cut size, its place and turn on the garment.

    ``clearance_mm`` is the distance from motif to seam line on each side, negative where the seam
    line crosses the motif; None when there is no motif. ``cloth_short_mm`` is how far the cut
    square reaches beyond the cloth on each side, 0 where the cloth suffices to a seam's accuracy.
    """

    finished_mm: float
    finished: str
    cut_mm: float
    cut: str
    centre_mm: Point
    angle_deg: float
    seam_corners_px: tuple[Point, ...]
    cut_corners_px: tuple[Point, ...]
    clearance_mm: Sides | None
    p_clear: float | None
    cloth_short_mm: Sides

    @property
    def is_cutting(self) -> bool:
        """Whether the seam line crosses the motif."""
        return self.clearance_mm is not None and self.clearance_mm.least() < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How one finished size of the set would do, centred on the motif."""

    finished_mm: float
    finished: str
    least_clearance_mm: float
    p_clear: float
    clears: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """Everything known of one photo after sizing."""

    photo: str
    outcome: Outcome
    messages: tuple[Message, ...]
    reference: Reference | None
    plane: PlaneDigest | None
    garment: Garment | None
    motifs: tuple[Motif, ...]
    window: Window | None
    sizes: tuple[Size, ...]
    settings: Settings

    @property
    def is_too_small(self) -> bool:
        """Whether the square proposed should not be cut: it is all too likely too small.

        It cuts the motif, or keeps clear of it with less than even odds. A square that a person
        put in its place need only not cut.
        """
        if self.window is None:
            return False
        p_clear = self.window.p_clear
        is_unlikely = p_clear is not None and p_clear < P_LIKELY
        return self.window.is_cutting or (is_unlikely and self.settings.place is None)

    def says(self, codes: Set[str]) -> bool:
        """Tell whether there is a message of one of these codes."""
        return any(message.code in codes for message in self.messages)

    def to_dict(self) -> dict[str, Any]:
        """Return the record as JSON-ready values, the schema's name first."""
        return {"schema": SCHEMA, **asdict(self)}

    def to_json(self, *, indent: int | None = None) -> str:
        """Return the record as one JSON document; never NaN or infinity."""
        return json.dumps(self.to_dict(), indent=indent, allow_nan=False, ensure_ascii=False)

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> Self:
        """Read a record back.

        Raises
        ------
        ValueError
            If the data are not a record of this schema.
        """
        if data.get("schema") != SCHEMA:
            raise ValueError(f"not a record of {SCHEMA}: its schema is {data.get('schema')!r}")
        try:
            return cls(
                photo=str(data["photo"]),
                outcome=data["outcome"],
                messages=tuple(Message(**item) for item in data["messages"]),
                reference=_maybe(Reference, data["reference"]),
                plane=_maybe(PlaneDigest, data["plane"]),
                garment=_maybe(Garment, data["garment"]),
                motifs=tuple(_make(Motif, item) for item in data["motifs"]),
                window=_maybe(Window, data["window"]),
                sizes=tuple(Size(**item) for item in data["sizes"]),
                settings=_make(Settings, data["settings"]),
            )
        except (KeyError, TypeError, AttributeError, UsageError) as error:
            raise ValueError(f"not a whole record: {error}") from error

    @classmethod
    def from_json(cls, text: str) -> Self:
        """Read a record back from `to_json`.

        Raises
        ------
        ValueError
            If the text is not a record of this schema.
        """
        data = json.loads(text)
        if not isinstance(data, dict):
            raise ValueError("not a record: no JSON object")
        return cls.from_dict(data)


def settings_from_dict(data: Mapping[str, Any]) -> Settings:
    """Read settings as a record holds them.

    Raises
    ------
    ValueError
        If those are no settings of this version of the program.
    """
    try:
        return _make(Settings, dict(data))
    except (KeyError, TypeError, UsageError) as error:
        raise ValueError(f"no settings: {error}") from error


def refused_sizing(photo: str | os.PathLike[str], settings: Settings, message: Message) -> Sizing:
    """Return the record of a photo that cannot be measured, with the reason."""
    return Sizing(
        photo=str(photo),
        outcome="refused",
        messages=(message,),
        reference=None,
        plane=None,
        garment=None,
        motifs=(),
        window=None,
        sizes=(),
        settings=settings,
    )


T = TypeVar("T")

_PLACEHOLDER = re.compile(r"\\\{.*?\\\}")
"""A value's place in a text whose signs are escaped."""


def _frozen(value: Any) -> Any:
    """Turn lists into tuples, all the way down."""
    return tuple(_frozen(item) for item in value) if isinstance(value, list) else value


def _make(kind: type[T], data: dict[str, Any]) -> T:
    """Build one dataclass of the record from its JSON object."""
    names = {field.name for field in fields(kind)}  # type: ignore[arg-type]
    if names != set(data):
        raise KeyError(f"{kind.__name__} has {sorted(data)}, expected {sorted(names)}")
    values = {
        # Sides are the only objects inside the parts of a record
        name: Sides(**value) if isinstance(value, dict) else _frozen(value)
        for name, value in data.items()
    }
    return kind(**values)


def _maybe(kind: type[T], data: dict[str, Any] | None) -> T | None:
    """Build a dataclass, or keep None."""
    return None if data is None else _make(kind, data)
