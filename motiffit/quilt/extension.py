"""Extension pieces: cloth sewn to a garment that is too small for its cut square."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from motiffit.errors import UsageError
from motiffit.quilt.centre import Centre
from motiffit.quilt.lengths import exact_mm, format_cut, round_up_to
from motiffit.quilt.nesting import nest_pieces
from motiffit.quilt.options import PlanOptions
from motiffit.quilt.strips import SIDES, Side
from motiffit.quilt.yardage import Purchase, buy_length
from motiffit.units import MM_PER_INCH, Units

__all__ = [
    "WIDTH_SPARE_MM",
    "ExtensionPiece",
    "Extensions",
    "extension_cut_width",
    "list_extensions",
    "plan_extensions",
]

WIDTH_SPARE_MM: dict[Units, Fraction] = {"in": MM_PER_INCH / 4, "cm": Fraction(5)}
"""Beyond what is short: the garment's edge is known as a photo shows it, and straightened before a
piece is sewn on. Common practice, no source."""
# narrower pieces are a nuisance to sew; what is too much is trimmed with the square
_LEAST_MM = {"in": MM_PER_INCH, "cm": Fraction(25)}
# cut sizes on the marks of a ruler
_RULER_MM = {"in": MM_PER_INCH / 8, "cm": Fraction(1)}


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtensionPiece:
    """A piece to sew to one side before the square is cut.

    Attributes
    ----------
    photo, name
        The garment.
    side : {'top', 'right', 'bottom', 'left'}
        Where, in the garment's upright frame.
    short_mm
        How far the cut square reaches beyond the cloth.
    cut_width_mm, cut_length_mm
        The piece, seam allowance and something to spare included; never less than 1 in (2.5 cm)
        wide.
    seam_from_motif_mm
        From the motif to the seam of this piece; below zero the seam would cross the motif.
        None without a motif.
    """

    photo: str
    name: str
    side: Side
    short_mm: Fraction
    cut_width_mm: Fraction
    cut_length_mm: Fraction
    seam_from_motif_mm: float | None

    @property
    def crosses_motif(self) -> bool:
        """Whether the seam of this piece would run through the motif."""
        return self.seam_from_motif_mm is not None and self.seam_from_motif_mm < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Extensions:
    """All extension pieces, and what they take if cut from one cloth."""

    pieces: tuple[ExtensionPiece, ...]
    purchase: Purchase


def extension_cut_width(added_mm: Fraction, seam_allowance_mm: Fraction) -> Fraction:
    """Return the cut width of a piece that adds a finished width.

    Examples
    --------
    >>> extension_cut_width(Fraction(4), Fraction(1, 4))
    Fraction(9, 2)
    """
    return added_mm + 2 * seam_allowance_mm


def list_extensions(
    centres: Sequence[Centre], *, seam_allowance_mm: Fraction, spare_mm: Fraction, units: Units
) -> list[ExtensionPiece]:
    """List the pieces for every side on which the cloth falls short.

    The cloth ends ``short`` inside the cut line. The piece is sewn there, its seam ``short``
    inside the seam line of the centre, and so adds a finished width of ``short``.
    """
    return [
        _make_piece(centre, side, seam_allowance_mm, spare_mm, units)
        for centre in centres
        for side in SIDES
        if getattr(centre.short_mm, side) > 0
    ]


def plan_extensions(
    centres: Sequence[Centre], seam_allowance_mm: Fraction, options: PlanOptions
) -> Extensions:
    """List the pieces and lay them in rows on one cloth.

    Raises
    ------
    UsageError
        If a piece is longer than the cloth is wide.
    """
    pieces = list_extensions(
        centres,
        seam_allowance_mm=seam_allowance_mm,
        spare_mm=options.extension_spare_mm,
        units=options.units,
    )
    longest = max((piece.cut_length_mm for piece in pieces), default=Fraction(0))
    if longest > options.cloth_width_mm:
        width, length = (format_cut(x, options.units) for x in (options.cloth_width_mm, longest))
        raise UsageError(
            f"cloth {width} wide does not hold an extension piece {length} long: take a wider one"
        )
    demand = Counter((piece.cut_length_mm, piece.cut_width_mm) for piece in pieces)
    nesting = nest_pieces(demand, options.cloth_width_mm)
    purchase = buy_length(
        nesting.length_mm,
        straightening_mm=options.straightening_mm,
        shrinkage=options.shrinkage,
        shop=options.shop,
    )
    return Extensions(pieces=tuple(pieces), purchase=purchase)


def _make_piece(
    centre: Centre, side: Side, seam_allowance_mm: Fraction, spare_mm: Fraction, units: Units
) -> ExtensionPiece:
    """Piece for one side."""
    short = exact_mm(getattr(centre.short_mm, side))
    width = extension_cut_width(short, seam_allowance_mm) + WIDTH_SPARE_MM[units]
    clearance = centre.clearance_mm
    return ExtensionPiece(
        photo=centre.photo,
        name=centre.name,
        side=side,
        short_mm=short,
        cut_width_mm=max(round_up_to(width, _RULER_MM[units]), _LEAST_MM[units]),
        cut_length_mm=centre.cut_mm + spare_mm,
        seam_from_motif_mm=None if clearance is None else getattr(clearance, side) - float(short),
    )
