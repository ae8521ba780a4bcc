"""The window: the smallest square that holds the motif, and where it lies on the cloth.

Pure arithmetic on the record's own types; no pixels.
"""

from dataclasses import asdict, dataclass
from math import ceil, erf, sqrt

import numpy as np
from numpy.typing import NDArray

from motiffit.measure.geometry import as_pairs, box_corners, rotate_vectors
from motiffit.measure.room import holds_square, missing_cloth, nearest_room
from motiffit.record import Message, Motif, Point, Sides, Size, make_message
from motiffit.settings import Settings
from motiffit.units import MM_PER_INCH, format_length

__all__ = [
    "NONE_SHORT",
    "P_CLEAR",
    "P_MAYBE",
    "SHORT_CODES",
    "Fit",
    "clearance_at",
    "fit_empty",
    "fit_window",
    "judge_cloth",
    "judge_size",
    "probability_clear",
]

P_CLEAR = 0.975
"""Least probability that the motif keeps its clearance in the size proposed (design)."""

SHORT_CODES = frozenset({"cloth-short", "cloth-short-at-motif"})
"""What is said of a square that lies partly off the cloth."""

P_MAYBE = 0.75
"""A smaller size that clears with at least this probability is named as a possibility. So nine in
ten of the sizes that raise no question are the smallest that holds the motif (docs/finder.md)."""

_SHORT_MM = 0.8
"""Missing cloth below this, half a sixteenth of an inch, is within the seam's own accuracy:
it counts as none."""

_EDGE_MM = 6.0
"""How far inside the garment's outline a moved square stops, where there is room: the outline is
off by 7 mm at the median (docs/finder.md), and hems are no ground for a seam."""

_LEAST_EDGE_MM = 3.0
"""A square that ends nearer to the outline than this is moved, and where it cannot be, a person is
asked to look: the cloth under its side is a matter of chance (docs/finder.md)."""

_LARGEST_NEEDED_MM = 1500.0
"""No garment is wider: the search for a size that would do ends here."""

_LACK = ", but the garment has no cloth for that"
"""What is said of a size that would do and is larger than the cloth about the motif."""

NONE_SHORT = Sides(top=0.0, right=0.0, bottom=0.0, left=0.0)
"""No cloth is missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Where the proposed square lies, before it is drawn into the photo.

    The attributes are those of `motiffit.record.Window`; ``finished_mm`` is None when there is
    nothing to propose.
    """

    finished_mm: float | None
    centre_mm: Point
    angle_deg: float
    clearance_mm: Sides | None
    p_clear: float | None
    cloth_short_mm: Sides
    sizes: tuple[Size, ...]
    messages: tuple[Message, ...]

    def square_corners(self, side_mm: float) -> tuple[Point, ...]:
        """Return corners, top-left first and clockwise, of a square of this side at this place."""
        return as_pairs(box_corners(self.centre_mm, side_mm, side_mm, self.angle_deg))


def fit_window(motif: Motif, outline_mm: NDArray[np.float64], settings: Settings) -> Fit:
    """Choose the smallest size that holds a motif and place it on the cloth.

    Parameters
    ----------
    motif
        The motif; the square follows its box's axis.
    outline_mm
        ``(N, 2)`` the garment's outline on the cloth, or empty when it is not known.
    settings
        Size set, seam allowance, clearance asked for, units.

    Returns
    -------
    Fit
        With messages where a person should look: ``motif-too-large``, ``size-doubtful``,
        ``cloth-scant``, ``window-shifted``, `SHORT_CODES`.
    """
    sizes = tuple(judge_size(size, motif, settings) for size in settings.sizes_mm)
    chosen = next((size for size in sizes if size.clears), None)
    messages = []
    if chosen is None:
        messages.append(_too_large(motif, outline_mm, settings))
        chosen = sizes[-1]
    elif maybe := [s for s in sizes if not s.clears and s.p_clear >= P_MAYBE]:
        messages.append(
            make_message("size-doubtful", finished=chosen.finished, smaller=maybe[-1].finished)
        )
    place = _place(chosen, motif, outline_mm, settings)
    clearance = clearance_at(chosen.finished_mm, motif, place.shift)
    return Fit(
        finished_mm=chosen.finished_mm,
        centre_mm=_moved(motif.centre_mm, place.shift, motif.angle_deg),
        angle_deg=motif.angle_deg,
        clearance_mm=clearance,
        p_clear=probability_clear(clearance, motif.sd_edges_mm, settings.clearance_mm),
        cloth_short_mm=place.short_mm,
        sizes=sizes,
        messages=(*messages, *place.messages),
    )


def fit_empty(outline_mm: NDArray[np.float64], angle_deg: float, settings: Settings) -> Fit:
    """Place the largest size that the cloth allows, for a garment without a motif.

    Parameters
    ----------
    outline_mm
        The garment's outline on the cloth, or empty when it is not known.
    angle_deg
        The garment's upright axis.
    settings
        Size set and seam allowance.
    """
    found: tuple[float, Point] | None = None
    if len(outline_mm) >= 3:
        local = rotate_vectors(outline_mm, -angle_deg)
        middle = (local.min(axis=0) + local.max(axis=0)) / 2
        reach = np.ptp(local, axis=0) / 2
        for finished in reversed(settings.sizes_mm):
            half = finished / 2 + settings.seam_allowance_mm
            spot = nearest_room(local, middle, half, -reach, reach)
            if spot is not None:
                found = finished, (float(spot[0]), float(spot[1]))
                break
    return Fit(
        finished_mm=found[0] if found else None,
        centre_mm=_moved((0.0, 0.0), found[1], angle_deg) if found else (0.0, 0.0),
        angle_deg=angle_deg,
        clearance_mm=None,
        p_clear=None,
        cloth_short_mm=NONE_SHORT,
        sizes=(),
        messages=() if found or len(outline_mm) < 3 else (make_message("no-cloth-for-any"),),
    )


def probability_clear(clearance: Sides, sd: Sides, asked_mm: float) -> float:
    """Return the probability that every edge of the motif keeps the clearance asked for.

    Edges err independently and normally: the probabilities multiply.

    Examples
    --------
    >>> ten = Sides(top=10, right=10, bottom=10, left=10)
    >>> probability_clear(ten, Sides(top=1, right=1, bottom=1, left=1), 10)
    0.0625
    """
    product = 1.0
    for name in ("top", "right", "bottom", "left"):
        spare, deviation = getattr(clearance, name) - asked_mm, getattr(sd, name)
        if deviation > 0:
            product *= 0.5 * (1 + erf(spare / deviation / sqrt(2)))
        elif not spare >= 0:
            product = 0.0
    return product


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """How far the square is moved off the motif's middle, and what cloth is missing there."""

    shift: Point
    short_mm: Sides
    messages: tuple[Message, ...] = ()


def judge_size(
    finished_mm: float, motif: Motif, settings: Settings, shift: Point = (0.0, 0.0)
) -> Size:
    """Say how a size does, moved off the motif's middle by a shift along its own axes (mm)."""
    clearance = clearance_at(finished_mm, motif, shift)
    p_clear = probability_clear(clearance, motif.sd_edges_mm, settings.clearance_mm)
    return Size(
        finished_mm=finished_mm,
        finished=format_length(finished_mm, settings.units),
        least_clearance_mm=clearance.least(),
        p_clear=p_clear,
        clears=p_clear >= P_CLEAR,
    )


def clearance_at(finished_mm: float, motif: Motif, shift: Point) -> Sides:
    """Return the distance from each edge of the motif to the seam line, mm."""
    spare_x = (finished_mm - motif.width_mm) / 2
    spare_y = (finished_mm - motif.height_mm) / 2
    return Sides(
        top=spare_y - shift[1],
        right=spare_x + shift[0],
        bottom=spare_y + shift[1],
        left=spare_x - shift[0],
    )


def _too_large(motif: Motif, outline_mm: NDArray[np.float64], settings: Settings) -> Message:
    """Say by how much the largest size cuts, which size would do, and whether cloth is there."""
    largest = settings.sizes_mm[-1]
    step = float(MM_PER_INCH / 2) if settings.units == "in" else 10.0
    counts = range(ceil(largest / step), ceil(_LARGEST_NEEDED_MM / step) + 1)
    larger = [judge_size(count * step, motif, settings) for count in counts]
    needed = next((size for size in larger if size.clears), larger[-1])
    over = max(motif.width_mm, motif.height_mm) + 2 * settings.clearance_mm - largest
    return make_message(
        "motif-too-large" if over > _SHORT_MM else "motif-maybe-too-large",
        largest=format_length(largest, settings.units),
        over=format_length(over, settings.units),
        needed=needed.finished,
        lack="" if _has_room(needed, motif, outline_mm, settings) else _LACK,
    )


def _about(motif: Motif, outline_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the outline (N, 2) from the motif's middle, along its axes."""
    return rotate_vectors(outline_mm - motif.centre_mm, -motif.angle_deg)


def _has_room(
    size: Size, motif: Motif, outline_mm: NDArray[np.float64], settings: Settings
) -> bool:
    """Tell whether the cut square of a size finds cloth about the motif; True if none is known."""
    if len(outline_mm) < 3:
        return True
    outline = _about(motif, outline_mm)
    half = size.finished_mm / 2 + settings.seam_allowance_mm
    reach = _reach(size, motif, settings)
    return nearest_room(outline, np.zeros(2), half, *reach) is not None


def _place(size: Size, motif: Motif, outline_mm: NDArray[np.float64], settings: Settings) -> _Place:
    """Move the square by as little as gives it cloth within the clearance; else say what lacks."""
    if len(outline_mm) < 3:
        return _Place(shift=(0.0, 0.0), short_mm=NONE_SHORT)
    outline = _about(motif, outline_mm)
    half = size.finished_mm / 2 + settings.seam_allowance_mm
    centre = np.zeros(2)
    if holds_square(outline, centre[None], half + _LEAST_EDGE_MM)[0]:
        return _Place(shift=(0.0, 0.0), short_mm=NONE_SHORT)
    if size.clears:
        reach = _reach(size, motif, settings)
        for spare_mm in (_EDGE_MM, _LEAST_EDGE_MM, 0.0):
            spot = nearest_room(outline, centre, half + spare_mm, *reach)
            if spot is not None:
                return _Place(
                    shift=(float(spot[0]), float(spot[1])),
                    short_mm=NONE_SHORT,
                    messages=_tell_moved(spot, spare_mm, settings),
                )
    room = np.array([motif.width_mm, motif.height_mm]) / 2
    short, words = judge_cloth(outline, half, room, settings)
    return _Place(shift=(0.0, 0.0), short_mm=short, messages=words)


def judge_cloth(
    outline: NDArray[np.float64], half_side: float, room: NDArray[np.float64], settings: Settings
) -> tuple[Sides, tuple[Message, ...]]:
    """Tell what cloth a square lacks where it lies, and what to say about it.

    Parameters
    ----------
    outline
        ``(N, 2)`` the garment's outline in the square's own frame, mm.
    half_side
        Half the cut square's side, mm.
    room
        ``(2,)`` half width and half height, mm, of what must stay whole in the middle.
    settings
        For the units of the words.
    """
    middle = np.zeros(2)
    if len(outline) < 3 or holds_square(outline, middle[None], half_side + _LEAST_EDGE_MM)[0]:
        return NONE_SHORT, ()
    if holds_square(outline, middle[None], half_side)[0]:
        return NONE_SHORT, (_tell_scant(settings),)
    if not holds_square(outline, middle[None], 0.0)[0]:
        return NONE_SHORT, (make_message("garment-unclear"),)
    missing = missing_cloth(outline, middle, half_side, room)
    short = Sides(**{name: mm if mm > _SHORT_MM else 0.0 for name, mm in asdict(missing).items()})
    # a piece's seam lies as far inside the seam line as its side lacks cloth
    beside = half_side - settings.seam_allowance_mm - room
    needed = np.array([max(short.left, short.right), max(short.top, short.bottom)])
    crosses = room.any() and (needed > np.maximum(beside, 0)).any()
    code = "cloth-short-at-motif" if crosses else "cloth-short"
    return short, _tell_short(short, settings, code) or (_tell_scant(settings),)


def _tell_moved(
    spot: NDArray[np.float64], spare_mm: float, settings: Settings
) -> tuple[Message, ...]:
    """Say how far the square is moved, and whether that leaves too little cloth beyond it."""
    messages = []
    if spare_mm < _LEAST_EDGE_MM:
        messages.append(_tell_scant(settings))
    if spot.any():
        distance = format_length(float(np.hypot(*spot)), settings.units)
        messages.append(make_message("window-shifted", shift=distance))
    return tuple(messages)


def _tell_scant(settings: Settings) -> Message:
    """Say that the square ends so near to the outline that its cloth is not sure."""
    return make_message("cloth-scant", least=format_length(_LEAST_EDGE_MM, settings.units))


def _tell_short(short: Sides, settings: Settings, code: str) -> tuple[Message, ...]:
    """Say on which sides cloth is missing; nothing where none is."""
    sides = ", ".join(
        f"{format_length(mm, settings.units)} at the {name}"
        for name, mm in asdict(short).items()
        if mm > 0
    )
    return (make_message(code, sides=sides),) if sides else ()


def _reach(
    size: Size, motif: Motif, settings: Settings
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far the square may move back and forth along x and y with the motif surely clear."""
    at_middle = clearance_at(size.finished_mm, motif, (0.0, 0.0))
    p_middle = probability_clear(at_middle, motif.sd_edges_mm, settings.clearance_mm)
    # p(x, y) p(0, 0) = p(x, 0) p(0, y): with this bound on each axis, any corner holds P_CLEAR
    bound = sqrt(P_CLEAR * p_middle)
    back, forth = np.zeros(2), np.zeros(2)
    for far, sign in ((back, -1.0), (forth, 1.0)):
        for axis in range(2):
            low, high = 0.0, size.finished_mm
            for _ in range(40):  # halves the interval to far below a micrometre
                middle = (low + high) / 2
                shift = (sign * middle, 0.0) if axis == 0 else (0.0, sign * middle)
                clearance = clearance_at(size.finished_mm, motif, shift)
                p = probability_clear(clearance, motif.sd_edges_mm, settings.clearance_mm)
                low, high = (middle, high) if p >= bound else (low, middle)
            far[axis] = sign * low
    return back, forth


def _moved(centre: Point, shift: Point, angle_deg: float) -> Point:
    """Move a point by a shift along the square's own axes."""
    dx, dy = rotate_vectors(np.array([shift]), angle_deg)[0]
    return (centre[0] + float(dx), centre[1] + float(dy))
