"""Makes plans without photos: records of garments of given sizes."""

from collections.abc import Sequence
from dataclasses import replace

from records import make_sizing

from motiffit.record import Sides, Sizing
from motiffit.settings import Settings

ENOUGH = Sides(top=0.0, right=0.0, bottom=0.0, left=0.0)


def make_record(
    photo: str,
    size: float,
    *,
    short: Sides = ENOUGH,
    settings: Settings | None = None,
    **changes: object,
) -> Sizing:
    """Make the record of a garment of a size in inches, the motif clear by 1/4 in."""
    sizing = make_sizing()
    assert sizing.window is not None
    settings = settings or Settings()
    window = replace(
        sizing.window,
        finished_mm=25.4 * size,
        cut_mm=25.4 * size + 2 * settings.seam_allowance_mm,
        clearance_mm=Sides(top=6.35, right=6.35, bottom=6.35, left=6.35),
        cloth_short_mm=short,
    )
    return replace(sizing, photo=photo, window=window, settings=settings, **changes)  # type: ignore[arg-type]


def make_records(sizes: Sequence[float], settings: Settings | None = None) -> list[Sizing]:
    """Make one record for each size."""
    return [
        make_record(f"garment {n}.jpg", size, settings=settings) for n, size in enumerate(sizes)
    ]


MIXED = make_records([3, 3, 4, 4, 4, 5, 5, 6, 6, 7, 8, 9])
