"""Every piece of cloth of the quilt top and its binding, but for the garments themselves."""

from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction

from motiffit.quilt.binding import Binding
from motiffit.quilt.cutting import Piece
from motiffit.quilt.fabrics import assign_fabrics
from motiffit.quilt.options import Fabric, PlanOptions
from motiffit.quilt.setting import Grid, border_pieces, count_cornerstones, count_sashes
from motiffit.quilt.strips import Block

__all__ = ["list_pieces"]


def list_pieces(
    blocks: Iterable[Block],
    grid: Grid,
    binding: Binding,
    *,
    plain_mm: Fraction,
    seam_allowance_mm: Fraction,
    options: PlanOptions,
) -> list[Piece]:
    """List the pieces to cut.

    Parameters
    ----------
    blocks
        One for each garment that has a place.
    grid
        Rows, columns and the places left empty.
    binding
        The binding.
    plain_mm
        Cut side of a plain block.
    seam_allowance_mm
        Cloth beyond the seam line.
    options
        Fabrics, sashes and borders.
    """
    pieces = list(_strip_pieces(blocks, options))
    plain = options.plain_fabric
    if grid.missing:
        pieces.append(_piece("plain blocks", plain, plain_mm, plain_mm, grid.missing))
    if options.sash_mm:
        pieces += _sash_pieces(grid, plain_mm, seam_allowance_mm, options)
    pieces += _border_pieces(grid, seam_allowance_mm, options)
    run = _piece("binding", options.binding_fabric, binding.cut_width_mm, binding.run_mm, 1, True)
    return [*pieces, run]


def _piece(
    use: str,
    fabric: Fabric,
    width: Fraction,
    length: Fraction,
    count: int,
    can_join: bool = False,
) -> Piece:
    """Make a piece."""
    return Piece(
        use=use,
        fabric=fabric,
        width_mm=width,
        length_mm=length,
        count=count,
        can_join=can_join,
    )


def _strip_pieces(blocks: Iterable[Block], options: PlanOptions) -> Iterator[Piece]:
    """Count the strips of all blocks."""
    fabrics = options.fabrics_in_use
    counts: Counter[tuple[Fabric, Fraction, Fraction]] = Counter()
    for block in blocks:
        for strip, fabric in zip(
            block.strips, assign_fabrics(block, options.scheme, fabrics), strict=True
        ):
            counts[fabric, strip.cut_width_mm, strip.cut_length_mm] += 1
    ordered = sorted(counts.items(), key=lambda item: (fabrics.index(item[0][0]), item[0][1:]))
    for (fabric, width, length), count in ordered:
        yield _piece("strips", fabric, width, length, count)


def _sash_pieces(
    grid: Grid, plain_mm: Fraction, seam_allowance_mm: Fraction, options: PlanOptions
) -> list[Piece]:
    """Sashes as long as a block, and the squares where they meet."""
    width = options.sash_mm + 2 * seam_allowance_mm
    has_outer = options.has_outer_sash
    sashes = count_sashes(grid.rows, grid.columns, has_outer_sash=has_outer)
    stones = count_cornerstones(grid.rows, grid.columns, has_outer_sash=has_outer)
    return [
        _piece("sashes", options.sash_fabric, width, plain_mm, sashes),
        _piece("cornerstones", options.sash_fabric, width, width, stones),
    ]


def _border_pieces(
    grid: Grid, seam_allowance_mm: Fraction, options: PlanOptions
) -> Iterator[Piece]:
    """Borders, strips and corner squares."""
    frame = 2 * sum(options.borders_mm, Fraction(0)) - 2 * seam_allowance_mm
    inside = (grid.width_mm - frame, grid.height_mm - frame)
    for border in border_pieces(
        inside,
        options.borders_mm,
        seam_allowance_mm=seam_allowance_mm,
        has_corner_squares=options.has_corner_squares,
    ):
        use = "border" if len(options.borders_mm) == 1 else f"border {border.border}"
        yield _piece(
            use, options.border_fabric, border.width_mm, border.length_mm, border.count, True
        )
