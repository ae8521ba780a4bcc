"""What a worker does with a photo: size it, and draw the square into it."""

from pathlib import Path

import cv2

from motiffit.errors import Refusal
from motiffit.ledger import program_version
from motiffit.measure.photo import read_photo
from motiffit.record import Sizing
from motiffit.show.overlay import draw_overlay
from motiffit.show.picture_file import encode_picture
from motiffit.show.thumbnail import draw_thumbnail
from motiffit.sizing import size_photo
from motiffit.task import Done, Task, hash_or_none

__all__ = ["size_and_draw"]

_TRIES = 3  # a photo that is still being copied changes between two looks at it
_QUALITY, _SMALL_QUALITY = 85, 75  # of JPEG: lines stay clean; 250 and 30 KB


def size_and_draw(task: Task) -> Done:
    """Size a photo and draw its pictures, all from one and the same content of the file."""
    cv2.setNumThreads(1)  # the other cores have photos of their own
    for _ in range(_TRIES):
        before = hash_or_none(task.path)
        sizing = size_photo(task.path, task.settings)
        picture, thumbnail = _draw(task, sizing)
        if before == hash_or_none(task.path):
            break
    return Done(
        task=task,
        sizing=sizing,
        photo_hash=before,
        picture=picture,
        thumbnail=thumbnail,
        program=program_version(),
    )


def _draw(task: Task, sizing: Sizing) -> tuple[bytes | None, bytes | None]:
    """Return the two pictures of a photo, as far as it can be read."""
    try:
        photo = read_photo(Path(task.path))
    except Refusal:
        return None, None
    large = draw_overlay(photo.picture, photo.full_per_px, sizing)
    small = draw_thumbnail(photo.picture, photo.full_per_px, sizing)
    return (
        encode_picture(large, ".jpg", quality=_QUALITY),
        encode_picture(small, ".jpg", quality=_SMALL_QUALITY),
    )
