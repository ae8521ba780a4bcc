"""One photo in, one record out: the walk over the stages."""

import os
from pathlib import Path

from motiffit.errors import Refusal
from motiffit.measure.choice import Choice, choose_motifs, outlined_motif
from motiffit.measure.cloth import separate_cloth
from motiffit.measure.flatview import rectify
from motiffit.measure.motif import find_motifs
from motiffit.measure.photo import read_photo
from motiffit.measure.plane import solve_plane
from motiffit.measure.reference import find_reference
from motiffit.measure.report import assemble_sizing, check_sizing
from motiffit.measure.window import fit_empty, fit_window
from motiffit.record import Sizing, make_message, refused_sizing
from motiffit.settings import Settings

__all__ = ["size_photo"]


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
        return _walk(Path(path), settings)
    except Refusal as refusal:
        return refused_sizing(path, settings, make_message(refusal.code, **refusal.details))
    except MemoryError:
        return refused_sizing(path, settings, make_message("out-of-memory"))


def _walk(path: Path, settings: Settings) -> Sizing:
    """Photo, reference, plane, flat view, cloth, motif, window."""
    photo = read_photo(path)
    found = find_reference(photo, settings)
    plane = solve_plane(found, photo)
    flat = rectify(photo, plane)
    cloth = separate_cloth(flat)
    if settings.no_motif:
        choice = Choice(motifs=(), messages=())
    elif settings.outline_px:
        choice = outlined_motif(settings, plane, cloth.upright_deg)
    else:
        choice = choose_motifs(find_motifs(flat, cloth, turn=settings.turn), plane, settings)
    if choice.motifs:
        fit = fit_window(choice.motifs[0], cloth.outline_mm, settings)
    else:
        fit = fit_empty(cloth.outline_mm, cloth.upright_deg, settings)
    sizing = assemble_sizing(
        str(path), settings, found=found, plane=plane, cloth=cloth, choice=choice, fit=fit
    )
    check_sizing(sizing)
    return sizing
