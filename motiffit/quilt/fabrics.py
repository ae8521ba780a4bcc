"""Which strip is cut from which fabric."""

from collections.abc import Sequence

from motiffit.quilt.options import Fabric, Scheme
from motiffit.quilt.strips import SIDES, Block, Strip

__all__ = ["assign_fabrics"]


def assign_fabrics(block: Block, scheme: Scheme, fabrics: Sequence[Fabric]) -> tuple[Fabric, ...]:
    """Return the fabric of each strip of a block, in sewing order.

    Parameters
    ----------
    block
        The block.
    scheme : {'one', 'halves', 'rounds', 'sides', 'own'}
        ``one``: the first fabric throughout. ``halves``: the first fabric for the first half of
        each round, the second for the other half, so that the block is light and dark along its
        diagonal. ``rounds``: the first fabric outermost, the next one inside it, the last one for
        all rounds further in; counted from outside, so that neighbouring blocks match whatever
        their centres. ``sides``: one fabric each for top, right, bottom and left. ``own``: the
        fabrics in turn, strip by strip, again from the start when they run out.
    fabrics
        At least one.

    Raises
    ------
    ValueError
        If there is no fabric.
    """
    if not fabrics:
        raise ValueError("strips need a fabric")
    return tuple(fabrics[_number(strip, block, scheme, len(fabrics))] for strip in block.strips)


def _number(strip: Strip, block: Block, scheme: Scheme, count: int) -> int:
    """Which of the fabrics a strip gets."""
    numbers = {
        "one": 0,
        "halves": (strip.half_round - 1) % 2 % count,
        "rounds": min((block.half_rounds - strip.half_round) // 2, count - 1),
        "sides": SIDES.index(strip.side) % count,
        "own": (strip.order - 1) % count,
    }
    return numbers[scheme]
