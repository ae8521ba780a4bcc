"""Strips round a centre: what is sewn where, how long each strip is cut, and where it ends up.

One rule makes every block. A strip is as long as the side that it is sewn to, and it makes the
block wider on that side by its finished width. Lengths are exact fractions of a millimetre.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import cycle, islice
from typing import Literal

__all__ = [
    "CONSTRUCTIONS",
    "SIDES",
    "Block",
    "Construction",
    "Frame",
    "Side",
    "Strip",
    "build_block",
    "join_widths",
    "order_of_sides",
]

Side = Literal["top", "right", "bottom", "left"]
Construction = Literal["log-cabin", "courthouse"]

SIDES: tuple[Side, ...] = ("top", "right", "bottom", "left")
CONSTRUCTIONS: tuple[Construction, ...] = ("log-cabin", "courthouse")


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """An upright rectangle of the finished block, measured from the block's top left corner."""

    left_mm: Fraction
    top_mm: Fraction
    width_mm: Fraction
    height_mm: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One strip in sewing order.

    Attributes
    ----------
    order
        Place in the sewing order, from 1.
    half_round
        Half round that the strip belongs to, from 1: two strips, on neighbouring sides in a log
        cabin, on opposite sides in courthouse steps.
    side : {'top', 'right', 'bottom', 'left'}
        Where it is sewn on.
    width_mm, length_mm
        As it shows in the finished block.
    cut_width_mm, cut_length_mm
        As it is cut.
    place
        Where it lies in the finished block.
    """

    order: int
    half_round: int
    side: Side
    width_mm: Fraction
    length_mm: Fraction
    cut_width_mm: Fraction
    cut_length_mm: Fraction
    place: Frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A centre with its strips.

    Attributes
    ----------
    centre_mm, cut_centre_mm
        Side of the centre, finished and cut.
    width_mm, height_mm
        The finished block. They differ only where a round is not complete.
    cut_width_mm, cut_height_mm
        The block as it leaves the ironing board, seam allowance included.
    half_rounds
        How many half rounds were sewn.
    strips
        In sewing order.
    centre_place
        Where the centre lies in the finished block.
    shrink_mm
        By how much the block would come out too small had the strips not been cut wider for the
        take-up of their seams.
    """

    construction: Construction
    centre_mm: Fraction
    cut_centre_mm: Fraction
    width_mm: Fraction
    height_mm: Fraction
    cut_width_mm: Fraction
    cut_height_mm: Fraction
    half_rounds: int
    strips: tuple[Strip, ...]
    centre_place: Frame
    shrink_mm: Fraction

    @property
    def is_centred(self) -> bool:
        """Whether the centre lies in the middle of the block."""
        across = 2 * self.centre_place.left_mm + self.centre_mm == self.width_mm
        return across and 2 * self.centre_place.top_mm + self.centre_mm == self.height_mm


def order_of_sides(
    construction: Construction, *, first_side: Side = "top", is_clockwise: bool = True
) -> tuple[Side, ...]:
    """Return the four sides of one round in the order in which strips are sewn on.

    Examples
    --------
    >>> order_of_sides("log-cabin")
    ('top', 'right', 'bottom', 'left')
    >>> order_of_sides("courthouse", first_side="left")
    ('left', 'right', 'top', 'bottom')
    """
    first = SIDES.index(first_side)
    step = 1 if is_clockwise else -1
    steps = (0, 1, 2, 3) if construction == "log-cabin" else (0, 2, 1, 3)
    return tuple(SIDES[(first + step * n) % 4] for n in steps)


def join_widths(cut_widths_mm: Sequence[Fraction], allowance_mm: Fraction) -> Fraction:
    """Return the width of pieces sewn side by side, outer raw edges included.

    Each seam takes its allowance from both pieces.

    Examples
    --------
    >>> join_widths([Fraction(3, 2)] * 3, Fraction(1, 4))
    Fraction(7, 2)
    """
    return sum(cut_widths_mm, Fraction(0)) - 2 * allowance_mm * (len(cut_widths_mm) - 1)


def build_block(
    centre_mm: Fraction,
    strips_mm: Sequence[Fraction],
    half_rounds: int,
    *,
    seam_allowance_mm: Fraction,
    seam_take_up_mm: Fraction = Fraction(0),
    construction: Construction = "log-cabin",
    first_side: Side = "top",
    is_clockwise: bool = True,
) -> Block:
    """Sew half rounds of strips round a centre.

    Parameters
    ----------
    centre_mm
        Finished side of the centre.
    strips_mm
        Finished strip widths, used in turn and again from the start: one for each half round of a
        log cabin, one for each full round of courthouse steps.
    half_rounds
        How many half rounds; 0 leaves the centre as it is.
    seam_allowance_mm
        Cloth beyond the seam line.
    seam_take_up_mm
        Cloth that each seam swallows over and above its allowance, in the fold of the pressed
        seam. Every strip is cut wider by it, so that the block keeps its size.
    construction, first_side, is_clockwise
        See `order_of_sides`.

    Raises
    ------
    ValueError
        If there are half rounds but no strip width, or a length is not positive.
    """
    if half_rounds and not strips_mm:
        raise ValueError("half rounds need a strip width")
    if centre_mm <= 0 or half_rounds < 0 or any(width <= 0 for width in strips_mm):
        raise ValueError("a centre and its strips must be wider than nothing")
    sides = order_of_sides(construction, first_side=first_side, is_clockwise=is_clockwise)
    widths = _widths_in_turn(strips_mm, half_rounds, construction)
    centre, *places = _grow(centre_mm, list(zip(cycle(sides), widths, strict=False)))
    bounds = _bounds([centre, *places])
    origin = (bounds.left_mm, bounds.top_mm)
    sewn = zip(cycle(sides), places, strict=False)
    added = 2 * seam_allowance_mm
    strips = tuple(
        _make_strip(number, side, _moved(place, origin), added, seam_take_up_mm)
        for number, (side, place) in enumerate(sewn, start=1)
    )
    return Block(
        construction=construction,
        centre_mm=centre_mm,
        cut_centre_mm=centre_mm + added,
        width_mm=bounds.width_mm,
        height_mm=bounds.height_mm,
        cut_width_mm=bounds.width_mm + added,
        cut_height_mm=bounds.height_mm + added,
        half_rounds=half_rounds,
        strips=strips,
        centre_place=_moved(centre, origin),
        shrink_mm=seam_take_up_mm * half_rounds,
    )


def _widths_in_turn(
    strips_mm: Sequence[Fraction], half_rounds: int, construction: Construction
) -> list[Fraction]:
    """Finished width of each strip in sewing order."""
    per_width = 2 if construction == "log-cabin" else 4
    repeated = (width for width in cycle(strips_mm) for _ in range(per_width))
    return list(islice(repeated, 2 * half_rounds))


def _grow(centre_mm: Fraction, additions: Iterable[tuple[Side, Fraction]]) -> list[Frame]:
    """Places of the centre and of each strip, measured from the centre's corner."""
    left = top = Fraction(0)
    right = bottom = centre_mm
    frames = [_frame(left, top, right, bottom)]
    for side, width in additions:
        if side == "top":
            frames.append(_frame(left, top - width, right, top))
            top -= width
        elif side == "right":
            frames.append(_frame(right, top, right + width, bottom))
            right += width
        elif side == "bottom":
            frames.append(_frame(left, bottom, right, bottom + width))
            bottom += width
        else:
            frames.append(_frame(left - width, top, left, bottom))
            left -= width
    return frames


def _frame(left: Fraction, top: Fraction, right: Fraction, bottom: Fraction) -> Frame:
    """Make the rectangle between four lines."""
    return Frame(left_mm=left, top_mm=top, width_mm=right - left, height_mm=bottom - top)


def _bounds(frames: Sequence[Frame]) -> Frame:
    """Smallest rectangle round all of them."""
    return _frame(
        min(frame.left_mm for frame in frames),
        min(frame.top_mm for frame in frames),
        max(frame.left_mm + frame.width_mm for frame in frames),
        max(frame.top_mm + frame.height_mm for frame in frames),
    )


def _moved(frame: Frame, origin: tuple[Fraction, Fraction]) -> Frame:
    """Measure the rectangle from another origin."""
    return replace(frame, left_mm=frame.left_mm - origin[0], top_mm=frame.top_mm - origin[1])


def _make_strip(
    number: int, side: Side, place: Frame, added_mm: Fraction, take_up_mm: Fraction
) -> Strip:
    """Strip that covers a place: its length lies along the side it is sewn to."""
    length, width = place.width_mm, place.height_mm
    if side in ("left", "right"):
        length, width = width, length
    return Strip(
        order=number,
        half_round=(number + 1) // 2,
        side=side,
        width_mm=width,
        length_mm=length,
        cut_width_mm=width + added_mm + take_up_mm,
        cut_length_mm=length + added_mm,
        place=place,
    )
