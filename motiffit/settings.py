"""What a person asked for: one dataclass, checked when it is made."""

import hashlib
import json
from dataclasses import asdict, dataclass
from math import isfinite
from typing import Literal

from motiffit.errors import UsageError
from motiffit.units import DEFAULT_SIZES_MM, MM_PER_INCH, Units

__all__ = ["Settings", "Turn"]

Turn = Literal["grain", "motif"]

_LARGEST_MM = 2000.0
_LARGEST_SIDE_MM = 1000.0
_COARSEST_MM = 50.0  # half a usual centre: drawn less exactly, an outline says nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Settings of one sizing.

    Attributes
    ----------
    sizes_mm
        Finished sizes to choose from, ascending.
    seam_allowance_mm
        Cloth beyond the seam line on each side.
    clearance_mm
        Least distance from motif to seam line that is asked for.
    side_mm
        Side of the reference square; None to take it from the card's marker.
    units : {'in', 'cm'}
        How lengths are shown.
    turn : {'grain', 'motif'}
        Whether the square follows the garment's upright axis or the motif.
    outline_px
        The motif's outline in photo pixels, instead of the finder's: two points are opposite
        corners of a box, more are a polygon. Empty for none.
    outline_sd_mm
        How far each edge of that outline may lie from the motif's own: one standard deviation.
        Drawn by hand it is what a hand can do; points read off the photo are good to 0.1 mm.
    near_px
        A point in photo pixels: take the motif nearest to it.
    pick
        Take the motif of this rank, 1 for the first.
    no_motif
        There is no motif, whatever the finder would think.
    place
        Where a person put the square: its middle in photo pixels, and its turn in degrees
        clockwise as the photo shows it. None to have it placed.
    """

    sizes_mm: tuple[float, ...] = tuple(float(size) for size in DEFAULT_SIZES_MM)
    seam_allowance_mm: float = float(MM_PER_INCH / 4)
    clearance_mm: float = float(MM_PER_INCH / 8)
    side_mm: float | None = None
    units: Units = "in"
    turn: Turn = "grain"
    outline_px: tuple[tuple[float, float], ...] = ()
    outline_sd_mm: float = 0.1
    near_px: tuple[float, float] | None = None
    pick: int | None = None
    no_motif: bool = False
    place: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        """Check each setting and their combination.

        Raises
        ------
        UsageError
            If a setting makes no sense; the text says which and what would.
        """
        if not all(isfinite(number) for number in self._numbers()):
            raise UsageError("sizes, lengths and points must be finite numbers")
        if not self.sizes_mm:
            raise UsageError("the size set is empty: give at least one finished size")
        if list(self.sizes_mm) != sorted(set(self.sizes_mm)) or self.sizes_mm[0] <= 0:
            raise UsageError("sizes must be greater than zero, ascending and different")
        if self.sizes_mm[-1] > _LARGEST_MM:
            raise UsageError("a finished size of over 2 m is no centre of a block: check the unit")
        if not 0 <= self.seam_allowance_mm <= 100:
            raise UsageError("the seam allowance must lie between 0 and 100 mm")
        if not 0 <= self.clearance_mm <= 200:
            raise UsageError("the clearance must lie between 0 and 200 mm")
        if self.side_mm is not None and not 5 <= self.side_mm <= _LARGEST_SIDE_MM:
            raise UsageError(
                "the reference square's side must lie between 5 mm and 1 m: check the unit"
            )
        if not 0 < self.outline_sd_mm <= _COARSEST_MM:
            raise UsageError("an outline must be good to 50 mm or better")
        if len(self.outline_px) == 1:
            raise UsageError("an outline needs two points (a box) or more (a polygon)")
        if self.pick is not None and self.pick < 1:
            raise UsageError("--pick counts from 1")
        chosen = [bool(self.outline_px), self.near_px is not None, self.pick is not None]
        if sum(chosen) + self.no_motif > 1:
            raise UsageError("give one of --outline, --near, --pick and --no-motif, not several")

    def _numbers(self) -> list[float]:
        """Every number of the settings."""
        lone = [self.seam_allowance_mm, self.clearance_mm, self.side_mm or 0.0, self.outline_sd_mm]
        points = [*self.outline_px, self.near_px or (), self.place or ()]
        return [*self.sizes_mm, *lone, *(number for point in points for number in point)]

    def fingerprint(self) -> str:
        """Return a short hash that changes when any setting does."""
        text = json.dumps(asdict(self), sort_keys=True, allow_nan=False)
        return hashlib.sha256(text.encode()).hexdigest()[:16]
