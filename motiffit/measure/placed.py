"""Where the square goes; and one that a person put on the garment: how it does just there.

Pure arithmetic on the record's own types, as in `motiffit.measure.window`; a square put by hand may
be turned against the motif's box.
"""

from dataclasses import replace
from math import cos, hypot, radians, sin

import numpy as np
from numpy.typing import NDArray

from motiffit.measure.geometry import box_corners, rotate_vectors
from motiffit.measure.room import holds_square
from motiffit.measure.window import (
    Fit,
    clearance_at,
    fit_empty,
    fit_window,
    judge_cloth,
    judge_size,
    probability_clear,
)
from motiffit.record import Message, Motif, Point, Sides, Size, make_message
from motiffit.settings import Settings
from motiffit.units import format_length

__all__ = ["fit_placed", "fit_square", "placed_box", "turned_box"]


def fit_square(
    motif: Motif | None,
    outline_mm: NDArray[np.float64],
    upright_deg: float,
    settings: Settings,
    *,
    placed_mm: Point | None,
) -> Fit:
    """Place the square: where a person put it, round the motif, or where there is most cloth.

    Parameters
    ----------
    motif
        The motif; None where there is none.
    outline_mm, upright_deg
        The garment's outline on the cloth, and how far its up is turned.
    settings
        What was asked for; ``place`` tells the turn of a square that a person put.
    placed_mm
        The middle of that square on the cloth; None where nobody put one.
    """
    if placed_mm is not None and settings.place is not None:
        turn = settings.place[2]
        return fit_placed(motif, outline_mm, settings, centre_mm=placed_mm, angle_deg=turn)
    if motif is None:
        return fit_empty(outline_mm, upright_deg, settings)
    return fit_window(motif, outline_mm, settings)


def fit_placed(
    motif: Motif | None,
    outline_mm: NDArray[np.float64],
    settings: Settings,
    *,
    centre_mm: Point,
    angle_deg: float,
) -> Fit:
    """Take a person's place for the square and choose the smallest size that clears there.

    Parameters
    ----------
    motif
        The motif; None where there is none, which leaves the largest size that the cloth holds.
    outline_mm
        ``(N, 2)`` the garment's outline on the cloth, or empty when it is not known.
    settings
        Size set, seam allowance, clearance asked for, units.
    centre_mm, angle_deg
        The square's middle and turn in the mm frame.

    Returns
    -------
    Fit
        With the messages ``placed-cuts``, ``placed-close``, `SHORT_CODES` and, off the cloth,
        ``garment-unclear`` where they hold.
    """
    outline = rotate_vectors(outline_mm.reshape(-1, 2) - centre_mm, -angle_deg)
    if motif is None:
        finished = _largest_on(outline, settings)
        return _make_fit(finished, outline, settings, centre_mm, angle_deg, room=np.zeros(2))
    box, shift = placed_box(motif, centre_mm=centre_mm, angle_deg=angle_deg)
    sizes = tuple(judge_size(size, box, settings, shift) for size in settings.sizes_mm)
    size = next((size for size in sizes if size.clears), sizes[-1])
    clearance = clearance_at(size.finished_mm, box, shift)
    room = np.maximum(np.array([box.width_mm, box.height_mm]) / 2 - np.abs(shift), 0.0)
    fit = _make_fit(size.finished_mm, outline, settings, centre_mm, angle_deg, room=room)
    return replace(
        fit,
        clearance_mm=clearance,
        p_clear=probability_clear(clearance, box.sd_edges_mm, settings.clearance_mm),
        sizes=sizes,
        messages=(*_closeness(size, settings), *fit.messages),
    )


def placed_box(motif: Motif, *, centre_mm: Point, angle_deg: float) -> tuple[Motif, Point]:
    """Return the box that holds a motif at a square's turn, and how far the square lies off it.

    Parameters
    ----------
    motif
        The motif.
    centre_mm, angle_deg
        The square's middle and turn in the mm frame.

    Returns
    -------
    tuple
        The box, and the shift (mm) along its own axes from its middle to the square's.
    """
    box = turned_box(motif, angle_deg)
    away = rotate_vectors(np.subtract([centre_mm], box.centre_mm), -angle_deg)[0]
    return box, (float(away[0]), float(away[1]))


def turned_box(motif: Motif, angle_deg: float) -> Motif:
    """Return the box at another turn that just holds a motif's box.

    The corner that reaches farthest to a side lies on two edges of the motif's box, so the errors
    of both go into that side's.
    """
    corners = box_corners(motif.centre_mm, motif.width_mm, motif.height_mm, motif.angle_deg)
    local = rotate_vectors(corners, -angle_deg)
    low, high = local.min(axis=0), local.max(axis=0)
    middle = rotate_vectors((low + high)[None] / 2, angle_deg)[0]
    return replace(
        motif,
        centre_mm=(float(middle[0]), float(middle[1])),
        width_mm=float(high[0] - low[0]),
        height_mm=float(high[1] - low[1]),
        angle_deg=angle_deg,
        sd_edges_mm=_turned_sd(motif.sd_edges_mm, motif.angle_deg - angle_deg),
    )


def _turned_sd(own: Sides, turn_deg: float) -> Sides:
    """Error of each side of the box that holds a turned box."""
    quarters = round(turn_deg / 90)
    rest = radians(turn_deg - 90 * quarters)
    ring = (own.top, own.right, own.bottom, own.left)
    mixed = [
        hypot(cos(rest) * ring[(side - quarters) % 4], sin(rest) * max(ring)) for side in range(4)
    ]
    return Sides(top=mixed[0], right=mixed[1], bottom=mixed[2], left=mixed[3])


def _largest_on(outline: NDArray[np.float64], settings: Settings) -> float:
    """Return the largest size that lies on the cloth here; the smallest where none does."""
    held = [
        size
        for size in settings.sizes_mm
        if len(outline) >= 3
        and holds_square(outline, np.zeros((1, 2)), size / 2 + settings.seam_allowance_mm)[0]
    ]
    return held[-1] if held else settings.sizes_mm[0]


def _make_fit(
    finished_mm: float,
    outline: NDArray[np.float64],
    settings: Settings,
    centre_mm: Point,
    angle_deg: float,
    *,
    room: NDArray[np.float64],
) -> Fit:
    """Return a fit of which only the cloth is known; ``outline`` in the square's own frame."""
    half = finished_mm / 2 + settings.seam_allowance_mm
    short, words = judge_cloth(outline, half, room, settings)
    return Fit(
        finished_mm=finished_mm,
        centre_mm=centre_mm,
        angle_deg=angle_deg,
        clearance_mm=None,
        p_clear=None,
        cloth_short_mm=short,
        sizes=(),
        messages=words,
    )


def _closeness(size: Size, settings: Settings) -> tuple[Message, ...]:
    """Say where the motif comes too near to the seam line."""
    least = size.least_clearance_mm
    if size.clears:
        return ()
    if least < 0:
        return (make_message("placed-cuts", over=format_length(-least, settings.units)),)
    asked = format_length(settings.clearance_mm, settings.units)
    words = format_length(least, settings.units)
    return (make_message("placed-close", least=words, asked=asked),)
