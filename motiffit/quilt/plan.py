"""The plan of a quilt: everything that is known before buying and cutting, as one record."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from motiffit.quilt.cautions import Caution
from motiffit.quilt.centre import Centre, LeftOut
from motiffit.quilt.cutting import FabricNeed
from motiffit.quilt.extension import Extensions
from motiffit.quilt.interfacing import Interfacing
from motiffit.quilt.layers import Layers
from motiffit.quilt.layout import Cell, Layout
from motiffit.quilt.options import Fabric, PlanOptions
from motiffit.quilt.plain import to_plain
from motiffit.quilt.setting import Grid, Setting
from motiffit.quilt.strips import Block, Side, build_block
from motiffit.record import Message

__all__ = ["PLAN_SCHEMA", "BlockKind", "Plan"]

PLAN_SCHEMA = "motiffit.plan/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockKind:
    """Blocks sewn alike from the same fabrics, and how many.

    ``first_side`` is where their first strip goes, if that decides on the fabrics and changes from
    block to block; else it is None, and blocks of a kind may be begun on any side.
    """

    block: Block
    fabrics: tuple[Fabric, ...]
    count: int
    first_side: Side | None = None

    def takes(self, centre: Centre, first_side: Side) -> bool:
        """Whether a garment's block begun on a side is of this kind."""
        is_begun_so = self.first_side in (None, first_side)
        return is_begun_so and self.block.centre_mm == centre.finished_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One quilt.

    Attributes
    ----------
    options
        What was wished.
    seam_allowance_mm
        Cloth beyond the seam line.
    strips_mm
        Finished strip widths in turn.
    block_mm, cut_block_mm
        Side of a block, finished and as it leaves the ironing board.
    centres, left_out
        Garments in the plan, and photos that give none.
    kinds
        One for each centre size in the quilt, smallest first; for each of its first sides where
        these change which strip is cut from which fabric.
    grid, other_grids
        Rows and columns, and others that would suit.
    layout
        Which garment lies where.
    fabrics
        The cutting list of the strips, sashes, borders and binding.
    interfacing
        None where none is wished.
    layers
        Backing, batting and binding.
    extensions
        Pieces for garments with too little cloth.
    messages
        What to know or decide.
    cautions
        What can hurt.
    """

    options: PlanOptions
    seam_allowance_mm: Fraction
    strips_mm: tuple[Fraction, ...]
    block_mm: Fraction
    cut_block_mm: Fraction
    centres: tuple[Centre, ...]
    left_out: tuple[LeftOut, ...]
    kinds: tuple[BlockKind, ...]
    grid: Grid
    other_grids: tuple[Grid, ...]
    layout: Layout
    fabrics: tuple[FabricNeed, ...]
    interfacing: Interfacing | None
    layers: Layers
    extensions: Extensions
    messages: tuple[Message, ...]
    cautions: tuple[Caution, ...]

    @property
    def setting(self) -> Setting:
        """What lies between and round the blocks."""
        return Setting(
            block_mm=self.block_mm,
            sash_mm=self.options.sash_mm,
            has_outer_sash=self.options.has_outer_sash,
            borders_mm=self.options.borders_mm,
        )

    def centre_of(self, cell: Cell) -> Centre | None:
        """Return the garment at a place; None for a plain block."""
        return next((centre for centre in self.centres if centre.photo == cell.photo), None)

    def block_at(self, cell: Cell) -> Block | None:
        """Return the block at a place, begun at that place's side; None for a plain block."""
        centre = self.centre_of(cell)
        if centre is None:
            return None
        kind = next(kind for kind in self.kinds if kind.takes(centre, cell.first_side))
        return build_block(
            kind.block.centre_mm,
            self.strips_mm,
            kind.block.half_rounds,
            seam_allowance_mm=self.seam_allowance_mm,
            seam_take_up_mm=self.options.seam_take_up_mm,
            construction=self.options.construction,
            first_side=cell.first_side,
            is_clockwise=self.options.is_clockwise,
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as JSON-ready values: lengths in mm, with a twin in words."""
        return {"schema": PLAN_SCHEMA, **to_plain(self, self.options.units)}
