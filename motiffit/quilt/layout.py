"""Which block goes where: sizes and colours spread evenly, wishes of the quilter first.

Every pair of blocks close to one another costs the more the more alike they are, the closer they
lie; groups that belong together cost by how far apart they lie, groups to keep apart by how near.
Simulated annealing swaps blocks until the cost no longer falls (Kirkpatrick, Gelatt and Vecchi,
Science 220, 1983, 671-680). The same seed gives the same layout.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, exp, tau
from random import Random

from motiffit.quilt.board import Board, inverse
from motiffit.quilt.centre import Centre
from motiffit.quilt.options import Arrangement
from motiffit.quilt.strips import Side

__all__ = ["Cell", "Layout", "arrange"]

_STEPS_PER_CELL, _MOST_STEPS = 600, 60_000
_HOTTEST, _COLDEST = 1.0, 0.005
_RANDOM_LAYOUTS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One place of the quilt, row and column from 1.

    ``photo`` is None for a plain block; ``first_side`` is where the block's first strip goes.
    """

    row: int
    column: int
    photo: str | None
    is_pinned: bool
    first_side: Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """All places, row by row.

    Attributes
    ----------
    cells
        Row by row.
    spare
        Photos of garments that have no place.
    cost
        What the layout costs in all, broken wishes included; lower is better.
    spread_cost
        The part of it that comes from neighbours being alike.
    random_spread_cost
        The same for blocks laid out at random, on average.
    unmet
        Wishes for a place, or to lie together or apart, that could not be met, in words.
    seed
        Start of the random choices.
    """

    cells: tuple[Cell, ...]
    spare: tuple[str, ...]
    cost: float
    spread_cost: float
    random_spread_cost: float
    unmet: tuple[str, ...]
    seed: int


def arrange(
    centres: Sequence[Centre],
    first_sides: Sequence[Side],
    columns: int,
    *,
    seed: int,
    arrangement: Arrangement = "spread",
) -> Layout:
    """Lay blocks out.

    Parameters
    ----------
    centres
        The garments. Where they are more than the places, those pinned come first, then those
        whose sizing is sure, in the order given.
    first_sides
        Side of the first strip at each place, row by row.
    columns
        How many places are in a row.
    seed
        Start of the random choices.
    arrangement : {'spread', 'rows', 'outward'}
        ``spread``: sizes and colours evenly spread. ``rows``: in the order given, row by row.
        ``outward``: in the order given from the middle outward, as for clothes by age.

    A pin outside the grid, and the later of two pins on one place, are wishes not met.
    """
    places = len(first_sides)
    rows = places // columns
    pins, unmet_pins = _pins(centres, rows, columns)
    ranked = sorted(range(len(centres)), key=lambda n: (n not in pins, centres[n].needs_an_eye))
    chosen = sorted(ranked[:places])
    board = Board([centres[n] for n in chosen], rows, columns)
    pinned = {board_n: pins[n] for board_n, n in enumerate(chosen) if n in pins}
    rng = Random(seed)
    start = _start(board, pinned, arrangement)
    random_cost = _random_cost(board, start, pinned, rng)
    order = _anneal(board, start, pinned, rng) if arrangement == "spread" else start
    return Layout(
        cells=_cells(board, order, set(pinned), first_sides),
        spare=tuple(centres[n].photo for n in sorted(ranked[places:])),
        cost=board.cost(order),
        spread_cost=board.spread_cost(order),
        random_spread_cost=random_cost,
        unmet=(*unmet_pins, *board.unmet(order)),
        seed=seed,
    )


def _pins(
    centres: Sequence[Centre], rows: int, columns: int
) -> tuple[dict[int, int], tuple[str, ...]]:
    """Place of each pinned garment, and pins that cannot be: other garments may have left since."""
    pins: dict[int, int] = {}
    unmet: list[str] = []
    for number, centre in enumerate(centres):
        if centre.note.place is None:
            continue
        row, column = centre.note.place
        place = (row - 1) * columns + column - 1
        if not (1 <= row <= rows and 1 <= column <= columns):
            unmet.append(
                f"{centre.name} is pinned to row {row}, column {column}, but the quilt has "
                f"{rows} rows of {columns}"
            )
        elif place in pins.values():
            unmet.append(f"{centre.name} is the second block pinned to row {row}, column {column}")
        else:
            pins[number] = place
    return pins, tuple(unmet)


def _start(board: Board, pinned: dict[int, int], arrangement: Arrangement) -> list[int]:
    """First order: pins in place, the others along a path; to be spread, groups come first."""
    groups = board.together.values() if arrangement == "spread" else ()
    grouped = [block for group in groups for block in group]
    queue = [block for block in grouped if block not in pinned]
    queue += [n for n in range(board.places) if n not in pinned and n not in queue]
    order = [-1] * board.places
    for block, place in pinned.items():
        order[place] = block
    key = {"spread": _snake, "rows": _row_by_row, "outward": _from_middle}[arrangement]
    path = sorted(range(board.places), key=lambda place: key(place, board.rows, board.columns))
    free = (place for place in path if order[place] < 0)
    for place, block in zip(list(free), queue, strict=True):
        order[place] = block
    return order


def _snake(place: int, rows: int, columns: int) -> tuple[float, float]:
    """Sort key of a path that goes right in one row and left in the next."""
    row, column = divmod(place, columns)
    return row, column if row % 2 == 0 else -column


def _row_by_row(place: int, rows: int, columns: int) -> tuple[float, float]:
    """Sort key of reading order."""
    return place, 0


def _from_middle(place: int, rows: int, columns: int) -> tuple[float, float]:
    """Sort key of a path from the middle outward, ring by ring, clockwise from the top."""
    row, column = divmod(place, columns)
    down, right = row - (rows - 1) / 2, column - (columns - 1) / 2
    return max(abs(down), abs(right)), atan2(right, -down) % tau


def _random_cost(board: Board, start: Sequence[int], pinned: dict[int, int], rng: Random) -> float:
    """Average cost of blocks laid out at random, pins kept."""
    free = [place for place, block in enumerate(start) if block not in pinned]
    total = 0.0
    for _ in range(_RANDOM_LAYOUTS):
        order, blocks = list(start), [start[place] for place in free]
        rng.shuffle(blocks)
        for place, block in zip(free, blocks, strict=True):
            order[place] = block
        total += board.spread_cost(order)
    return total / _RANDOM_LAYOUTS


def _anneal(board: Board, start: Sequence[int], pinned: dict[int, int], rng: Random) -> list[int]:
    """Swap blocks, less and less ready to accept a loss; the best order met."""
    order, where = list(start), inverse(start)
    free = [place for place, block in enumerate(order) if block not in pinned]
    cost = best_cost = board.cost(order)
    best = list(order)
    steps = min(_MOST_STEPS, _STEPS_PER_CELL * len(free)) if len(free) > 1 else 0
    cooling = (_COLDEST / _HOTTEST) ** (1 / max(1, steps))
    heat = _HOTTEST
    for _ in range(steps):
        heat *= cooling
        here, there = rng.sample(free, 2)
        change = _swap(board, order, where, here, there)
        if change <= 0 or rng.random() < exp(-change / heat):
            cost += change
            if cost < best_cost - 1e-9:
                best_cost, best = cost, list(order)
        else:
            _swap_places(order, where, here, there)
    return best


def _swap(board: Board, order: list[int], where: list[int], here: int, there: int) -> float:
    """Swap two places; by how much the cost changes."""
    one, other = order[here], order[there]
    before = board.share(one, here, order, where) + board.share(other, there, order, where)
    _swap_places(order, where, here, there)
    after = board.share(one, there, order, where) + board.share(other, here, order, where)
    return after - before


def _swap_places(order: list[int], where: list[int], here: int, there: int) -> None:
    """Exchange the blocks of two places."""
    order[here], order[there] = order[there], order[here]
    where[order[here]], where[order[there]] = here, there


def _cells(
    board: Board, order: Sequence[int], pinned: set[int], first_sides: Sequence[Side]
) -> tuple[Cell, ...]:
    """Name what lies where."""
    known = len(board.centres)
    return tuple(
        Cell(
            row=place // board.columns + 1,
            column=place % board.columns + 1,
            photo=board.centres[block].photo if block < known else None,
            is_pinned=block in pinned,
            first_side=first_sides[place],
        )
        for place, block in enumerate(order)
    )
