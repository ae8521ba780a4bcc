"""What the page shows of one garment, and how its points come back as corrections.

The page draws in the garment's upright frame: the record's mm frame turned about its origin until
the garment is upright. All lengths are mm, all angles degrees clockwise from upright.
"""

from collections.abc import Mapping
from math import hypot
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from motiffit.corrections import CORRECTABLE, FLAGS, Corrections
from motiffit.measure.geometry import as_pairs, as_points, box_corners, rotate_vectors
from motiffit.record import Message, Motif, Size, Sizing, Window
from motiffit.review.jobs import Opened
from motiffit.review.words import least_words, outcome_of, page_text
from motiffit.settings import Settings
from motiffit.show.words import (
    format_down,
    format_up,
    motif_words,
    outcome_words,
    percent_words,
    reference_words,
)
from motiffit.units import Units, format_length, format_side, parse_length

__all__ = ["read_changes", "said_words", "sheet"]

_BEYOND_MM = 150.0
"""How far from the picture a person may still put something."""
_TOO_SMALL = {"motif-too-large", "motif-maybe-too-large"}
_LEAST_BOX_MM = 3.0
_SAME_MM = 0.01  # sizes that differ by less are one
_MOST_LETTERS = 40  # of a length
_MOST_TURNED_DEG = 1e4  # by somebody who turns the square round and round

_EYE_SD_MM = 0.5
"""How exactly an eye sees where print ends on cloth, however large the picture. An edge drawn by
hand lies within a pixel of the screen as well (one standard deviation each; estimates)."""
_COARSEST_PX_MM = 20.0  # of a screen that shows the widest view on a phone
_SIDES = ("top", "right", "bottom", "left")


def sheet(opened: Opened, sizing: Sizing, free: Sizing) -> dict[str, Any]:
    """Return everything that changes while a person drags: JSON-ready.

    Parameters
    ----------
    opened
        The photo on the table.
    sizing
        The answer with the person's words.
    free
        As ``sizing``, but with the size left to the program: how each size would do here.
    """
    upright, own = _upright(opened), opened.own
    window, motif = sizing.window, sizing.motifs[0] if sizing.motifs else None
    units = sizing.settings.units
    return {
        "outcome": outcome_of(sizing),
        "words": outcome_words(sizing),
        "window": _window(window, upright),
        "motif": motif and {**_box(motif, upright), "words": motif_words(motif, units)},
        "motifs": [
            {**_box(other, upright), "words": motif_words(other, units, brief=True)}
            for other in own.motifs
        ],
        "own_window": _window(own.window, upright),
        "clearance": _clearance(window, sizing.settings),
        "certainty": _certainty(sizing),
        "square": ": ".join(reference_words(sizing)),
        "sizes": _sizes(free, window, units),
        "messages": [
            {"severity": item.severity, "text": _text(item, sizing, free)}
            for item in sizing.messages
        ],
    }


def frame(opened: Opened) -> dict[str, Any]:
    """Return what stays the same while a person drags."""
    upright, flat, cloth = _upright(opened), opened.flat, opened.survey.cloth
    return {
        "left": flat.left_mm,
        "top": flat.top_mm,
        "width": flat.width_mm,
        "height": flat.height_mm,
        "outline": _turned(cloth.outline_mm, upright),
    }


def said_words(said: Corrections, units: Units) -> dict[str, Any]:
    """Return what a person said, as the page's fields need it."""
    return {
        "side": "" if said.side_mm is None else format_side(said.side_mm, units),
        **{name: getattr(said, name) for name in ("garment", "note", "keep", "size_mm", *FLAGS)},
        "has_box": said.outline_px is not None,
        "has_place": said.place is not None,
        "pick": said.pick,
        "no_motif": bool(said.no_motif),
        "revision": said.revision,
    }


def read_changes(changes: Mapping[str, Any], opened: Opened | None, units: Units) -> dict[str, Any]:
    """Turn what the page sends into fields of `Corrections`; ``restore`` holds such fields.

    Parameters
    ----------
    changes
        What the page sends.
    opened
        The photo on the table; needed for ``box`` and ``place`` only.
    units
        Of lengths without a unit.

    Raises
    ------
    ValueError
        For a field or a value that the page never sends, or a length that cannot be read.
    """
    told: dict[str, Any] = {}
    for name, value in changes.items():
        if name == "restore":
            told |= _restored(value)
        elif name == "box":
            told |= _outline(value, opened)
        elif name == "place":
            told["place"] = value and _place_px(value, _required(opened))
        elif name == "side":
            told["side_mm"] = value and _side_mm(value, units)
        elif name in ("garment", "note", "keep", "size_mm", "pick", "no_motif", *FLAGS):
            told[name] = value
        else:
            raise ValueError(f"not something the page says: {name}")
    return told


def _restored(fields: object) -> dict[str, Any]:
    """Check the fields that an undo brings back; `Corrections` checks their values."""
    if not isinstance(fields, dict) or not set(fields) <= set(CORRECTABLE):
        raise ValueError("not fields that can be brought back")
    return fields


def _required(opened: Opened | None) -> Opened:
    """Return the photo on the table."""
    if opened is None:
        raise ValueError("this photo could not be measured")
    return opened


def _side_mm(words: object, units: Units) -> float:
    """Read how large a reference square is."""
    if not isinstance(words, str) or len(words) > _MOST_LETTERS:
        raise ValueError("a length is a short text")
    return float(parse_length(words, units))


def _number(value: object, most: float) -> float:
    """Read a number of no more than so much, either way."""
    if type(value) not in (int, float) or not -most <= value <= most:  # type: ignore[operator]
        raise ValueError("not a number that the page sends")
    return float(value)  # type: ignore[arg-type]


def _outline(box: object, opened: Opened | None) -> dict[str, Any]:
    """Return a box's corners in the photo, and how exact a hand can be at the page's scale."""
    if box is None:
        return {"outline_px": None, "outline_sd_mm": None}
    if not isinstance(box, dict):
        raise ValueError("a box has corners and a scale")
    px_mm = _number(box.get("px_mm"), _COARSEST_PX_MM)
    if px_mm <= 0:
        raise ValueError("a box is drawn at some scale")
    corners = _corners_px(box.get("corners"), _required(opened))
    return {"outline_px": corners, "outline_sd_mm": hypot(_EYE_SD_MM, px_mm)}


def _corners_px(corners: object, opened: Opened) -> list[list[float]]:
    """Return a box's corners in the photo."""
    points = _points_mm(corners, opened)
    if len(points) != 4:
        raise ValueError("a box has four corners")
    sides = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1)
    if sides.min() < _LEAST_BOX_MM:
        raise ValueError("the box is too small to hold anything")
    return [[x, y] for x, y in as_pairs(opened.survey.plane.to_px(points))]


def _place_px(place: object, opened: Opened) -> list[float]:
    """Return the square's middle in the photo, and its turn in the mm frame."""
    if not isinstance(place, dict):
        raise ValueError("a place has a middle and an angle")
    points = _points_mm([place.get("middle")], opened)
    x, y = as_pairs(opened.survey.plane.to_px(points))[0]
    angle = _number(place.get("angle"), _MOST_TURNED_DEG) + _upright(opened)
    return [x, y, (angle + 180.0) % 360.0 - 180.0]


def _points_mm(points: object, opened: Opened) -> NDArray[np.float64]:
    """Read points of the page that lie in or near the picture; in the mm frame."""
    try:
        local = as_points(points)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError) as error:
        raise ValueError("not points of the picture") from error
    flat = opened.flat
    low = np.array([flat.left_mm, flat.top_mm]) - _BEYOND_MM
    high = low + np.array([flat.width_mm, flat.height_mm]) + 2 * _BEYOND_MM
    if not ((local >= low) & (local <= high)).all():
        raise ValueError("far outside the picture")
    return rotate_vectors(local, _upright(opened))


def _upright(opened: Opened) -> float:
    """Return the garment's turn in the mm frame."""
    return opened.survey.cloth.upright_deg


def _turned(points_mm: ArrayLike, upright_deg: float) -> list[list[float]]:
    """Return points of the mm frame in the upright frame, to a hundredth of a mm."""
    points = np.asarray(points_mm, float).reshape(-1, 2)
    return np.round(rotate_vectors(points, -upright_deg), 2).tolist()  # type: ignore[no-any-return]


def _box(motif: Motif, upright_deg: float) -> dict[str, Any]:
    """Return a motif's box."""
    return {
        "middle": _turned([motif.centre_mm], upright_deg)[0],
        "width": motif.width_mm,
        "height": motif.height_mm,
        "angle": motif.angle_deg - upright_deg,
    }


def _window(window: Window | None, upright_deg: float) -> dict[str, Any] | None:
    """Return a square's lines."""
    if window is None:
        return None
    turn, centre = window.angle_deg, window.centre_mm
    seam = box_corners(centre, window.finished_mm, window.finished_mm, turn)
    cut = box_corners(centre, window.cut_mm, window.cut_mm, turn)
    return {
        "middle": _turned([centre], upright_deg)[0],
        "angle": turn - upright_deg,
        "finished": window.finished,
        "finished_mm": window.finished_mm,
        "cut": window.cut,
        "cut_mm": window.cut_mm,
        "seam_corners": _turned(seam, upright_deg),
        "cut_corners": _turned(cut, upright_deg),
    }


def _clearance(window: Window | None, settings: Settings) -> dict[str, Any] | None:
    """Return the distance from motif to seam line on each side, with what it means."""
    if window is None or window.clearance_mm is None:
        return None
    units, sides = settings.units, {}
    for side in _SIDES:
        length = getattr(window.clearance_mm, side)
        state = "cuts" if length < 0 else "close" if length < settings.clearance_mm else "clear"
        words = format_up(-length, units) if length < 0 else format_down(length, units)
        cloth = _missing_cloth(length, getattr(window.cloth_short_mm, side), units)
        sides[side] = {"mm": length, "words": words, "state": state, "cloth": cloth}
    return sides


def _missing_cloth(clearance_mm: float, short_mm: float, units: Units) -> dict[str, Any] | None:
    """Return how much cloth is missing on a side, if it shows on a ruler, and what that means.

    The piece that is sewn on there has its seam as far inside the seam line as cloth is missing.
    """
    words = format_length(short_mm, units)
    if words == format_length(0.0, units):
        return None
    return {"words": words, "state": "cuts" if short_mm > clearance_mm else "close"}


def _text(message: Message, sizing: Sizing, free: Sizing) -> str:
    """Return a message; of a size that a person chose, another one may well do."""
    others = {size.finished: size.clears for size in free.sizes}
    chosen, other = sizing.window, free.window
    if message.code in _TOO_SMALL and chosen and other and others.get(other.finished):
        return (
            f"{chosen.finished}, the size that you chose, is too small for the motif: "
            f"{other.finished} would do."
        )
    return page_text(message)


def _certainty(sizing: Sizing) -> str:
    """Say how sure it is that the motif stays clear, unless a seam is sure to cross it.

    Nor is anything said of a motif of which the photo shows a part.
    """
    window, is_cut = sizing.window, sizing.says({"motif-cut"})
    if window is None or window.p_clear is None or window.is_cutting or is_cut:
        return ""
    sides = _clearance(window, sizing.settings) or {}
    if any(side["cloth"] and side["cloth"]["state"] == "cuts" for side in sides.values()):
        return ""
    asked = format_length(sizing.settings.clearance_mm, sizing.settings.units)
    words = percent_words(window.p_clear).capitalize()
    return f"{words} sure that {asked} stays clear on every side"


def _sizes(free: Sizing, window: Window | None, units: Units) -> list[dict[str, Any]]:
    """Return every size of the set, how it would do, and which one is shown."""
    shown_mm = window.finished_mm if window else 0.0
    judged = {size.finished_mm: size for size in free.sizes}
    held_mm = free.window.finished_mm if free.window else 0.0  # by the cloth, without a motif
    sizes = []
    for mm in free.settings.sizes_mm:
        state, why = _judged(judged.get(mm), is_held=mm <= held_mm, units=units)
        words, is_shown = format_length(mm, units), abs(mm - shown_mm) < _SAME_MM
        sizes.append({"mm": mm, "words": words, "state": state, "why": why, "is_shown": is_shown})
    return sizes


def _judged(size: Size | None, *, is_held: bool, units: Units) -> tuple[str, str]:
    """Say how a size would do: clear, close or cuts, and why; by the cloth without a motif."""
    if size is None:
        return ("clear", "") if is_held else ("close", "too little cloth")
    words = least_words(size.least_clearance_mm, units)
    if size.least_clearance_mm < 0:
        return "cuts", words
    return ("clear", words) if size.clears else ("close", f"too tight to be sure, {words}")
