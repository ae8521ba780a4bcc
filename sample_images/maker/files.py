"""Photos on disk as a phone writes them: JPEG or HEIC, an invented maker's EXIF, no position."""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

QUALITY = 86
TURNED = 6  # Exif orientation: the stored picture's top row is the right side of what is shown


def shot_exif(number: int, focal_35mm: float | None, orientation: int) -> Image.Exif:
    """EXIF of one shot."""
    base, exif = ExifTags.Base, Image.Exif()
    exif[base.Make] = "Hollin & Reed"
    exif[base.Model] = "HR Pocket 2"
    exif[base.Orientation] = orientation
    exif[base.DateTime] = (
        f"2026:03:14 {9 + number // 6:02d}:{(7 * number) % 60:02d}:{(13 * number) % 60:02d}"
    )
    shot = exif.get_ifd(ExifTags.IFD.Exif)
    shot[base.DateTimeOriginal] = exif[base.DateTime]
    shot[base.ExposureTime] = 1 / (60 + 15 * (number % 4))
    shot[base.FNumber] = 1.8
    shot[base.ISOSpeedRatings] = 80 + 40 * (number % 5)
    if focal_35mm is not None:
        shot[base.FocalLength] = round(4.32 * focal_35mm / 26, 2)
        shot[base.FocalLengthIn35mmFilm] = round(focal_35mm)
    return exif


def write_photo(
    picture: NDArray[np.uint8],
    path: Path,
    *,
    number: int,
    focal_35mm: float | None,
    stored_turned: bool = False,
) -> None:
    """Write a photo; with ``stored_turned`` the pixels lie on their side and EXIF says so."""
    image = Image.fromarray(picture)
    if stored_turned:
        image = image.transpose(Image.Transpose.ROTATE_90)
    options: dict[str, Any] = {"quality": QUALITY, "subsampling": "4:2:0", "optimize": True}
    if path.suffix == ".heic":
        import pillow_heif  # only the one HEIC sample needs an encoder: pip install pillow-heif

        pillow_heif.register_heif_opener()
        options = {"quality": 62}
    image.save(path, exif=shot_exif(number, focal_35mm, TURNED if stored_turned else 1), **options)
