"""One photo in, one record out: the walk over the stages."""

import os
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from motiffit.errors import Refusal
from motiffit.measure.choice import Choice, choose_motifs, outlined_motif, place_on_cloth
from motiffit.measure.cloth import Cloth, separate_cloth
from motiffit.measure.flatview import FlatView, rectify
from motiffit.measure.geometry import as_pairs
from motiffit.measure.motif import MotifsFound, find_motifs
from motiffit.measure.photo import read_photo
from motiffit.measure.placed import fit_square
from motiffit.measure.plane import ON_CLOTH_SD_MM, Plane, solve_plane
from motiffit.measure.reference import FoundReference, find_reference
from motiffit.measure.report import assemble_sizing, check_sizing
from motiffit.record import Sizing, make_message, refused_sizing
from motiffit.settings import Settings

__all__ = ["Survey", "size_photo", "size_survey", "survey_photo"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What was measured of one photo, before anything is chosen: enough to size it anew at once.

    It holds for all settings with the same ``side_mm`` and ``turn``; made with an outline or
    ``no_motif``, it has no motifs to choose from.
    """

    photo: str
    photo_hash: str
    found: FoundReference
    plane: Plane
    cloth: Cloth
    motifs: MotifsFound


def size_photo(path: str | os.PathLike[str], settings: Settings | None = None) -> Sizing:
    """Size the centre of a block from one photo of a garment.

    Parameters
    ----------
    path
        The photo, with a reference square in frame.
    settings
        What is asked for; the usual settings when None.

    Returns
    -------
    Sizing
        Always: a photo that cannot be measured has the outcome ``refused`` and a message that says
        what to do.

    Examples
    --------
    >>> size_photo("no/such/photo.jpg").messages[0].code
    'photo-missing'
    """
    settings = settings or Settings()
    try:
        return size_survey(survey_photo(path, settings)[0], settings)
    except Refusal as refusal:
        return refused_sizing(path, settings, make_message(refusal.code, **refusal.details))
    except MemoryError:
        return refused_sizing(path, settings, make_message("out-of-memory"))
    except cv2.error as error:
        if "Insufficient memory" not in str(error):  # its code is shared by all threads
            raise
        return refused_sizing(path, settings, make_message("out-of-memory"))


def survey_photo(path: str | os.PathLike[str], settings: Settings) -> tuple[Survey, FlatView]:
    """Measure a photo: reference, plane, flat view, cloth, motifs.

    Raises
    ------
    Refusal
        If it cannot be measured.
    """
    photo = read_photo(Path(path))
    found = find_reference(photo, settings)
    plane = solve_plane(found, photo)
    flat = rectify(photo, plane)
    cloth = separate_cloth(flat)
    if cloth.reference_on_cloth:  # both lie at one height, so the view is a little off
        plane = plane.at_height(0.0, ON_CLOTH_SD_MM)
        flat = rectify(photo, plane)
        cloth = separate_cloth(flat)
    survey = Survey(
        photo=str(path),
        photo_hash=photo.content_hash,
        found=found,
        plane=plane,
        cloth=cloth,
        motifs=_look_for_motifs(flat, cloth, settings),
    )
    return survey, flat


def size_survey(survey: Survey, settings: Settings) -> Sizing:
    """Choose the motif, fit the window, and check the answer.

    Raises
    ------
    Refusal
        If the settings ask for a motif that is not there, or the check fails.
    """
    plane, cloth = survey.plane, survey.cloth
    if settings.no_motif:
        choice = Choice(motifs=(), messages=())
    elif settings.outline_px:
        choice = outlined_motif(settings, plane, cloth.upright_deg)
    else:
        choice = choose_motifs(survey.motifs, plane, settings)
    motif = choice.motifs[0] if choice.motifs else None
    placed = None
    if settings.place is not None:
        placed = as_pairs(place_on_cloth(np.array([settings.place[:2]]), plane))[0]
    fit = fit_square(motif, cloth.outline_mm, cloth.upright_deg, settings, placed_mm=placed)
    sizing = assemble_sizing(
        survey.photo, settings, found=survey.found, plane=plane, cloth=cloth, choice=choice, fit=fit
    )
    check_sizing(sizing)
    return sizing


def _look_for_motifs(flat: FlatView, cloth: Cloth, settings: Settings) -> MotifsFound:
    """Find the motifs, unless a person's word makes the look needless."""
    if settings.outline_px or settings.no_motif:
        return MotifsFound(candidates=(), p_motif=float(not settings.no_motif), messages=())
    return find_motifs(flat, cloth, turn=settings.turn)
