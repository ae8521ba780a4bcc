"""The bank: every training picture on one canvas size, with its truth, ready for the GPU.

The sources: real photos; those with bare cloth over their motif; both kinds of plain garment with a
pasted motif, or with labels, studs and the like; drawn scenes.
"""

import io
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from motiffit.training.scenes import Scene, make_floor, make_scene, paste_on_photo, trim_photo
from motiffit.training.sprites import Rng, Sprites

__all__ = ["CANVAS_PX", "Bank", "Item", "build_bank", "read_photos"]

CANVAS_PX = 512
PASTES_PER_PHOTO = 6
PASTES_PER_BARE = 5
MARK_SHARE = 0.15  # of pasted motifs: small ones, as makers put them on the breast
CUT_OUT_SHARE, PHOTO_SHARE = 0.45, 0.12  # of the others: real ones; pieces of photos
CUT_OUT_MARKS = 0.3  # of marks: real motifs, shrunk
CHILD_WEIGHT = 2.5  # a child's garment is drawn this much oftener: that is what is sized
RARE_WEIGHT = 1.6  # so is embroidery, and what hardly stands out from its cloth
SMALL_WEIGHT, SMALL_SHARE = 1.4, 0.2  # and what is small beside its garment
Array = np.ndarray


@dataclass(frozen=True)
class Item:
    """The truth of one picture of the bank."""

    source: str  # photo | bare | paste | trim | scene | floor
    homes: tuple[str, ...]
    child: bool
    weight: float  # how much oftener than another it is drawn
    width: int
    height: int
    garment: Array  # (4,)
    boxes: Array  # (n, 4): what may be found; the first is the likeliest
    hulls: list[Array]  # (k, 2) points that span each box when it is turned
    has: bool
    masked: bool  # the garment's mask is known
    turn_deg: float  # the garment's up, clockwise from the picture's
    turn_known: bool
    name: str = ""


@dataclass(frozen=True)
class Bank:
    """Pictures (N, S, S, 3) and garment masks (N, S, S), uint8, with their items."""

    pictures: Array
    masks: Array
    items: list[Item]

    def save(self, folder: Path) -> None:
        """Store for other processes of the same machine."""
        folder.mkdir(parents=True, exist_ok=True)
        np.save(folder / "pictures.npy", self.pictures)
        np.save(folder / "masks.npy", self.masks)
        np.save(folder / "items.npy", np.array(self.items, dtype=object), allow_pickle=True)

    @classmethod
    def load(cls, folder: Path) -> "Bank":
        """Read what `save` stored."""
        items = list(np.load(folder / "items.npy", allow_pickle=True))
        return cls(np.load(folder / "pictures.npy"), np.load(folder / "masks.npy"), items)


@dataclass(frozen=True)
class Packed:
    """A packed photo: its record, RGB picture, and, where there is one, its 0/255 garment mask."""

    record: dict[str, Any]
    photo: Array
    mask: Array | None
    bare: Array | None  # the picture with bare cloth over all motifs


def read_photos(pack: Path) -> Iterator[Packed]:
    """Give all packed photos."""
    records = json.loads((pack / "records.json").read_text())
    with zipfile.ZipFile(pack / "photos.zip") as source:
        names = set(source.namelist())
        for record in records:

            def read(kind: str, name: str = record["image"]) -> Image.Image:
                return Image.open(io.BytesIO(source.read(f"{name}.{kind}")))

            photo = read("webp").convert("RGB")
            mask = bare = None
            if f"{record['image']}.mask.png" in names:
                stored = read("mask.png").convert("L")
                mask = np.asarray(stored.resize(photo.size, Image.Resampling.BILINEAR))
            if record["bare_at"] is not None:
                bare = photo.copy()
                bare.paste(read("bare.webp").convert("RGB"), tuple(record["bare_at"]))
            yield Packed(record, np.asarray(photo), mask, bare and np.asarray(bare))


def build_bank(pack: Path, scenes: int, workers: int, seed: int = 0) -> Bank:
    """Read the photos and make the rest with `workers` processes."""
    rows: list[tuple[Array, Array, Item]] = []
    jobs: list[tuple[Any, ...]] = []
    records = json.loads((pack / "records.json").read_text())
    homes = {record["image"]: record["home"] for record in records}
    for one in read_photos(pack):
        rows.append(_photo_row(one.record, one.photo, one.mask))
        host, repeats = one.photo, {"plain": PASTES_PER_PHOTO, "allover": 1}.get(one.record["kind"])
        if one.bare is not None:
            plain = {**one.record, "kind": "plain", "boxes": [], "hulls": []}
            rows.append(_photo_row(plain, one.bare, one.mask, source="bare"))
            host, repeats = one.bare, PASTES_PER_BARE
        if repeats and one.mask is not None:
            for kind, count in (("paste", repeats), ("trim", 1)):
                jobs.append((kind, one.record, host, one.mask, count, len(jobs) + seed * 100_003))
    jobs += [
        ("scene", None, None, None, 8, len(jobs) + i + seed * 100_003) for i in range(scenes // 8)
    ]
    floors = max(8, scenes // 8)
    jobs += [("floor", None, None, None, 4, -1 - i) for i in range(floors // 4)]
    with Pool(workers, _start, (pack, homes)) as pool:
        for made in pool.imap_unordered(_make, jobs, chunksize=2):
            rows += [_scene_row(*one) for one in made]
    pictures = np.stack([row[0] for row in rows])
    return Bank(pictures, np.stack([row[1] for row in rows]), [row[2] for row in rows])


_worker: dict[str, Any] = {}


def _start(pack: Path, homes: dict[str, str]) -> None:
    """Give each worker its materials."""
    _worker["sprites"], _worker["homes"] = Sprites.read(pack), homes


def _make(job: tuple[Any, ...]) -> list[tuple[Scene, str, bool]]:
    """Make a few pictures of one kind."""
    kind, record, photo, mask, repeats, seed = job
    sprites, rng = _worker["sprites"], np.random.default_rng(seed % 2**32)
    made = []
    for _ in range(repeats):
        if kind == "scene":
            made.append((make_scene(sprites, rng), "scene", True))
            continue
        if kind == "floor":
            made.append((make_floor(sprites, rng), "floor", True))
            continue
        if kind == "trim":
            scene = trim_photo(photo, mask, record["garment"], rng)
            scene.homes = (record["home"],)
            made.append((scene, "trim", record["wearer"] == "child"))
            continue
        homes, pick, mark = {record["home"]}, rng.random(), rng.random() < MARK_SHARE
        cut_out, piece = (CUT_OUT_MARKS, 0.0) if mark else (CUT_OUT_SHARE, PHOTO_SHARE)
        if pick < cut_out + piece:
            sprite, name = _from_a_photo(sprites, rng, whole=pick < cut_out)
            homes.add(_worker["homes"][name])
        else:
            sprite = sprites.mark(rng) if mark else sprites.make(rng)
        scene = paste_on_photo(photo, mask, record["garment"], sprites, rng, sprite, mark=mark)
        if scene is not None:
            scene.homes = tuple(sorted(homes))
            made.append((scene, "paste", record["wearer"] == "child"))
    return made


def _from_a_photo(sprites: Sprites, rng: Rng, *, whole: bool) -> tuple[Image.Image, str]:
    """Return a real motif, or a piece of a photo as a print; and the name of its photo."""
    if not whole:
        return sprites.photo_print(rng)
    name = sorted(sprites.cutouts)[rng.integers(len(sprites.cutouts))]
    return sprites.cutouts[name].convert("RGBA"), name


def _photo_row(
    record: dict[str, Any], photo: Array, mask: Array | None, source: str = "photo"
) -> tuple[Array, Array, Item]:
    """Turn a labelled photo into a row of the bank."""
    boxes = record["boxes"][:1] if record["kind"] == "single" else record["boxes"]
    has = record["kind"] in ("single", "several")
    boxes = np.array(boxes if has else [], float).reshape(-1, 4)
    hulls = [
        np.array(hull) if hull is not None else _rounded(box)
        for box, hull in zip(boxes, record["hulls"], strict=False)
    ]
    height, width = photo.shape[:2]
    known = record["angle"] == 0
    item = Item(
        source,
        (record["home"],),
        record["wearer"] == "child",
        _weight(record, boxes),
        width,
        height,
        np.array(record["garment"], float),
        boxes,
        hulls,
        has,
        mask is not None,
        0.0,
        known,
        record["image"],
    )
    return (
        _canvas(photo),
        _canvas(np.full((height, width), 128, np.uint8) if mask is None else mask),
        item,
    )


def _weight(record: dict[str, Any], boxes: Array) -> float:
    """Return how much oftener than another a photo is drawn."""
    weight = CHILD_WEIGHT if record["wearer"] == "child" else 1.0
    if record["technique"] == "embroidery" or record["contrast"] == "low":
        weight *= RARE_WEIGHT
    x0, y0, x1, y1 = record["garment"]
    if len(boxes) and (boxes[0, 2:] - boxes[0, :2]).max() < SMALL_SHARE * max(x1 - x0, y1 - y0):
        weight *= SMALL_WEIGHT
    return weight


def _scene_row(scene: Scene, source: str, child: bool) -> tuple[Array, Array, Item]:
    """Turn a made-up picture into a row of the bank."""
    height, width = scene.picture.shape[:2]
    boxes = np.array(scene.boxes, float).reshape(-1, 4) - 0.5  # from pixel edges to pixel centres
    item = Item(
        source,
        scene.homes,
        child,
        CHILD_WEIGHT if child else 1.0,
        width,
        height,
        np.array(scene.garment, float),
        boxes,
        [hull - 0.5 for hull in scene.hulls],
        scene.has,
        True,
        0.0,
        True,
    )
    return _canvas(scene.picture), _canvas(scene.mask), item


def _rounded(box: Array) -> Array:
    """Return 16 points of a rounded box: what a motif of unknown outline is taken for."""
    angle = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    way = np.stack([np.cos(angle), np.sin(angle)], 1)
    unit = np.sign(way) * np.abs(way) ** 0.5  # a superellipse of exponent 4
    return (box[:2] + box[2:]) / 2 + unit * (box[2:] - box[:2]) / 2


def _canvas(picture: Array) -> Array:
    """Set a picture in the top-left corner of the canvas."""
    out = np.zeros((CANVAS_PX, CANVAS_PX, *picture.shape[2:]), np.uint8)
    out[: picture.shape[0], : picture.shape[1]] = picture
    return out
