"""The cutting list: every piece of every fabric, from how many strips, and what to buy."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from motiffit.errors import UsageError
from motiffit.quilt.binding import count_joined_strips
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.options import Fabric, PlanOptions
from motiffit.quilt.stock import Cutting, cut_strips
from motiffit.quilt.yardage import Purchase, buy_length
from motiffit.units import Units

__all__ = ["FabricNeed", "Narrower", "Piece", "StripGroup", "plan_cutting"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Pieces alike.

    Attributes
    ----------
    use
        What they are for.
    fabric
        What they are cut from.
    width_mm, length_mm
        As cut; the width is that of the strip across the cloth they are cut from.
    count
        How many.
    can_join
        Whether strips may be joined end to end where the cloth is not as wide as the length.
    """

    use: str
    fabric: Fabric
    width_mm: Fraction
    length_mm: Fraction
    count: int
    can_join: bool = False

    def is_joined(self, cloth_width_mm: Fraction) -> bool:
        """Whether a cloth so wide gives the length only by joining strips."""
        return self.can_join and self.length_mm > cloth_width_mm

    def fits(self, cloth_width_mm: Fraction) -> bool:
        """Whether a cloth so wide gives it; of joined strips a slanting seam takes their width."""
        if self.is_joined(cloth_width_mm):
            return self.width_mm < cloth_width_mm
        return self.length_mm <= cloth_width_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class StripGroup:
    """Strips of one width cut across one fabric.

    Attributes
    ----------
    width_mm
        Cut width of the strips.
    uses
        What they are for.
    pieces
        Length and number of the pieces cut from them.
    strips, at_least
        How many strips, and a number that no cutting can do with less than.
    cutting
        Which pieces come from which strip; None where strips are joined end to end.
    run_mm
        Length of the strips joined end to end; None where pieces are cut from them.
    """

    width_mm: Fraction
    uses: tuple[str, ...]
    pieces: tuple[tuple[Fraction, int], ...]
    strips: int
    at_least: int
    cutting: Cutting | None
    run_mm: Fraction | None

    @property
    def is_proven(self) -> bool:
        """Whether no cutting with fewer strips exists."""
        return self.strips == self.at_least


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrower:
    """What a narrower bolt would change; no purchase where a piece does not fit across it."""

    cloth_width_mm: Fraction
    strips: int | None
    purchase: Purchase | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FabricNeed:
    """All that is cut from one fabric."""

    fabric: Fabric
    cloth_width_mm: Fraction
    groups: tuple[StripGroup, ...]
    purchase: Purchase
    narrower: Narrower

    @property
    def strips(self) -> int:
        """How many strips in all."""
        return sum(group.strips for group in self.groups)


def plan_cutting(pieces: Iterable[Piece], options: PlanOptions) -> tuple[FabricNeed, ...]:
    """Cut all pieces, fabric by fabric in the order in which they first appear.

    Raises
    ------
    UsageError
        If a piece is longer than the cloth is wide; the text says which.
    """
    by_name: dict[str, list[Piece]] = defaultdict(list)
    for piece in pieces:
        if piece.count:
            by_name[piece.fabric.name].append(piece)
    return tuple(_plan_fabric(group, options) for group in by_name.values())


def _plan_fabric(pieces: Sequence[Piece], options: PlanOptions) -> FabricNeed:
    """Cut one fabric, and see what a narrower bolt would change."""
    width = options.cloth_width_mm
    too_large = [piece for piece in pieces if not piece.fits(width)]
    if too_large:
        largest = max(too_large, key=lambda piece: piece.length_mm)
        raise UsageError(_explain(largest, width, options.units))
    groups = _cut_groups(pieces, width)
    narrow = width - options.narrower_mm
    fewer = _cut_groups(pieces, narrow) if all(piece.fits(narrow) for piece in pieces) else None
    return FabricNeed(
        fabric=pieces[0].fabric,
        cloth_width_mm=width,
        groups=groups,
        purchase=_buy(groups, options),
        narrower=Narrower(
            cloth_width_mm=narrow,
            strips=None if fewer is None else sum(group.strips for group in fewer),
            purchase=None if fewer is None else _buy(fewer, options),
        ),
    )


def _explain(piece: Piece, width_mm: Fraction, units: Units) -> str:
    """Say that a piece does not fit across the cloth."""
    across, how = (
        (piece.width_mm, "wide") if piece.is_joined(width_mm) else (piece.length_mm, "long")
    )
    return (
        f"'{piece.fabric.name}' for {piece.use} needs pieces {format_cut(across, units)} "
        f"{how}, and the cloth gives {format_cut(width_mm, units)}: take a wider cloth, or smaller "
        "blocks, borders and bindings"
    )


def _cut_groups(pieces: Sequence[Piece], cloth_width_mm: Fraction) -> tuple[StripGroup, ...]:
    """Cut the pieces of one fabric, widest strips first."""
    by_width: dict[tuple[Fraction, bool], list[Piece]] = defaultdict(list)
    for piece in pieces:
        by_width[piece.width_mm, piece.is_joined(cloth_width_mm)].append(piece)
    return tuple(
        (_join_group if is_joined else _cut_group)(width, group, cloth_width_mm)
        for (width, is_joined), group in sorted(by_width.items(), reverse=True)
    )


def _cut_group(width: Fraction, pieces: Sequence[Piece], cloth_width_mm: Fraction) -> StripGroup:
    """Pieces of one width, each cut whole from a strip."""
    demand = _count_lengths(pieces)
    cutting = cut_strips(demand, cloth_width_mm)
    return StripGroup(
        width_mm=width,
        uses=tuple(dict.fromkeys(piece.use for piece in pieces)),
        pieces=tuple(sorted(demand.items(), reverse=True)),
        strips=cutting.strips,
        at_least=cutting.at_least,
        cutting=cutting,
        run_mm=None,
    )


def _count_lengths(pieces: Iterable[Piece]) -> Counter[Fraction]:
    """How many pieces there are of each length."""
    demand: Counter[Fraction] = Counter()
    for piece in pieces:
        demand[piece.length_mm] += piece.count
    return demand


def _join_group(width: Fraction, pieces: Sequence[Piece], cloth_width_mm: Fraction) -> StripGroup:
    """Pieces of one width, cut from strips joined end to end with diagonal seams."""
    demand = _count_lengths(pieces)
    run = sum((length * count for length, count in demand.items()), Fraction(0))
    strips = count_joined_strips(run, cloth_width_mm, width)
    return StripGroup(
        width_mm=width,
        uses=tuple(dict.fromkeys(piece.use for piece in pieces)),
        pieces=tuple(sorted(demand.items(), reverse=True)),
        strips=strips,
        at_least=strips,
        cutting=None,
        run_mm=run,
    )


def _buy(groups: Iterable[StripGroup], options: PlanOptions) -> Purchase:
    """Buy cloth for the strips."""
    net = sum((group.width_mm * group.strips for group in groups), Fraction(0))
    return buy_length(
        net,
        straightening_mm=options.straightening_mm,
        shrinkage=options.shrinkage,
        shop=options.shop,
    )
