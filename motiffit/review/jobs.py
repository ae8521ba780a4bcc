"""What the page's workers do with a photo: look whether it is one, survey it, draw it."""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from motiffit.measure.photo import read_photo
from motiffit.record import Sizing
from motiffit.settings import Settings
from motiffit.show.flat import FlatPicture, draw_flat
from motiffit.show.overlay import draw_overlay
from motiffit.show.picture_file import encode_picture
from motiffit.show.thumbnail import draw_thumbnail
from motiffit.sizing import Survey, size_survey, survey_photo

__all__ = ["Opened", "draw_pictures", "look_at", "open_photo", "show_plain"]

_LONGEST_PX = 1600  # sharp on a large screen, about 300 KB


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A photo on the table: what was measured, the program's own answer, the flat picture."""

    survey: Survey
    own: Sizing
    flat: FlatPicture


def look_at(path: str) -> None:
    """Decode a photo once, to know that it is one.

    Raises
    ------
    Refusal
        If it is not.
    """
    cv2.setNumThreads(1)
    read_photo(Path(path))


def open_photo(path: str, settings: Settings) -> Opened:
    """Survey a photo, size it without a person's words, and draw it flat, the garment upright.

    Raises
    ------
    Refusal
        If it cannot be measured.
    """
    cv2.setNumThreads(1)
    survey, flat = survey_photo(path, settings)
    sharp = flat.near(flat.corners_mm())
    picture = draw_flat(
        sharp.picture,
        mm_per_px=sharp.mm_per_px,
        origin_mm=sharp.origin_mm,
        upright_deg=survey.cloth.upright_deg,
        outline_mm=survey.cloth.outline_mm,
    )
    return Opened(survey=survey, own=size_survey(survey, settings), flat=picture)


def draw_pictures(path: str, sizing: Sizing) -> tuple[bytes, bytes]:
    """Draw a record into its photo: large and small, as JPEG files.

    Raises
    ------
    Refusal
        If the photo cannot be read.
    """
    cv2.setNumThreads(1)
    photo = read_photo(Path(path))
    large = draw_overlay(photo.picture, photo.full_per_px, sizing)
    small = draw_thumbnail(photo.picture, photo.full_per_px, sizing)
    return encode_picture(large, ".jpg", quality=85), encode_picture(small, ".jpg", quality=75)


def show_plain(path: str) -> bytes:
    """Return a photo with nothing drawn in and nothing but its picture, a JPEG file.

    Raises
    ------
    Refusal
        If the photo cannot be read.
    """
    cv2.setNumThreads(1)
    picture = read_photo(Path(path)).picture
    scale = min(_LONGEST_PX / max(picture.shape), 1.0)
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return encode_picture(np.asarray(small, np.uint8), ".jpg", quality=85)
