"""From the stages' answers to the record, and the check before it leaves."""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from motiffit.errors import Refusal
from motiffit.measure.choice import Choice
from motiffit.measure.cloth import Cloth
from motiffit.measure.geometry import (
    apply_homography,
    as_pairs,
    distort,
    rotate_vectors,
    undistort,
)
from motiffit.measure.hidden import doubt_ground, doubt_place, spread_margin
from motiffit.measure.plane import Plane
from motiffit.measure.plausible import doubt_code, doubt_extent, tell_side
from motiffit.measure.reference import FoundReference
from motiffit.measure.window import NONE_SHORT, SHORT_CODES, Fit
from motiffit.record import (
    Garment,
    Message,
    Motif,
    Outcome,
    PlaneDigest,
    Reference,
    Sizing,
    Window,
    make_message,
)
from motiffit.settings import Settings
from motiffit.units import Units, format_centimetres, format_length

__all__ = [
    "OF_THE_FIT",
    "assemble_sizing",
    "check_sizing",
    "digest_to_mm",
    "digest_to_px",
    "refit_sizing",
]

_AGREE_MM = 0.02
"""The record's own numbers must give back the square it proposes to this much: rounding only."""

OF_THE_FIT = SHORT_CODES | frozenset(
    {
        "cloth-scant",
        "motif-maybe-too-large",
        "motif-too-large",
        "no-cloth-for-any",
        "placed-close",
        "placed-cuts",
        "reference-in-the-way",
        "reference-on-square",
        "size-doubtful",
        "window-shifted",
    }
)
"""Messages that come of the square's size and place alone."""

_OF_THE_EDGE = SHORT_CODES | {"cloth-scant", "garment-cut"}
"""Messages on where the cloth ends: where the motif is cut by the photo's edge, so is the cloth."""


def assemble_sizing(
    photo: str,
    settings: Settings,
    *,
    found: FoundReference,
    plane: Plane,
    cloth: Cloth,
    choice: Choice,
    fit: Fit,
) -> Sizing:
    """Put the stages' answers into one record.

    Parameters
    ----------
    photo
        The path as given.
    settings
        What was asked for.
    found, plane, cloth, choice, fit
        The stages' answers, in the order in which they came.
    """
    none = "no-motif-said" if settings.no_motif else "no-motif"
    plain = () if choice.motifs else (make_message(none),)
    reference, digest = found.digest(), plane.digest()
    messages = _once(
        *found.messages,
        *_doubts(found, cloth, settings),
        *plane.messages,
        *cloth.messages,
        *choice.messages,
        *plain,
        *_doubt_plain(reference, digest, cloth, choice.motifs, settings),
        *_doubt_cover(reference, digest, choice.motifs, fit, settings),
        *fit.messages,
    )
    return Sizing(
        photo=photo,
        outcome=_outcome(choice.motifs, messages),
        messages=messages,
        reference=reference,
        plane=digest,
        garment=_garment(cloth, plane),
        motifs=choice.motifs,
        window=_window(fit, plane.to_px, settings, messages),
        sizes=fit.sizes,
        settings=settings,
    )


def refit_sizing(sizing: Sizing, settings: Settings, fit: Fit) -> Sizing:
    """Return a measured record with another square in it.

    Parameters
    ----------
    sizing
        The record; it has a plane.
    settings
        What is asked for now.
    fit
        The square.
    """
    plane, reference = sizing.plane, sizing.reference
    assert plane is not None
    assert reference is not None
    kept = (message for message in sizing.messages if message.code not in OF_THE_FIT)
    hides = _doubt_cover(reference, plane, sizing.motifs, fit, settings)
    messages = _once(*kept, *hides, *fit.messages)
    return replace(
        sizing,
        outcome=_outcome(sizing.motifs, messages),
        messages=messages,
        window=_window(fit, lambda points: digest_to_px(plane, points), settings, messages),
        sizes=fit.sizes,
        settings=settings,
    )


def check_sizing(sizing: Sizing) -> None:
    """Check a record by its own numbers, along another route than the stages took.

    Raises
    ------
    Refusal
        ``self-check`` when the seam line drawn into the photo is no square of the finished size, or
        crosses the motif although the record says that it does not.
    """
    window, plane = sizing.window, sizing.plane
    if window is None or plane is None:
        return
    seam = digest_to_mm(plane, np.asarray(window.seam_corners_px))
    sides = np.linalg.norm(seam - np.roll(seam, -1, axis=0), axis=1)
    diagonals = np.linalg.norm(seam[:2] - seam[2:], axis=1) / np.sqrt(2)
    if np.abs(np.append(sides, diagonals) - window.finished_mm).max() > _AGREE_MM:
        raise Refusal("self-check", reason="the seam line is not a square of the finished size")
    if window.clearance_mm is None or window.clearance_mm.least() <= 0:
        return
    motif = digest_to_mm(plane, np.asarray(sizing.motifs[0].corners_px))
    edges = np.roll(seam, -1, axis=0) - seam
    outward = np.stack([edges[:, 1], -edges[:, 0]], axis=1) / sides[:, None]
    beyond = ((motif[:, None] - seam[None]) * outward[None]).sum(axis=2).max()
    if beyond > _AGREE_MM:
        raise Refusal("self-check", reason="the seam line crosses the motif")


def digest_to_mm(plane: PlaneDigest, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Map ``(N, 2)`` photo pixels to mm on the cloth by a record's own numbers."""
    middle = np.asarray(plane.middle_px)
    rays = undistort((points_px - middle) / plane.focal_px, plane.distortion)
    return apply_homography(np.asarray(plane.px_to_mm), rays * plane.focal_px + middle)


def _doubts(found: FoundReference, cloth: Cloth, settings: Settings) -> Iterator[Message]:
    """Doubt a side of the reference that can hardly be true."""
    if found.kind == "card" and settings.side_mm is None:
        yield from doubt_code(found.side_mm, settings)
    yield from tell_side(found.coded_mm, settings)
    said = {message.code for message in cloth.messages}
    if "garment-unclear" not in said:
        length = float(np.ptp(rotate_vectors(cloth.outline_mm, -cloth.upright_deg), axis=0).max())
        is_whole = "garment-cut" not in said
        yield from doubt_extent(found.digest(), length, settings, is_whole=is_whole)


def _doubt_cover(
    reference: Reference,
    plane: PlaneDigest,
    motifs: tuple[Motif, ...],
    fit: Fit,
    settings: Settings,
) -> Iterator[Message]:
    """Doubt a square or a motif on which the reference lies."""
    motif = motifs[0] if motifs else None
    return doubt_place(reference, _paper_mm(reference, plane), motif, fit, settings)


def _doubt_plain(
    reference: Reference,
    plane: PlaneDigest,
    cloth: Cloth,
    motifs: tuple[Motif, ...],
    settings: Settings,
) -> Iterator[Message]:
    """Doubt that there is no motif, where the reference may hide it."""
    if not motifs and not settings.no_motif:
        yield from doubt_ground(reference, _paper_mm(reference, plane), cloth.outline_mm)


def _paper_mm(reference: Reference, plane: PlaneDigest) -> NDArray[np.float64]:
    """Return the outer corners (4, 2) of the reference's paper on the cloth."""
    corners = digest_to_mm(plane, np.asarray(reference.corners_px))
    return spread_margin(reference.kind, corners)


def digest_to_px(plane: PlaneDigest, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Map ``(N, 2)`` mm on the cloth to photo pixels: the way back of `digest_to_mm`."""
    ideal = apply_homography(np.linalg.inv(np.asarray(plane.px_to_mm)), points_mm)
    middle = np.asarray(plane.middle_px)
    rays = distort((ideal - middle) / plane.focal_px, plane.distortion)
    return np.asarray(rays * plane.focal_px + middle)


def _outcome(motifs: tuple[Motif, ...], messages: tuple[Message, ...]) -> Outcome:
    """Sized when nothing needs a person's eye."""
    if not motifs:
        return "no-motif"
    return "check" if any(m.severity == "warning" for m in messages) else "sized"


def _once(*messages: Message) -> tuple[Message, ...]:
    """Keep the first message of each code, what needs an eye before what is a note."""
    first = {message.code: message for message in reversed(messages)}
    codes = dict.fromkeys(message.code for message in messages)
    left_out = _OF_THE_EDGE if "motif-cut" in codes else frozenset()
    ordered = [first[code] for code in codes if code not in left_out]
    return tuple(sorted(ordered, key=lambda message: message.severity == "note"))


def _garment(cloth: Cloth, plane: Plane) -> Garment | None:
    """Draw the garment's outline into the photo."""
    if len(cloth.outline_mm) < 3:
        return None
    outline_px = plane.to_px(np.asarray(cloth.outline_mm))
    return Garment(
        outline_px=as_pairs(outline_px),
        outline_mm=as_pairs(np.asarray(cloth.outline_mm)),
        upright_deg=cloth.upright_deg,
    )


def _window(
    fit: Fit,
    to_px: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    settings: Settings,
    messages: tuple[Message, ...],
) -> Window | None:
    """Draw the square into the photo."""
    if fit.finished_mm is None:
        return None
    # no piece of cloth mends a photo that ends within the motif
    is_cut = any(message.code == "motif-cut" for message in messages)
    cut_mm = fit.finished_mm + 2 * settings.seam_allowance_mm
    return Window(
        finished_mm=fit.finished_mm,
        finished=format_length(fit.finished_mm, settings.units),
        cut_mm=cut_mm,
        cut=_cut_words(cut_mm, settings.units),
        centre_mm=fit.centre_mm,
        angle_deg=fit.angle_deg,
        seam_corners_px=as_pairs(to_px(np.asarray(fit.square_corners(fit.finished_mm)))),
        cut_corners_px=as_pairs(to_px(np.asarray(fit.square_corners(cut_mm)))),
        clearance_mm=fit.clearance_mm,
        p_clear=fit.p_clear,
        cloth_short_mm=NONE_SHORT if is_cut else fit.cloth_short_mm,
    )


def _cut_words(cut_mm: float, units: Units) -> str:
    """Print a cut size: centimetres as the plan prints them, to 0.1 mm."""
    return format_length(cut_mm, units) if units == "in" else format_centimetres(cut_mm, finest=10)
