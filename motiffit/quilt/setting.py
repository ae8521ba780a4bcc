"""The quilt top: how many rows and columns, what lies between and round the blocks, how large."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, isqrt

from motiffit.errors import UsageError

__all__ = [
    "BorderPiece",
    "Grid",
    "Setting",
    "border_pieces",
    "choose_grid",
    "count_cornerstones",
    "count_sashes",
    "list_grids",
    "measure_top",
    "place_blocks",
]

# length over width: a throw of 50 x 60 in has 6/5, a crib quilt of 36 x 46 in 23/18
_USUAL_SHAPE = Fraction(5, 4)
# empty places that a shape off by 1 outweighs; set by looking at the grids for 1 to 150 blocks
_COST_OF_SHAPE = 6
_MOST_OFFERS = 4
_MOST_MISSING = 1000  # plain blocks; no bed takes as many, and a layout of more takes minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What lies between and round the blocks."""

    block_mm: Fraction
    sash_mm: Fraction = Fraction(0)
    has_outer_sash: bool = False
    borders_mm: tuple[Fraction, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Rows and columns for a number of blocks.

    ``missing`` places have no garment, ``spare`` garments have no place; at least one is 0.
    """

    rows: int
    columns: int
    missing: int
    spare: int
    width_mm: Fraction
    height_mm: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class BorderPiece:
    """A strip or square of a border: as cut, and how many."""

    border: int
    width_mm: Fraction
    length_mm: Fraction
    count: int


def measure_top(rows: int, columns: int, setting: Setting) -> tuple[Fraction, Fraction]:
    """Return the finished width and height of the quilt top.

    Examples
    --------
    >>> setting = Setting(block_mm=Fraction(12), sash_mm=Fraction(4), has_outer_sash=True)
    >>> [int(side) for side in measure_top(5, 4, setting)]
    [68, 84]
    """
    outside = 1 if setting.has_outer_sash else -1
    frame = 2 * sum(setting.borders_mm, Fraction(0))
    width, height = (
        count * setting.block_mm + (count + outside) * setting.sash_mm + frame
        for count in (columns, rows)
    )
    return width, height


def place_blocks(rows: int, columns: int, setting: Setting) -> list[tuple[Fraction, Fraction]]:
    """Return left and top of each block from the top left corner of the quilt, row by row.

    Examples
    --------
    >>> setting = Setting(block_mm=Fraction(12), sash_mm=Fraction(2), borders_mm=(Fraction(4),))
    >>> [(int(left), int(top)) for left, top in place_blocks(1, 3, setting)]
    [(4, 4), (18, 4), (32, 4)]
    """
    start = sum(setting.borders_mm, Fraction(0))
    if setting.has_outer_sash:
        start += setting.sash_mm
    pitch = setting.block_mm + setting.sash_mm
    return [
        (start + column * pitch, start + row * pitch)
        for row in range(rows)
        for column in range(columns)
    ]


def count_sashes(rows: int, columns: int, *, has_outer_sash: bool) -> int:
    """Return how many block-long sashes a grid takes.

    Examples
    --------
    >>> count_sashes(5, 4, has_outer_sash=True)
    49
    """
    outside = 1 if has_outer_sash else -1
    return (columns + outside) * rows + (rows + outside) * columns


def count_cornerstones(rows: int, columns: int, *, has_outer_sash: bool) -> int:
    """Return how many squares lie where sashes meet.

    Examples
    --------
    >>> count_cornerstones(5, 4, has_outer_sash=True)
    30
    """
    outside = 1 if has_outer_sash else -1
    return (columns + outside) * (rows + outside)


def border_pieces(
    cut_mm: tuple[Fraction, Fraction],
    borders_mm: Sequence[Fraction],
    *,
    seam_allowance_mm: Fraction,
    has_corner_squares: bool,
) -> list[BorderPiece]:
    """List border strips as cut: for each border first the sides, then top and bottom.

    Parameters
    ----------
    cut_mm
        Width and height of the quilt before borders, seam allowance included.
    borders_mm
        Finished widths, from the inside.
    seam_allowance_mm
        Cloth beyond the seam line.
    has_corner_squares
        Whether the outermost border's top and bottom end in squares.
    """
    width, height = cut_mm
    pieces = []
    for number, border in enumerate(borders_mm, start=1):
        cut = border + 2 * seam_allowance_mm
        has_squares = has_corner_squares and number == len(borders_mm)
        across = width if has_squares else width + 2 * border
        pieces.append(_piece(number, cut, height, 2))
        pieces.append(_piece(number, cut, across, 2))
        if has_squares:
            pieces.append(_piece(number, cut, cut, 4))
        width, height = width + 2 * border, height + 2 * border
    return pieces


def _piece(border: int, width: Fraction, length: Fraction, count: int) -> BorderPiece:
    """Make a border piece."""
    return BorderPiece(border=border, width_mm=width, length_mm=length, count=count)


def list_grids(
    blocks: int, setting: Setting, wish_mm: tuple[Fraction, Fraction] | None
) -> list[Grid]:
    """List the grids that suit best, best first.

    With a wished size those nearest to it come first. Otherwise those that have a place for every
    garment, the fewest places empty and the shape of a quilt.
    """
    if wish_mm is not None:
        shapes = _shapes_near(wish_mm, setting)
        grids = [_make_grid(blocks, rows, columns, setting) for rows, columns in shapes]
        return sorted(grids, key=lambda grid: _distance(grid, wish_mm))[:_MOST_OFFERS]
    grids = [_make_grid(blocks, rows, columns, setting) for rows, columns in _shapes_for(blocks)]
    return sorted(grids, key=_loss)[:_MOST_OFFERS]


def choose_grid(
    blocks: int,
    setting: Setting,
    *,
    rows: int | None,
    columns: int | None,
    wish_mm: tuple[Fraction, Fraction] | None,
) -> Grid:
    """Return the grid asked for, or the one that suits best.

    Where only rows or only columns are given, the others come as near to the wished size as they
    can; without one, they give every garment a place.

    Raises
    ------
    UsageError
        If there is no block, or far more places than blocks.
    """
    if blocks < 1:
        raise UsageError("there is no garment to plan a quilt from")
    if rows is None and columns is None:
        grid = list_grids(blocks, setting, wish_mm)[0]
    else:
        near = (None, None) if wish_mm is None else _nearest_shape(wish_mm, setting)
        rows = rows or near[0] or ceil(Fraction(blocks, columns or 1))
        columns = columns or near[1] or ceil(Fraction(blocks, rows))
        grid = _make_grid(blocks, rows, columns, setting)
    if grid.missing > _MOST_MISSING:
        raise UsageError(
            f"{grid.rows} rows of {grid.columns} would have {grid.missing} plain blocks beside "
            f"{blocks} of garments: choose fewer, or a smaller quilt"
        )
    return grid


def _shapes_for(blocks: int) -> list[tuple[int, int]]:
    """Rows and columns that take about so many blocks, in the shape of a quilt."""
    return [
        (rows, columns)
        for columns in range(1, isqrt(blocks) + 2)
        for rows in range(max(columns, blocks // columns), blocks // columns + 2)
        if rows <= max(columns + columns // 2, columns + 1)
    ]


def _shapes_near(wish_mm: tuple[Fraction, Fraction], setting: Setting) -> list[tuple[int, int]]:
    """Rows and columns that come out a little below and above a wished size."""
    rows, columns = (_count_for(side, setting) for side in (wish_mm[1], wish_mm[0]))
    return [
        (row, column)
        for row in {max(1, floor(rows)), max(1, ceil(rows))}
        for column in {max(1, floor(columns)), max(1, ceil(columns))}
    ]


def _nearest_shape(wish_mm: tuple[Fraction, Fraction], setting: Setting) -> tuple[int, int]:
    """Rows and columns that come nearest to a wished size."""
    rows, columns = (max(1, round(_count_for(side, setting))) for side in (wish_mm[1], wish_mm[0]))
    return rows, columns


def _count_for(side_mm: Fraction, setting: Setting) -> Fraction:
    """How many blocks come up to a length of quilt, with a fraction."""
    frame = 2 * sum(setting.borders_mm, Fraction(0))
    inside = side_mm - frame + (-setting.sash_mm if setting.has_outer_sash else setting.sash_mm)
    return inside / (setting.block_mm + setting.sash_mm)


def _make_grid(blocks: int, rows: int, columns: int, setting: Setting) -> Grid:
    """Measure a grid."""
    width, height = measure_top(rows, columns, setting)
    places = rows * columns
    return Grid(
        rows=rows,
        columns=columns,
        missing=max(0, places - blocks),
        spare=max(0, blocks - places),
        width_mm=width,
        height_mm=height,
    )


def _loss(grid: Grid) -> tuple[bool, Fraction]:
    """Sort key: no garment left over, no third left empty; then few empty and a quilt's shape."""
    shape = abs(grid.height_mm / grid.width_mm - _USUAL_SHAPE)
    is_poor = grid.spare > 0 or 3 * grid.missing > grid.rows * grid.columns
    return is_poor, grid.missing + grid.spare + shape * _COST_OF_SHAPE


def _distance(grid: Grid, wish_mm: tuple[Fraction, Fraction]) -> tuple[Fraction, int]:
    """Sort key: how far the quilt is from the wish, both ways together."""
    away = abs(grid.width_mm - wish_mm[0]) + abs(grid.height_mm - wish_mm[1])
    return away, grid.missing + grid.spare
