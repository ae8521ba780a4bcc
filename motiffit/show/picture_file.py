"""Drawn pictures as files: marked as ours, and bare of EXIF, places and names."""

from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError
from PIL.PngImagePlugin import PngInfo

__all__ = ["PICTURE_SUFFIXES", "encode_picture", "is_own_picture"]

PICTURE_SUFFIXES = (".png", ".jpg", ".jpeg")

_MARK = "drawn by motiffit"


def encode_picture(picture: NDArray[np.uint8], suffix: str, *, quality: int = 92) -> bytes:
    """Encode a drawn picture as PNG or JPEG.

    Parameters
    ----------
    picture
        ``(h, w, 3)`` uint8 RGB.
    suffix : {'.png', '.jpg', '.jpeg'}
        The file's suffix, in small letters.
    quality
        Of a JPEG, 0..100.
    """
    buffer = BytesIO()
    image = Image.fromarray(picture)
    if suffix == ".png":
        mark = PngInfo()
        mark.add_text("Comment", _MARK)
        image.save(buffer, "PNG", pnginfo=mark)
    else:
        # full colour resolution, or thin coloured lines lose their colour
        image.save(buffer, "JPEG", quality=quality, subsampling=0, comment=_MARK)
    return buffer.getvalue()


def is_own_picture(path: Path) -> bool:
    """Tell whether a file is a picture that `encode_picture` made, and may be replaced."""
    try:
        with Image.open(path) as image:
            mark = image.info.get("Comment", image.info.get("comment", b""))
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError):
        return False
    return mark in (_MARK, _MARK.encode())
