"""The grid of a quilt, and what it costs to have two blocks where they are."""

from collections.abc import Sequence
from math import dist, exp, hypot

from motiffit.quilt.centre import Centre
from motiffit.quilt.colour import to_lab

__all__ = ["Board", "inverse"]

# How alike two blocks are: 1 for the same, falling by e for each of these differences. An inch of
# centre size is seen at once; so is a colour 25 apart (CIE L*a*b*), as between two greens.
_SIZE_STEP_MM = 25.4
_COLOUR_STEP = 25.0
_REACH = 2
# a broken wish costs more than any gain in spread: the likeness of neighbours adds up to about 5
_COST_TOGETHER = 3.0
_COST_APART = 6.0
_APART_FROM = 3.0


class Board:
    """A grid of places and the blocks to lay on it.

    Blocks are numbers: the centres in the order given, then plain blocks up to the number of
    places. An order holds the block of each place, row by row.
    """

    def __init__(self, centres: Sequence[Centre], rows: int, columns: int) -> None:
        """Work out all pairs once."""
        self.centres = centres
        self.rows, self.columns = rows, columns
        self.places = rows * columns
        self.likeness = _likeness(centres, self.places)
        self.near = [_near(place, rows, columns) for place in range(self.places)]
        self.apart = _groups([centre.note.apart for centre in centres])
        self.together = _groups([centre.note.together for centre in centres])
        self.mates: list[list[tuple[int, bool]]] = [[] for _ in range(self.places)]
        for groups, is_together in ((self.together, True), (self.apart, False)):
            for group in groups.values():
                for one in group:
                    self.mates[one] += [(other, is_together) for other in group if other != one]

    def distance(self, one: int, other: int) -> float:
        """Distance of two places, in blocks."""
        row, column = divmod(one, self.columns)
        other_row, other_column = divmod(other, self.columns)
        return hypot(row - other_row, column - other_column)

    def share(self, block: int, place: int, at: Sequence[int], where: Sequence[int]) -> float:
        """Return what a block at a place costs with all others; ``at`` is block by place."""
        likeness = self.likeness[block]
        cost = sum(likeness[at[other]] * weight for other, weight in self.near[place])
        for mate, is_together in self.mates[block]:
            distance = self.distance(place, where[mate])
            if is_together:
                cost += _COST_TOGETHER * (distance - 1)
            else:
                cost += _COST_APART * max(0.0, _APART_FROM - distance)
        return cost

    def cost(self, order: Sequence[int]) -> float:
        """Return what an order costs in all; each pair counts once."""
        where = inverse(order)
        shares = (self.share(block, place, order, where) for place, block in enumerate(order))
        return sum(shares) / 2

    def spread_cost(self, order: Sequence[int]) -> float:
        """Return what an order costs by the likeness of neighbours alone."""
        return (
            sum(
                self.likeness[block][order[other]] * weight
                for place, block in enumerate(order)
                for other, weight in self.near[place]
            )
            / 2
        )

    def unmet(self, order: Sequence[int]) -> tuple[str, ...]:
        """Wishes that an order does not meet."""
        where = inverse(order)
        words = [
            f"the blocks marked '{name}' do not all lie side by side"
            for name, group in self.together.items()
            if not self._is_connected({where[block] for block in group})
        ]
        words += [
            f"two blocks marked '{name}' touch"
            for name, group in self.apart.items()
            if any(
                self.distance(where[one], where[other]) < _REACH
                for one in group
                for other in group
                if one < other
            )
        ]
        return tuple(words)

    def _is_connected(self, places: set[int]) -> bool:
        """Whether one can walk over the places from block to block."""
        reached = {min(places)}
        frontier = set(reached)
        while frontier:
            frontier = {
                place
                for place in places - reached
                if any(self.distance(place, other) == 1 for other in frontier)
            }
            reached |= frontier
        return reached == places


def _groups(words: Sequence[str]) -> dict[str, list[int]]:
    """Numbers of the blocks that share a word."""
    groups: dict[str, list[int]] = {}
    for number, word in enumerate(words):
        if word:
            groups.setdefault(word, []).append(number)
    return {word: group for word, group in groups.items() if len(group) > 1}


def _near(place: int, rows: int, columns: int) -> list[tuple[int, float]]:
    """Places within reach, with the weight of each: one over the distance squared."""
    row, column = divmod(place, columns)
    return [
        (r * columns + c, 1.0 / ((r - row) ** 2 + (c - column) ** 2))
        for r in range(max(0, row - _REACH), min(rows, row + _REACH + 1))
        for c in range(max(0, column - _REACH), min(columns, column + _REACH + 1))
        if (r, c) != (row, column)
    ]


def _likeness(centres: Sequence[Centre], places: int) -> list[list[float]]:
    """How alike any two blocks are, 0 to 1; plain blocks are like one another only."""
    labs = [None if centre.colour is None else to_lab(centre.colour) for centre in centres]
    known = len(centres)
    table = [[1.0 if min(i, j) >= known else 0.0 for j in range(places)] for i in range(places)]
    for i, one in enumerate(centres):
        for j, other in enumerate(centres[:i]):
            size = exp(-abs(float(one.finished_mm - other.finished_mm)) / _SIZE_STEP_MM)
            lab, other_lab = labs[i], labs[j]
            colour = 0.5
            if lab is not None and other_lab is not None:
                colour = exp(-dist(lab, other_lab) / _COLOUR_STEP)
            table[i][j] = table[j][i] = (size + colour) / 2
    return table


def inverse(order: Sequence[int]) -> list[int]:
    """Place of each block."""
    where = [0] * len(order)
    for place, block in enumerate(order):
        where[block] = place
    return where
