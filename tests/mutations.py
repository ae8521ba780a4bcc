"""Photos spoilt at random, as by bad cards, broken copies and careless programs."""

import io
from functools import cache
from pathlib import Path

import numpy as np
import scenes
from PIL import ExifTags, Image

HERE = Path(__file__).parent
HEIC = HERE / "photos" / "quarters.heic"


@cache
def whole_photos():
    """Return suffix and content of whole photos, as cameras and programs write them.

    Two show a card and a garment, so that spoilt ones are measured as far as they can be; the
    others fail early and leave time for more.
    """
    scene = Image.fromarray(scenes.render(scenes.make_scene(3, tilt_deg=2.0)))
    scene = scene.resize((scene.width // 2, scene.height // 2), Image.Resampling.BOX)
    garment = scene.crop((scene.width // 2, 100, scene.width - 20, 560))
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = 26
    return [
        (".jpg", _saved(scene, "JPEG", quality=90, exif=exif)),
        (".png", _saved(scene, "PNG", compress_level=1)),
        (".jpg", _saved(garment, "JPEG", quality=85, progressive=True, restart_marker_rows=2)),
        (".jpg", _saved(garment.convert("L"), "JPEG", quality=90)),
        (".png", _saved(garment.quantize(64), "PNG", compress_level=1)),
        (".heic", HEIC.read_bytes()),
    ]


def spoil(content, rng):
    """Return a photo's content after one to three accidents."""
    spoilt = bytearray(content)
    for _ in range(rng.integers(1, 4)):
        _ACCIDENTS[rng.integers(len(_ACCIDENTS))](spoilt, rng)
    return bytes(spoilt)


def _saved(picture, kind, **options):
    buffer = io.BytesIO()
    picture.save(buffer, kind, **options)
    return buffer.getvalue()


def _place(spoilt, rng):
    """Return a place, half of the time among the first bytes, where the headers are."""
    reach = len(spoilt) if rng.random() < 0.5 else min(len(spoilt), 700)
    return int(rng.integers(max(reach, 1)))


def _flip_bits(spoilt, rng):
    for _ in range(rng.integers(1, 30)):
        if spoilt:
            spoilt[_place(spoilt, rng)] ^= 1 << int(rng.integers(8))


def _overwrite(spoilt, rng):
    at = _place(spoilt, rng)
    length = int(rng.integers(1, 64))
    spoilt[at : at + length] = rng.bytes(length)


def _extreme(spoilt, rng):
    at = _place(spoilt, rng)
    length = int(rng.choice([1, 2, 4, 512, 4096]))
    end = min(at + length, len(spoilt))
    spoilt[at:end] = bytes([int(rng.choice([0x00, 0xFF, 0x7F, 0x80]))]) * (end - at)


def _cut_off(spoilt, rng):
    del spoilt[_place(spoilt, rng) :]


def _lose(spoilt, rng):
    at = _place(spoilt, rng)
    del spoilt[at : at + int(rng.integers(1, 2000))]


def _repeat(spoilt, rng):
    at, length = _place(spoilt, rng), int(rng.integers(1, 3000))
    spoilt[at:at] = spoilt[at : at + length]


def _swap(spoilt, rng):
    one, other, length = _place(spoilt, rng), _place(spoilt, rng), int(rng.integers(1, 500))
    first, second = bytes(spoilt[one : one + length]), bytes(spoilt[other : other + length])
    spoilt[one : one + length] = second
    spoilt[other : other + length] = first


def _append(spoilt, rng):
    spoilt.extend(rng.bytes(int(rng.integers(1, 5000))))


_ACCIDENTS = (_flip_bits, _overwrite, _extreme, _cut_off, _lose, _repeat, _swap, _append)


def spoilt_photos(count, *, seed):
    """Yield names and contents of spoilt photos, the whole ones taken in turn."""
    rng = np.random.default_rng(seed)
    whole = whole_photos()
    for number in range(count):
        suffix, content = whole[number % len(whole)]
        yield f"{number:05}{suffix}", spoil(content, rng)
