"""How the photos of `scenes` get onto disk, with the EXIF that matters here, or past it."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from motiffit.measure.photo import Photo


def photo_of(picture: NDArray[np.uint8]) -> Photo:
    """A photo as `read_photo` would return it."""
    height, width = picture.shape[:2]
    return Photo(
        path=Path("drawn.png"),
        width_px=width,
        height_px=height,
        picture=picture,
        full_per_px=1.0,
        focal_35mm=26.0,
        content_hash="0",
    )


def save_photo(
    picture: NDArray[np.uint8],
    path: Path,
    *,
    focal_35mm: float | None = None,
    orientation: int = 1,
    quality: int = 94,
) -> Path:
    """Write a photo that shows ``picture`` once its EXIF orientation is applied."""
    stored = Image.fromarray(picture)
    undo = _UNDO.get(orientation)
    if undo is not None:
        stored = stored.transpose(undo)
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    if focal_35mm is not None:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = round(focal_35mm)
    stored.save(path, exif=exif, quality=quality)
    return path


# Exif 2.3, tag 0x0112: 6 means "row 0 is the right side, column 0 the top", and so on. Each entry
# turns the picture as displayed into the picture as stored.
_UNDO = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
