"""From records to a quilt: blocks, cutting list, cloth to buy, layout."""

from motiffit.quilt.centre import GarmentNote
from motiffit.quilt.options import Fabric, PlanOptions, default_options
from motiffit.quilt.plan import Plan
from motiffit.quilt.planner import make_plan

__all__ = ["Fabric", "GarmentNote", "Plan", "PlanOptions", "default_options", "make_plan"]
