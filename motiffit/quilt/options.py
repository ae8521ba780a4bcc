"""What the quilter wants of the quilt: one dataclass, checked when it is made."""

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from motiffit.errors import UsageError
from motiffit.quilt.binding import binding_cut_width
from motiffit.quilt.strips import Construction, Side
from motiffit.quilt.yardage import Shop
from motiffit.units import MM_PER_INCH, Units

__all__ = [
    "PALETTE",
    "Arrangement",
    "Fabric",
    "InterfacingWay",
    "PlanOptions",
    "Pressing",
    "Scheme",
    "Turning",
    "default_options",
]

Scheme = Literal["one", "halves", "rounds", "sides", "own"]
Turning = Literal["same", "furrows", "barn", "pinwheel"]
Arrangement = Literal["spread", "rows", "outward"]
Pressing = Literal["side", "open"]
InterfacingWay = Literal["none", "oversize", "to-size"]


_BINDING_CUT_MM = binding_cut_width(MM_PER_INCH / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fabric:
    """A cloth for strips: its name, and its colour as ``#rrggbb``."""

    name: str
    colour: str


PALETTE: dict[Scheme, tuple[Fabric, ...]] = {
    "one": (Fabric(name="strips", colour="#8fa6b8"),),
    "halves": (
        Fabric(name="light", colour="#e9dfc9"),
        Fabric(name="dark", colour="#5b7089"),
    ),
    "rounds": (
        Fabric(name="outer round", colour="#5b7089"),
        Fabric(name="second round", colour="#c9b79b"),
        Fabric(name="third round", colour="#8a9a7b"),
        Fabric(name="inner rounds", colour="#e9dfc9"),
    ),
    "sides": (
        Fabric(name="top", colour="#e9dfc9"),
        Fabric(name="right", colour="#c9b79b"),
        Fabric(name="bottom", colour="#5b7089"),
        Fabric(name="left", colour="#8a9a7b"),
    ),
}
"""Fabrics taken when none are named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOptions:
    """Wishes for one quilt; lengths are exact millimetres.

    Attributes
    ----------
    units : {'in', 'cm'}
        How lengths are shown.
    block_mm
        Finished block; None for the largest size of the set.
    strips_mm
        Finished strip widths in turn, see `strips.build_block`; empty to have one chosen.
    construction, first_side, is_clockwise
        See `strips.order_of_sides`.
    seam_take_up_mm
        Cloth that each seam swallows over and above its allowance.
    pressing : {'side', 'open'}
        Which way seams are pressed: told in the sewing order.
    scheme : {'one', 'halves', 'rounds', 'sides', 'own'}
        Which strip gets which fabric, see `fabrics.assign_fabrics`.
    fabrics
        Fabrics of the strips; empty for those of `PALETTE`.
    sash_fabric, border_fabric, binding_fabric, plain_fabric
        Fabrics of the other parts; ``plain`` fills places without a garment. Parts that name the
        same fabric are cut from one length of it.
    turning : {'same', 'furrows', 'barn', 'pinwheel'}
        How the side of the first strip changes from block to block. Motifs stay upright.
    arrangement : {'spread', 'rows', 'outward'}
        In which order blocks are laid, see `layout.arrange`.
    rows, columns
        None to have them chosen.
    wish_mm
        Width and height that the quilt should come near to; None for no wish.
    sash_mm
        Finished width of the sashes between blocks; 0 for none.
    has_outer_sash
        Whether sashes go round the outside too.
    borders_mm
        Finished widths of the borders, from the inside.
    has_corner_squares
        Whether the outermost border has squares in its corners.
    cloth_width_mm
        Usable width of the strip fabrics, selvedges off.
    narrower_mm
        By how much a bolt may turn out narrower: the plan says what that would change.
    straightening_mm
        Lost at the ends of each fabric.
    shrinkage
        Part of the length lost when the cloth is washed before cutting.
    shop
        What the shop cuts, see `yardage.SHOPS`.
    interfacing : {'none', 'oversize', 'to-size'}
        Whether interfacing is cut larger than the centre and trimmed with it, or to the cut size.
    interfacing_extra_mm
        How much larger than the finished centre an oversize square is.
    interfacing_width_mm
        Usable width of the interfacing.
    backing_width_mm
        Usable width of the backing cloth.
    backing_overage_mm, batting_overage_mm
        How far each reaches beyond the quilt top on every side.
    join_mm
        Seam allowance of the backing's joins.
    binding_cut_mm
        Cut width of the double-fold binding.
    binding_extra_mm
        Length for its corners and last join.
    extension_spare_mm
        How much longer an extension piece is cut than the side it mends.
    seed
        Start of the layout's random choices: the same seed gives the same layout.
    """

    units: Units = "in"
    block_mm: Fraction | None = None
    strips_mm: tuple[Fraction, ...] = ()
    construction: Construction = "log-cabin"
    first_side: Side = "top"
    is_clockwise: bool = True
    seam_take_up_mm: Fraction = Fraction(0)
    pressing: Pressing = "side"
    scheme: Scheme = "halves"
    fabrics: tuple[Fabric, ...] = ()
    sash_fabric: Fabric = Fabric(name="sashing", colour="#d9d3c5")
    border_fabric: Fabric = Fabric(name="border", colour="#a9b4bd")
    binding_fabric: Fabric = Fabric(name="binding", colour="#46586c")
    plain_fabric: Fabric = Fabric(name="plain blocks", colour="#f0ebe0")
    turning: Turning = "same"
    arrangement: Arrangement = "spread"
    rows: int | None = None
    columns: int | None = None
    wish_mm: tuple[Fraction, Fraction] | None = None
    sash_mm: Fraction = Fraction(0)
    has_outer_sash: bool = False
    borders_mm: tuple[Fraction, ...] = ()
    has_corner_squares: bool = False
    cloth_width_mm: Fraction = 40 * MM_PER_INCH
    narrower_mm: Fraction = 2 * MM_PER_INCH
    straightening_mm: Fraction = 2 * MM_PER_INCH
    shrinkage: Fraction = Fraction(3, 100)
    shop: Shop = "yard"
    interfacing: InterfacingWay = "oversize"
    interfacing_extra_mm: Fraction = 2 * MM_PER_INCH
    interfacing_width_mm: Fraction = 20 * MM_PER_INCH
    backing_width_mm: Fraction = 40 * MM_PER_INCH
    backing_overage_mm: Fraction = 4 * MM_PER_INCH
    batting_overage_mm: Fraction = 4 * MM_PER_INCH
    join_mm: Fraction = MM_PER_INCH / 2
    binding_cut_mm: Fraction = _BINDING_CUT_MM
    binding_extra_mm: Fraction = 16 * MM_PER_INCH
    extension_spare_mm: Fraction = MM_PER_INCH
    seed: int = 1

    def __post_init__(self) -> None:
        """Check each wish.

        Raises
        ------
        UsageError
            If a wish makes no sense; the text says which and what would.
        """
        for name, lengths in self._lengths_above_zero().items():
            if any(length <= 0 for length in lengths):
                raise UsageError(f"the {name} must be more than nothing")
        for name, length in self._lengths_from_zero().items():
            if length < 0:
                raise UsageError(f"the {name} cannot be less than nothing")
        if not 0 <= self.shrinkage < Fraction(1, 2):
            raise UsageError("the shrinkage is a part of the length: from 0 to below 50 per cent")
        if self.narrower_mm >= self.cloth_width_mm:
            raise UsageError("a bolt cannot be narrower by its whole width")
        if self.binding_cut_mm >= self.cloth_width_mm:
            raise UsageError("the binding must be narrower than the cloth it is cut from")
        if self.backing_width_mm <= 2 * self.join_mm:
            raise UsageError("the backing cloth must be wider than the seams that join it")
        if any(count is not None and count < 1 for count in (self.rows, self.columns)):
            raise UsageError("a quilt has at least one row and one column")
        if self.scheme == "own" and not self.fabrics:
            raise UsageError("an order of fabrics of your own needs the fabrics' names")

    def _lengths_above_zero(self) -> dict[str, tuple[Fraction, ...]]:
        """Lengths that must be positive."""
        return {
            "block": () if self.block_mm is None else (self.block_mm,),
            "strip width": self.strips_mm,
            "border width": self.borders_mm,
            "wished quilt size": self.wish_mm or (),
            "usable width of cloth": (self.cloth_width_mm, self.backing_width_mm),
            "interfacing width": (self.interfacing_width_mm,),
            "binding width": (self.binding_cut_mm,),
        }

    def _lengths_from_zero(self) -> dict[str, Fraction]:
        """Lengths that may be zero."""
        return {
            "seam take-up": self.seam_take_up_mm,
            "sash width": self.sash_mm,
            "allowance for straightening": self.straightening_mm,
            "allowance for a narrower bolt": self.narrower_mm,
            "interfacing allowance": self.interfacing_extra_mm,
            "backing overage": self.backing_overage_mm,
            "batting overage": self.batting_overage_mm,
            "join seam": self.join_mm,
            "binding allowance": self.binding_extra_mm,
            "extension allowance": self.extension_spare_mm,
        }

    @property
    def fabrics_in_use(self) -> tuple[Fabric, ...]:
        """The fabrics named, or those of the palette."""
        return self.fabrics or PALETTE[self.scheme]


def default_options(units: Units) -> PlanOptions:
    """Return the wishes taken when none are given: round figures in the units shown."""
    inches = PlanOptions()
    if units == "in":
        return inches
    return replace(
        inches,
        units="cm",
        cloth_width_mm=Fraction(1050),
        narrower_mm=Fraction(50),
        straightening_mm=Fraction(50),
        shop="10cm",
        interfacing_extra_mm=Fraction(50),
        interfacing_width_mm=Fraction(900),
        backing_width_mm=Fraction(1050),
        backing_overage_mm=Fraction(100),
        batting_overage_mm=Fraction(100),
        join_mm=Fraction(12),
        binding_cut_mm=Fraction(65),
        binding_extra_mm=Fraction(400),
        extension_spare_mm=Fraction(25),
    )
