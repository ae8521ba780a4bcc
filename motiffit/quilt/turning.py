"""How light and dark halves make a pattern across the quilt, with every motif upright.

Turning a block would turn its motif, so the first strip goes to another side instead: the light
half then lies in another corner.
"""

from motiffit.quilt.options import Turning
from motiffit.quilt.strips import SIDES, Side

__all__ = ["turn_blocks"]


def turn_blocks(
    rows: int,
    columns: int,
    turning: Turning,
    *,
    first_side: Side = "top",
    is_clockwise: bool = True,
) -> tuple[Side, ...]:
    """Return the side of the first strip at each place, row by row.

    Parameters
    ----------
    rows, columns
        The grid.
    turning : {'same', 'furrows', 'barn', 'pinwheel'}
        ``same``: all alike. ``furrows``: light and dark bands slanting across the quilt.
        ``barn``: light and dark diamonds round its middle. ``pinwheel``: four blocks whose light
        corners turn about their meeting point.
    first_side, is_clockwise
        How the block at the top left is begun, but for ``barn``.

    Examples
    --------
    >>> turn_blocks(1, 4, "furrows")
    ('top', 'bottom', 'top', 'bottom')
    """
    first = SIDES.index(first_side)
    places = [(row, column) for row in range(rows) for column in range(columns)]
    if turning == "barn":
        return tuple(_barn(row, column, rows, columns, is_clockwise) for row, column in places)
    # quarter turns of the four blocks that repeat: top left, top right, bottom left, bottom right
    turns = {"same": (0, 0, 0, 0), "furrows": (0, 2, 2, 0), "pinwheel": (0, 1, 3, 2)}[turning]
    return tuple(SIDES[(first + turns[2 * (row % 2) + column % 2]) % 4] for row, column in places)


def _barn(row: int, column: int, rows: int, columns: int, is_clockwise: bool) -> Side:
    """First side that puts the light corner away from the middle, or towards it, ring by ring."""
    down, right = 2 * row - (rows - 1), 2 * column - (columns - 1)
    ring = (abs(down) + abs(right)) // 2
    is_right, is_down = right >= 0, down >= 0
    if ring % 2:
        is_right, is_down = not is_right, not is_down
    # the light corner lies between the first side and the next one in sewing order
    corner = {(True, False): 0, (True, True): 1, (False, True): 2, (False, False): 3}
    number = corner[is_right, is_down]
    return SIDES[number if is_clockwise else (number + 1) % 4]
