"""From the records of a pile to the plan of a quilt: the walk over its parts."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from motiffit.errors import UsageError
from motiffit.quilt.cautions import list_cautions
from motiffit.quilt.centre import Centre, GarmentNote, list_centres, shared_allowance
from motiffit.quilt.cutting import plan_cutting
from motiffit.quilt.extension import plan_extensions
from motiffit.quilt.fabrics import assign_fabrics
from motiffit.quilt.fitting import choose_strip, fit_block
from motiffit.quilt.interfacing import plan_interfacing
from motiffit.quilt.layers import plan_layers
from motiffit.quilt.layout import Layout, arrange
from motiffit.quilt.lengths import exact_mm
from motiffit.quilt.notices import list_notices
from motiffit.quilt.options import PlanOptions
from motiffit.quilt.pieces import list_pieces
from motiffit.quilt.plan import BlockKind, Plan
from motiffit.quilt.setting import Grid, Setting, choose_grid, list_grids
from motiffit.quilt.strips import SIDES, Block, Side, build_block
from motiffit.quilt.turning import turn_blocks
from motiffit.record import Sizing

__all__ = ["make_plan"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sewing:
    """How centres are brought to the block."""

    block_mm: Fraction
    strips_mm: tuple[Fraction, ...]
    half_rounds: dict[Fraction, int]
    seam_allowance_mm: Fraction
    options: PlanOptions

    def has_strips(self, centre: Centre) -> bool:
        """Whether a centre is smaller than the block."""
        return self.half_rounds[centre.finished_mm] > 0

    def block(self, centre_mm: Fraction, first_side: Side) -> Block:
        """Sew one block."""
        return build_block(
            centre_mm,
            self.strips_mm,
            self.half_rounds[centre_mm],
            seam_allowance_mm=self.seam_allowance_mm,
            seam_take_up_mm=self.options.seam_take_up_mm,
            construction=self.options.construction,
            first_side=first_side,
            is_clockwise=self.options.is_clockwise,
        )


def make_plan(
    records: Sequence[Sizing],
    options: PlanOptions,
    *,
    notes: Mapping[str, GarmentNote] | None = None,
    colours: Mapping[str, str] | None = None,
) -> Plan:
    """Plan a quilt.

    Parameters
    ----------
    records
        One per photo.
    options
        The quilter's wishes.
    notes, colours
        What a person says of a garment, and the colour of the cloth that shows (``#rrggbb``):
        both by the photo's file name.

    Raises
    ------
    UsageError
        If no photo gives a centre, or wishes contradict one another; the text says what would do.
    """
    centres, left_out = list_centres(records, notes or {}, colours or {})
    if not centres:
        raise UsageError("no photo gives a centre: there is nothing to plan a quilt from")
    photos = {centre.photo for centre in centres}
    used_records = [record for record in records if record.photo in photos]
    sewing = _plan_sewing(used_records, centres, options)
    setting = _setting(sewing.block_mm, options)
    grid = choose_grid(
        len(centres), setting, rows=options.rows, columns=options.columns, wish_mm=options.wish_mm
    )
    layout = _lay_out(centres, grid, options)
    placed = _placed(centres, layout)
    used = [centre for centre, _ in placed]
    layers = plan_layers((grid.width_mm, grid.height_mm), options)
    pieces = list_pieces(
        [sewing.block(centre.finished_mm, side) for centre, side in placed],
        grid,
        layers.binding,
        plain_mm=sewing.block_mm + 2 * sewing.seam_allowance_mm,
        seam_allowance_mm=sewing.seam_allowance_mm,
        options=options,
    )
    offers = list_grids(len(centres), setting, options.wish_mm)
    plan = Plan(
        options=options,
        seam_allowance_mm=sewing.seam_allowance_mm,
        strips_mm=sewing.strips_mm,
        block_mm=sewing.block_mm,
        cut_block_mm=sewing.block_mm + 2 * sewing.seam_allowance_mm,
        centres=tuple(centres),
        left_out=tuple(left_out),
        kinds=_kinds(placed, sewing, options),
        grid=grid,
        other_grids=tuple(offer for offer in offers if offer != grid),
        layout=layout,
        fabrics=plan_cutting(pieces, options),
        interfacing=plan_interfacing(used, options),
        layers=layers,
        extensions=plan_extensions(used, sewing.seam_allowance_mm, options),
        messages=(),
        cautions=list_cautions(used),
    )
    return replace(plan, messages=list_notices(plan))


def _plan_sewing(
    records: Sequence[Sizing], centres: Sequence[Centre], options: PlanOptions
) -> _Sewing:
    """Settle the block, the strips and the half rounds of each centre size."""
    sizes = [centre.finished_mm for centre in centres]
    block = options.block_mm
    if block is None:
        block = max(exact_mm(record.settings.sizes_mm[-1]) for record in records)
    strips = options.strips_mm
    if not strips:
        chosen = choose_strip(sizes, block, options.construction, options.units)
        strips = () if chosen is None else (chosen,)
    if strips and options.seam_take_up_mm >= min(strips):
        raise UsageError("a seam that takes up as much as a strip is wide leaves nothing of it")
    return _Sewing(
        block_mm=block,
        strips_mm=strips,
        half_rounds=fit_block(sizes, block, strips, options.construction, options.units),
        seam_allowance_mm=shared_allowance(records),
        options=options,
    )


def _setting(block_mm: Fraction, options: PlanOptions) -> Setting:
    """Take what lies between and round the blocks."""
    return Setting(
        block_mm=block_mm,
        sash_mm=options.sash_mm,
        has_outer_sash=options.has_outer_sash,
        borders_mm=options.borders_mm,
    )


def _lay_out(centres: Sequence[Centre], grid: Grid, options: PlanOptions) -> Layout:
    """Lay the blocks out on the grid."""
    sides = turn_blocks(
        grid.rows,
        grid.columns,
        options.turning,
        first_side=options.first_side,
        is_clockwise=options.is_clockwise,
    )
    return arrange(centres, sides, grid.columns, seed=options.seed, arrangement=options.arrangement)


def _placed(centres: Sequence[Centre], layout: Layout) -> list[tuple[Centre, Side]]:
    """Garments that have a place, each with the side of its first strip."""
    by_photo = {centre.photo: centre for centre in centres}
    return [
        (by_photo[cell.photo], cell.first_side) for cell in layout.cells if cell.photo is not None
    ]


def _kinds(
    placed: Sequence[tuple[Centre, Side]], sewing: _Sewing, options: PlanOptions
) -> tuple[BlockKind, ...]:
    """One kind of block for each centre size, and for each first side that matters, in the quilt.

    It matters where fabrics go by side: elsewhere the strips of a turned block are cut alike.
    """
    is_by_side = options.scheme == "sides" and options.turning != "same"
    counts = Counter(
        (centre.finished_mm, SIDES.index(side) if is_by_side and sewing.has_strips(centre) else -1)
        for centre, side in placed
    )
    kinds = []
    for (size, number), count in sorted(counts.items()):
        first_side = SIDES[number] if number >= 0 else None
        block = sewing.block(size, first_side or options.first_side)
        fabrics = assign_fabrics(block, options.scheme, options.fabrics_in_use)
        kinds.append(BlockKind(block=block, fabrics=fabrics, count=count, first_side=first_side))
    return tuple(kinds)
