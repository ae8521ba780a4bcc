"""Finding the reference square: a coded card, or a plain square of known side."""

from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.errors import Refusal
from motiffit.marker import MODULES_PER_SIDE, side_mm_of
from motiffit.measure.cards import Card, find_cards, is_card_cut, is_card_unread
from motiffit.measure.covered import look_inside
from motiffit.measure.edges import (
    CLEAR_SHARE,
    Marks,
    SquareFit,
    fit_square,
    mark_borders,
    mark_outline,
    spread_corners,
)
from motiffit.measure.photo import Photo
from motiffit.measure.squares import find_squares, split_colours
from motiffit.record import Message, Reference, make_message
from motiffit.settings import Settings

__all__ = ["FoundReference", "find_reference"]

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

_LEAST_SIDE_PX = 24.0  # three pixels per module of the marker: below, its code cannot be read
_SMALL_SIDE_PX = 80.0  # below, the edges alone leave over 1 % at two sides' distance (domain notes)
_RIM_PX = 3.0  # a corner nearer to the photo's edge may well be cut off
_WORST_SCATTER_PX = 1.0
_LEAST_SEEN = 0.5  # share of an edge that must be seen
_WHOLE_SEEN = 0.9  # share below which it is mentioned
_LOOKS_INSIDE = 2  # about the corners of the look before
_FARTHEST = 0.2  # of a side that a corner may lie from where it was seen: covers of 15 % are read


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundReference:
    """The reference square in the photo.

    Attributes
    ----------
    kind : {'card', 'square'}
        A coded card, or a plain square of known side.
    side_mm
        The side of the square.
    corners_px
        (4, 2) full pixels, clockwise from the top left, read-only.
    marks
        What the plane is solved from.
    messages
        What to look at.
    coded_mm
        The side that the card's code tells; None where it tells none.
    """

    kind: Literal["card", "square"]
    side_mm: float
    corners_px: Floats
    marks: Marks
    messages: tuple[Message, ...]
    coded_mm: float | None = None

    def digest(self) -> Reference:
        """Return what the record keeps."""
        corners = tuple((float(x), float(y)) for x, y in self.corners_px)
        return Reference(kind=self.kind, side_mm=self.side_mm, corners_px=corners)


def find_reference(photo: Photo, settings: Settings) -> FoundReference:
    """Find the coded card or, where a side is given and no card is in view, a plain square.

    Raises
    ------
    Refusal
        If none or several are found, or it cannot be measured from.
    """
    grey = np.asarray(cv2.cvtColor(photo.picture, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    cards = find_cards(grey)
    if len(cards) > 1:
        raise Refusal("reference-several", count=len(cards))
    if cards:
        return _measure_card(photo, grey, cards[0], settings)
    if is_card_cut(grey):
        raise Refusal("reference-cut")
    if is_card_unread(grey):  # any other square in view would pass for it
        raise Refusal("reference-unread")
    if settings.side_mm is None:
        raise Refusal("no-reference")
    return _measure_plain(photo, settings.side_mm)


def _measure_card(photo: Photo, grey: Grey, card: Card, settings: Settings) -> FoundReference:
    """Measure a coded card."""
    coded = side_mm_of(card.marker_id)
    coded_mm = None if coded is None else float(coded)
    side_mm = settings.side_mm or coded_mm
    if side_mm is None:
        raise Refusal("reference-unknown-side", marker_id=card.marker_id)
    side_px = _check_place(photo, card.corners)
    fit = fit_square(
        grey, card.corners, reach=0.4 * side_px / MODULES_PER_SIDE, clear_share=CLEAR_SHARE
    )
    marks = mark_borders(photo, grey, fit.corners, card.modules)
    inside = look_inside(photo.to_full(fit.corners), marks)
    if inside.is_covered:
        corners_px, marks = _measure_inside(photo, grey, card, inside.corners_px)
    else:
        corners_px = spread_corners(photo, fit.corners, marks)
    found = _judge(photo, fit, marks, corners_px, kind="card", side_mm=side_mm)
    covered = (make_message("reference-covered"),) if inside.is_covered else ()
    return replace(found, coded_mm=coded_mm, messages=(*covered, *found.messages))


def _measure_inside(
    photo: Photo, grey: Grey, card: Card, corners_px: Floats
) -> tuple[Floats, Marks]:
    """Return corners and marks of a card by the borders within it: something covers an edge."""
    for _ in range(_LOOKS_INSIDE):
        _check_like(corners_px, photo.to_full(card.corners))
        marks = mark_borders(photo, grey, photo.to_picture(corners_px), card.modules)
        inside = look_inside(corners_px, marks)
        corners_px = inside.corners_px
    _check_like(corners_px, photo.to_full(card.corners))
    return corners_px, marks.of(~inside.astray)


def _check_like(corners_px: Floats, seen_px: Floats) -> None:
    """Refuse corners that lie nowhere near those seen."""
    near = np.abs(corners_px - seen_px).max() < _FARTHEST * _least_side(seen_px)
    if not near:  # or no number
        raise Refusal("reference-unclear")


def _measure_plain(photo: Photo, side_mm: float) -> FoundReference:
    """Find and measure a plain square."""
    squares = find_squares(photo)
    if len(squares) > 1:
        raise Refusal("reference-several", count=len(squares))
    if not squares:
        raise Refusal("no-reference")
    side_px = _check_place(photo, squares[0])
    colours = split_colours(photo.picture, squares[0])
    fit = fit_square(colours.separated, squares[0], reach=min(4.0, 0.1 * side_px), clear_share=0.15)
    marks = mark_outline(photo, fit, dark_inside=colours.dark_inside)
    corners_px = photo.to_full(fit.corners)
    return _judge(photo, fit, marks, corners_px, kind="square", side_mm=side_mm)


def _check_place(photo: Photo, corners: Floats) -> float:
    """Return the shortest side in pixels of the picture; refuse it too small or cut off."""
    height, width = photo.picture.shape[:2]
    rim = min(corners.min(), (np.array([width, height]) - 1 - corners).min())
    if rim < _RIM_PX:
        raise Refusal("reference-cut")
    side_px = _least_side(corners)
    if side_px * photo.full_per_px < _LEAST_SIDE_PX:
        raise Refusal(
            "reference-too-small",
            side_px=side_px * photo.full_per_px,
            least_px=_LEAST_SIDE_PX,
        )
    return side_px


def _least_side(corners: Floats) -> float:
    """Return the length of the shortest side."""
    return float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min())


def _judge(
    photo: Photo,
    fit: SquareFit,
    marks: Marks,
    corners_px: Floats,
    *,
    kind: Literal["card", "square"],
    side_mm: float,
) -> FoundReference:
    """Refuse what cannot be measured from, and say what makes it less certain."""
    if fit.seen < _LEAST_SEEN or fit.scatter > _WORST_SCATTER_PX:
        raise Refusal("reference-unclear")
    messages = []
    if fit.seen < _WHOLE_SEEN:
        messages.append(make_message("reference-glare", percent=100 * (1 - fit.seen)))
    side_px = _least_side(fit.corners) * photo.full_per_px
    if side_px < _SMALL_SIDE_PX:
        messages.append(make_message("reference-small", side_px=side_px))
    corners_px.flags.writeable = False
    return FoundReference(
        kind=kind,
        side_mm=side_mm,
        corners_px=corners_px,
        marks=marks,
        messages=tuple(messages),
    )
