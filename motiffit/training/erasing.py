"""Garments without their motif: bare cloth of the same garment laid over it.

A net that sees a garment only with its motif learns the garment by heart instead of the motif.
"""

import cv2
import numpy as np

__all__ = ["erase"]

Array = np.ndarray

MARGIN = 0.06  # laid over about a motif's box, in parts of its longer side
LEAST_MARGIN_PX = 3
RIM = 0.05  # width of the rim by which a patch is chosen, likewise
TRIED = 400  # places looked at for each size of patch
SCALES = (1.0, 0.75, 0.55)  # a patch smaller than the hole is enlarged: cloth is scarce on some
MOST_OFF = 14.0  # Lab: patches whose rim differs by more would leave a visible edge
COST_PER_PX = 0.01  # Lab: nearer cloth has more of the same light
LEVELLED = 0.7  # share of a rim's difference in colour that blending takes away
LEAST_CLOTH = 0.9  # share of a hole's rim that must lie on the garment


def erase(photo: Array, mask: Array, boxes: list[Array]) -> Array | None:
    """Lay bare cloth over all motifs of a garment; None where no cloth will do.

    Parameters
    ----------
    photo : (H, W, 3) uint8
        BGR.
    mask : (H, W) uint8
        1 on the garment.
    boxes
        Left, top, right, bottom of each motif, pixels.
    """
    holes = [_hole(box) for box in boxes]
    free = cv2.erode(mask, np.ones((3, 3), np.uint8))
    for x0, y0, x1, y1 in holes:
        if min(x0, y0) < 1 or x1 >= photo.shape[1] or y1 >= photo.shape[0]:
            return None
        free[y0:y1, x0:x1] = 0
    out = photo
    for hole in holes:
        patch = _find_patch(photo, mask, free, hole)
        if patch is None:
            return None
        x0, y0, x1, y1 = hole
        whole = np.full(patch.shape[:2], 255, np.uint8)
        middle = ((x0 + x1) // 2, (y0 + y1) // 2)
        out = cv2.seamlessClone(patch, out, whole, middle, cv2.NORMAL_CLONE)
    return out


def _hole(box: Array) -> tuple[int, int, int, int]:
    """Return the pixels that a motif's box and its margin touch."""
    margin = max(LEAST_MARGIN_PX, MARGIN * float((box[2:] - box[:2]).max()))
    x0, y0 = np.floor(box[:2] - margin).astype(int)
    x1, y1 = np.ceil(box[2:] + margin).astype(int)
    return int(x0), int(y0), int(x1), int(y1)


def _find_patch(
    photo: Array, mask: Array, free: Array, hole: tuple[int, int, int, int]
) -> Array | None:
    """Return the cloth (h, w, 3) that fits best into a hole, full size before enlarged."""
    x0, y0, x1, y1 = hole
    width, height = x1 - x0, y1 - y0
    rim_px = max(2, round(RIM * max(width, height)))
    rim = np.ones((height, width), bool)
    rim[rim_px:-rim_px, rim_px:-rim_px] = False
    if (mask[y0:y1, x0:x1] > 0)[rim].mean() < LEAST_CLOTH:
        return None
    wanted = _lab(photo[y0:y1, x0:x1])[rim]
    taken = cv2.integral(1 - free)
    rng = np.random.default_rng(0)
    for scale in SCALES:
        w, h = max(4, round(width * scale)), max(4, round(height * scale))
        blocked = taken[h:, w:] - taken[:-h, w:] - taken[h:, :-w] + taken[:-h, :-w]
        rows, cols = np.nonzero(blocked == 0)
        some = rng.permutation(len(rows))[:TRIED]
        best, least = None, MOST_OFF
        for y, x in zip(rows[some], cols[some], strict=True):
            patch = cv2.resize(photo[y : y + h, x : x + w], (width, height))
            off = _lab(patch)[rim] - wanted
            off -= LEVELLED * off.mean(0)
            way = np.hypot(x + w / 2 - (x0 + x1) / 2, y + h / 2 - (y0 + y1) / 2)
            cost = float(np.linalg.norm(off, axis=1).mean() + COST_PER_PX * way)
            if cost < least:
                best, least = patch, cost
        if best is not None:
            return best
    return None


def _lab(picture: Array) -> Array:
    """Return CIE Lab for BGR bytes."""
    return cv2.cvtColor(picture.astype(np.float32) / 255, cv2.COLOR_BGR2LAB)
