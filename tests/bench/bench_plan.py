"""Times a plan of 100 mixed blocks: ``python tests/bench/bench_plan.py``.

Prints seconds of CPU and of the clock for each part, and whether every cutting is proven best.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from random import Random
from time import perf_counter, process_time
from typing import TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from plans import make_records

from motiffit.quilt import PlanOptions, make_plan
from motiffit.quilt.centre import list_centres
from motiffit.quilt.layout import arrange
from motiffit.show.picture_file import encode_picture
from motiffit.show.plan_sheets import plan_pdf
from motiffit.show.preview import draw_preview

T = TypeVar("T")

BLOCKS = 100


def timed(name: str, work: Callable[[], T]) -> T:
    """Do some work and print how long it took."""
    wall, cpu = perf_counter(), process_time()
    result = work()
    sys.stdout.write(
        f"{name:34} {process_time() - cpu:5.2f} s CPU {perf_counter() - wall:5.2f} s clock" + "\n"
    )
    return result


def main() -> None:
    """Plan, lay out, draw."""
    rng = Random(8)
    records = make_records(
        [rng.choice((3, 3, 4, 4, 4, 5, 5, 6, 6, 7, 8, 9)) for _ in range(BLOCKS)]
    )
    colours = {record.photo: f"#{rng.randrange(2**24):06x}" for record in records}
    thumbnail = encode_picture(
        np.random.default_rng(1).integers(0, 255, (300, 400, 3), np.uint8), ".jpg"
    )
    plan = timed(
        "plan, layout included", lambda: make_plan(records, PlanOptions(), colours=colours)
    )
    centres, _ = list_centres(records, {}, colours)
    sides = ("top",) * BLOCKS
    timed("layout alone", lambda: arrange(centres, sides, plan.grid.columns, seed=1))
    timed(
        "all sheets (PDF)",
        lambda: plan_pdf(plan, paper="letter", title="bench", thumbnail=lambda photo: thumbnail),
    )
    timed("picture of the quilt", lambda: draw_preview(plan, {}))
    groups = [group for need in plan.fabrics for group in need.groups]
    sys.stdout.write(
        f"cuttings proven best: {sum(group.is_proven for group in groups)} of {len(groups)}" + "\n"
    )
    layout = plan.layout
    sys.stdout.write(
        f"spread: {layout.spread_cost:.1f}, by chance {layout.random_spread_cost:.1f}" + "\n"
    )


if __name__ == "__main__":
    main()
