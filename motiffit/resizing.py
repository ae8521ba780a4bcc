"""Another size set for a photo that was measured: answered from its record, the photo not read."""

from dataclasses import replace

import numpy as np

from motiffit.errors import Refusal
from motiffit.measure.placed import fit_square
from motiffit.measure.report import check_sizing, refit_sizing
from motiffit.messages import MACHINE_REFUSALS
from motiffit.record import Sizing
from motiffit.settings import Settings

__all__ = ["resize"]

_OF_THE_ANSWER = {"program-fault", "self-check"}
"""Refusals that may come of the sizes asked for: with others the photo must be measured again."""


def resize(sizing: Sizing, settings: Settings) -> Sizing:
    """Answer a record anew for other sizes, as `motiffit.sizing.size_photo` would.

    Parameters
    ----------
    sizing
        The record.
    settings
        As the record's own, but for the sizes.

    Raises
    ------
    ValueError
        If anything but the sizes is asked for otherwise: then the photo must be measured again.
    Refusal
        If the answer fails its check, or the record's own refusal says nothing of the photo.
    """
    if replace(settings, sizes_mm=sizing.settings.sizes_mm) != sizing.settings:
        raise ValueError("not only the sizes changed")
    if sizing.plane is None:
        if sizing.says(MACHINE_REFUSALS | _OF_THE_ANSWER):
            raise Refusal("program-fault", reason="the photo was not measured")
        return replace(sizing, settings=settings)
    garment, window = sizing.garment, sizing.window
    fit = fit_square(
        sizing.motifs[0] if sizing.motifs else None,
        np.asarray(garment.outline_mm if garment else ()).reshape(-1, 2),
        garment.upright_deg if garment else 0.0,
        settings,
        placed_mm=window.centre_mm if window and settings.place else None,
    )
    resized = refit_sizing(sizing, settings, fit)
    check_sizing(resized)
    return resized
