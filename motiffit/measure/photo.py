"""Reading a photo: the one stage that touches a file.

Whatever the file's name says, its content decides. The picture is decoded no larger than the later
stages can use; its coordinates are always told in pixels of the full photo as displayed.
"""

import hashlib
import re
import stat
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from math import gcd
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError
from PIL.JpegImagePlugin import JpegImageFile

from motiffit.errors import Refusal
from motiffit.measure.heif import check_heif

__all__ = ["LIMIT_MEGABYTES", "LIMIT_MEGAPIXELS", "Photo", "read_photo"]

LIMIT_MEGAPIXELS = 120.0
"""Above the 108 million pixels of phone sensors; a PNG of this size takes 0.5 GB to decode."""
LIMIT_MEGABYTES = 200.0
_LEAST_PX = 200  # below this on the shorter side, a card and a garment leave nothing to measure
_ENOUGH_PX = 1600  # longer side that reduced decoding keeps: a 4 in card then spans about 200 px

_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF")
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_OTHER_FORMATS = {
    b"GIF8": "GIF",
    b"BM": "BMP",
    b"%PDF": "PDF",
    b"8BPS": "Photoshop",
    b"<svg": "SVG",
    b"<?xm": "XML or SVG",
    b"PK\x03\x04": "ZIP",
    b"\x00\x00\x01\x00": "icon",
}
_CUT_OFF = ("truncated", "end of file", "incomplete", "premature", "end of data")

# Exif 2.3 tag numbers, as decoded by Pillow from phone photos
_ORIENTATION, _EXIF_IFD = 0x0112, 0x8769
_FOCAL_35MM, _ZOOM, _WIDTH, _HEIGHT = 0xA405, 0xA404, 0xA002, 0xA003
# Orientations, in the order in which they are undone: rows and columns change places, rows run the
# other way, columns run the other way
_ON_THEIR_SIDE, _UPSIDE_DOWN, _MIRRORED = (5, 6, 7, 8), (3, 4, 7, 8), (2, 3, 6, 7)
_BELIEVED_FOCAL_MM = (20.0, 40.0)  # main phone cameras: 23-29 mm; crops report 177 mm and more
_POSSIBLE_FOCAL_MM = (12.0, 130.0)  # phones' other cameras, ultrawide to five times
_SAME_ASPECT = 0.01  # relative; a cropped photo differs by more from the size in its Exif data

_Focal = tuple[float | None, tuple[float, ...]]  # believed, and rivals: see `Photo`


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo as displayed, its orientation applied.

    Attributes
    ----------
    path
        Where it was read from.
    width_px, height_px
        Full resolution.
    picture
        uint8 (h, w, 3), RGB, read-only; possibly decoded at reduced size.
    full_per_px
        Full pixels per pixel of ``picture``: 1, 2, 4 or 8. Up to 7 columns at the right and rows at
        the bottom that do not divide by it are not in ``picture``.
    focal_35mm
        Focal length (mm) in terms of 35 mm film, or None when unknown or not to be believed.
    focal_rivals_35mm
        Such lengths that may hold but are not to be believed outright: the square has to tell.
    content_hash
        SHA-256 of the file.
    """

    path: Path
    width_px: int
    height_px: int
    picture: NDArray[np.uint8]
    full_per_px: float
    focal_35mm: float | None
    content_hash: str
    focal_rivals_35mm: tuple[float, ...] = ()

    def to_full(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return full pixels (N, 2) for points (N, 2) of ``picture``."""
        return (points + 0.5) * self.full_per_px - 0.5

    def to_picture(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (N, 2) of ``picture`` for full pixels (N, 2)."""
        return (points_px + 0.5) / self.full_per_px - 0.5


def read_photo(path: Path) -> Photo:
    """Read a JPEG, PNG, WebP, TIFF or HEIC file.

    Transparent parts become white; sixteen bits become eight.

    Raises
    ------
    Refusal
        If the file is missing, empty, too large, cut off or no picture of these formats.
    """
    content = _read(path)
    with warnings.catch_warnings():
        # Pillow warns of large sizes and odd metadata; the limits below decide instead
        warnings.simplefilter("ignore")
        with _refusing(content), _open(content) as image:
            _check_size(image)
            stored_size = image.size
            if not isinstance(image, JpegImageFile):
                image.load()  # a PNG may tell which way up it is after its pixels
            orientation, (focal_35mm, rivals) = _camera_data(image, stored_size)
            step = _reduction(stored_size)
            decoded = _decode(image, step, orientation)
    width_px, height_px = stored_size[::-1] if orientation in _ON_THEIR_SIDE else stored_size
    return Photo(
        path=path,
        width_px=width_px,
        height_px=height_px,
        picture=_upright(decoded, orientation),
        full_per_px=float(step),
        focal_35mm=focal_35mm,
        focal_rivals_35mm=rivals,
        content_hash=hashlib.sha256(content).hexdigest(),
    )


def _read(path: Path) -> bytes:
    """Read the file's bytes, within the limit."""
    try:
        about = path.stat()
        if not (stat.S_ISREG(about.st_mode) or stat.S_ISDIR(about.st_mode)):
            raise Refusal("photo-unreadable", reason="it is a pipe or a device")
        if about.st_size > LIMIT_MEGABYTES * 1e6:
            raise Refusal(
                "photo-too-large",
                megabytes=about.st_size / 1e6,
                limit_megabytes=LIMIT_MEGABYTES,
            )
        with path.open("rb") as file:
            content = file.read(about.st_size)  # no more, although it may be growing
    except (FileNotFoundError, ValueError) as error:  # no name of a file holds a zero byte
        raise Refusal("photo-missing") from error
    except OSError as error:
        raise Refusal("file-denied", reason=error.strerror or type(error).__name__) from error
    if not content:
        raise Refusal("photo-empty")
    return content


def _open(content: bytes) -> Image.Image:
    """Open the picture without decoding it."""
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        # only now: it takes a while to load and most photos do not need it
        from pi_heif import HeifImageFile

        check_heif(content)
        heif: Image.Image = HeifImageFile(BytesIO(content))
        return heif
    return Image.open(BytesIO(content), formats=_FORMATS)


@contextmanager
def _refusing(content: bytes) -> Iterator[None]:
    """Turn whatever the decoders make of a broken file into a refusal."""
    try:
        yield
    except (Refusal, MemoryError):
        raise
    except Image.DecompressionBombError as error:
        pixels = re.search(r"\d+", str(error))
        megapixels = float(pixels.group()) / 1e6 if pixels else 2 * LIMIT_MEGAPIXELS
        raise _too_many_pixels(megapixels) from error
    except UnidentifiedImageError as error:
        raise _not_read(content) from error
    except Exception as error:  # decoders of broken files raise almost anything
        words = str(error).lower()
        if any(word in words for word in _CUT_OFF):
            raise Refusal("photo-truncated") from error
        raise Refusal("photo-unreadable", reason=_plain(error)) from error


def _not_read(content: bytes) -> Refusal:
    """Say what the file is instead, where its first bytes tell."""
    if content[4:8] == b"ftyp":
        return Refusal("photo-format", format=content[8:12].decode("ascii", "replace").strip())
    for start, name in _OTHER_FORMATS.items():
        if content.startswith(start):
            return Refusal("photo-format", format=name)
    if content.startswith((b"\xff\xd8", b"\x89PNG", b"RIFF", b"II*\x00", b"MM\x00*")):
        return Refusal("photo-truncated")
    return Refusal("photo-unreadable", reason="it is no picture")


def _too_many_pixels(megapixels: float) -> Refusal:
    return Refusal(
        "photo-too-many-pixels", megapixels=megapixels, limit_megapixels=LIMIT_MEGAPIXELS
    )


def _plain(error: Exception) -> str:
    """Return the first line of a library's message, short enough to show."""
    return (str(error).splitlines() or [type(error).__name__])[0][:80]


def _check_size(image: Image.Image) -> None:
    """Refuse a picture of too many or too few pixels."""
    width, height = image.size
    if width * height > LIMIT_MEGAPIXELS * 1e6:
        raise _too_many_pixels(width * height / 1e6)
    if min(width, height) < _LEAST_PX:
        raise Refusal("photo-too-small", width=width, height=height)


def _camera_data(image: Image.Image, size: tuple[int, int]) -> tuple[int, _Focal]:
    """Return orientation (1..8) and focal length from the Exif data, as far as they can be read."""
    try:
        exif = image.getexif()
        orientation, tags = exif.get(_ORIENTATION, 1), exif.get_ifd(_EXIF_IFD)
    except Exception:  # a photo is none the worse for broken camera data
        return 1, (None, ())
    return orientation, _focal_35mm(tags, size)


def _focal_35mm(exif: dict[int, object], size: tuple[int, int]) -> _Focal:
    """Return the focal length that the camera noted, and those that its notes may mean instead."""
    focal, zoom = _number(exif.get(_FOCAL_35MM)), _number(exif.get(_ZOOM))
    noted = sorted((_number(exif.get(_WIDTH)), _number(exif.get(_HEIGHT))))
    aspect = max(size) / min(size)
    if noted[0] > 0 and abs(noted[1] / noted[0] / aspect - 1) > _SAME_ASPECT:
        return None, ()
    if _BELIEVED_FOCAL_MM[0] <= focal <= _BELIEVED_FOCAL_MM[1] and zoom <= 1:
        return focal, ()
    meant = {focal, focal * max(zoom, 1.0)}  # makers differ in whether it counts digital zoom
    low, high = _POSSIBLE_FOCAL_MM
    return None, tuple(sorted(mm for mm in meant if low <= mm <= high))


def _number(value: object) -> float:
    """Return an Exif value as a finite number, 0 where it is none."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return 0.0
    return number if np.isfinite(number) else 0.0


def _reduction(size: tuple[int, int]) -> int:
    """Return how far the decoding may reduce without losing what the measurement needs."""
    return next((step for step in (8, 4, 2) if max(size) >= step * _ENOUGH_PX), 1)


def _decode(image: Image.Image, step: int, orientation: int) -> Image.Image:
    """Decode to RGB at 1/step of the size, without what does not divide at right and bottom."""
    width, height = image.size
    left, top = _offcut(width % step, height % step, orientation)
    # JPEG alone reduces while decoding, in blocks that start at the stored top left
    ready = gcd(step, left, top)
    image.draft(None, (width // ready, height // ready))
    image.load()
    done = round(width / image.width)
    rest = step // done
    if rest > 1 and not _can_average(image):
        image = _to_rgb(image)
    right, bottom = left + width // step * step, top + height // step * step
    box = (left // done, top // done, right // done, bottom // done)
    if rest > 1:
        return _to_rgb(image.reduce(rest, box))
    return _to_rgb(image if box == (0, 0, *image.size) else image.crop(box))


def _offcut(columns: int, rows: int, orientation: int) -> tuple[int, int]:
    """Return what to leave off at the stored left and top, to keep those displayed."""
    across, down = (rows, columns) if orientation in _ON_THEIR_SIDE else (columns, rows)
    across = across if orientation in _MIRRORED else 0
    down = down if orientation in _UPSIDE_DOWN else 0
    return (down, across) if orientation in _ON_THEIR_SIDE else (across, down)


def _can_average(image: Image.Image) -> bool:
    """Tell whether the mean of pixels as stored is a pixel too."""
    return image.mode in ("L", "LA", "RGB", "RGBA", "CMYK") and "transparency" not in image.info


def _to_rgb(image: Image.Image) -> Image.Image:
    """Turn any mode into RGB: sixteen bits to eight, transparent to white."""
    if image.mode.startswith("I"):
        grey = np.asarray(image).clip(0, 65535).astype(np.uint16)
        levels = np.arange(65536) * (255.0 / (65535.0 if grey.max() > 255 else 255.0))
        return Image.fromarray(levels.clip(0, 255).astype(np.uint8)[grey]).convert("RGB")
    if image.has_transparency_data:
        layer = image.convert("RGBA")
        white = Image.new("RGBA", layer.size, (255, 255, 255, 255))
        return Image.alpha_composite(white, layer).convert("RGB")
    return image if image.mode == "RGB" else image.convert("RGB")


def _upright(image: Image.Image, orientation: int) -> NDArray[np.uint8]:
    """Return the pixels as displayed, read-only, for an Exif orientation of 1..8."""
    pixels = np.asarray(image)
    if orientation in _ON_THEIR_SIDE:
        pixels = pixels.transpose(1, 0, 2)
    if orientation in _UPSIDE_DOWN:
        pixels = pixels[::-1]
    if orientation in _MIRRORED:
        pixels = pixels[:, ::-1]
    pixels = np.ascontiguousarray(pixels)
    pixels.flags.writeable = False
    return pixels
