"""What goes under and round the quilt top: backing, batting, binding."""

from dataclasses import dataclass
from fractions import Fraction

from motiffit.quilt.backing import Backing, plan_backing
from motiffit.quilt.beds import Batting, choose_batting
from motiffit.quilt.binding import Binding, plan_binding
from motiffit.quilt.options import PlanOptions
from motiffit.quilt.yardage import Purchase, buy_length

__all__ = ["Layers", "plan_layers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """The layers of one quilt; the binding's cloth is in the cutting list."""

    backing: Backing
    backing_purchase: Purchase
    batting: Batting
    binding: Binding


def plan_layers(top_mm: tuple[Fraction, Fraction], options: PlanOptions) -> Layers:
    """Plan the layers for a quilt top of a finished width and height."""
    backing = plan_backing(
        top_mm,
        overage_mm=options.backing_overage_mm,
        cloth_width_mm=options.backing_width_mm,
        join_mm=options.join_mm,
    )
    return Layers(
        backing=backing,
        backing_purchase=buy_length(
            backing.length_mm,
            straightening_mm=options.straightening_mm,
            shrinkage=options.shrinkage,
            shop=options.shop,
        ),
        batting=choose_batting(top_mm, options.batting_overage_mm),
        binding=plan_binding(
            top_mm,
            cut_width_mm=options.binding_cut_mm,
            extra_mm=options.binding_extra_mm,
            cloth_width_mm=options.cloth_width_mm,
        ),
    )
