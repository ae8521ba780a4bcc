"""Which modules of a 36h11 marker are black."""

import cv2

from motiffit.marker import MODULES_PER_SIDE

__all__ = ["black_modules"]


def black_modules(marker_id: int) -> tuple[tuple[bool, ...], ...]:
    """Return the marker's rows from the top, each from the left: True where black is printed.

    Parameters
    ----------
    marker_id
        Number of the code in the AprilTag 36h11 family, 0..586.

    Examples
    --------
    >>> rows = black_modules(364)
    >>> len(rows), all(rows[0]), all(row[0] and row[-1] for row in rows)
    (8, True, True)
    """
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    picture = cv2.aruco.generateImageMarker(family, marker_id, MODULES_PER_SIDE)
    return tuple(tuple(bool(value == 0) for value in row) for row in picture)
