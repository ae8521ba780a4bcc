"""The sample photos show what their truth says, and give nothing away that they should not."""

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pi_heif
import pytest
from drawing import linear_of
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps
from pyapriltags import Detector

from motiffit.marker import side_mm_of

SAMPLES = Path(__file__).parent.parent / "sample_images"
TRUTH: list[dict[str, Any]] = json.loads((SAMPLES / "truth.json").read_text())
CORNER_PX = 0.6  # sharpening and tone curve, as in phones, move edges by a few tenths of a pixel
BARE_SHARE = 0.05  # 5 mm of height are 1 %; a card curled by 1 mm can add 2-3 % out there
FOLDER_MB = 10.0
FINISHED_IN = [3, 4, 5, 6, 7, 8, 9]  # design.md: the standard set
NAMES = [row["image"] for row in TRUTH]


CARDS = [row for row in TRUTH if row["reference"] == "card"]
MEASURED = [row for row in TRUTH if row["motifs"] and row["reference"]]


def name_of(row: dict[str, Any]) -> str:
    """Name a case."""
    return str(row["image"])


def read(name: str) -> Image.Image:
    """Read a sample as stored."""
    path = SAMPLES / name
    if path.suffix == ".heic":
        return pi_heif.open_heif(path).to_pillow()
    with Image.open(path) as image:
        image.load()
        return image


def shown(name: str) -> NDArray[np.uint8]:
    """Pixels as displayed."""
    return np.asarray(ImageOps.exif_transpose(read(name)).convert("RGB"))


def test_every_photo_has_its_truth() -> None:
    photos = {path.name for path in SAMPLES.iterdir() if path.suffix in (".jpg", ".heic")}
    assert photos == set(NAMES)
    assert len(photos) >= 8
    for name in NAMES:
        assert f"`{name}`" in (SAMPLES / "README.md").read_text()


def test_folder_is_small() -> None:
    total = sum(path.stat().st_size for path in SAMPLES.iterdir() if path.is_file())
    assert total < FOLDER_MB * 1e6


@pytest.mark.parametrize("row", CARDS, ids=name_of)
def test_card_lies_where_the_truth_says(row: dict[str, Any]) -> None:
    """An independent detector (pyapriltags, BSD-2) finds the marker at its true corners."""
    corners = np.array(row["reference_px"])
    left, top = (corners.min(axis=0) - 80).astype(int).clip(0)
    right, bottom = (corners.max(axis=0) + 80).astype(int)
    light = linear_of(shown(row["image"])[top:bottom, left:right]).mean(axis=-1)
    grey = np.round(light * 255).astype(np.uint8)
    (found,) = Detector(families="tag36h11", quad_decimate=1.0).detect(grey)
    # its pixel (0, 0) has its corner at (0, 0), ours has its centre there
    seen = found.corners - 0.5 + [left, top]
    apart = np.linalg.norm(seen[:, None] - corners, axis=-1)
    assert apart.min(axis=1).max() < CORNER_PX
    assert side_mm_of(found.tag_id) == pytest.approx(row["side_mm"])


def test_cardless_photos_hold_no_marker() -> None:
    for row in TRUTH:
        if row["reference"] != "card":
            grey = cv2.cvtColor(shown(row["image"]), cv2.COLOR_RGB2GRAY)
            assert not Detector(families="tag36h11", quad_decimate=2.0).detect(grey)


@pytest.mark.parametrize("row", [row for row in TRUTH if row["motifs"]], ids=name_of)
def test_expected_size_is_the_smallest_that_holds(row: dict[str, Any]) -> None:
    (motif,) = row["motifs"]
    need_in = (max(motif["width_mm"], motif["height_mm"]) + 2 * 25.4 / 8) / 25.4
    assert motif["finished"] == f"{next(f for f in FINISHED_IN if f >= need_in)} in"


@pytest.mark.parametrize("row", MEASURED, ids=name_of)
def test_motif_measures_what_the_truth_says(row: dict[str, Any]) -> None:
    """By another route: a 4-point homography from the square, which knows no lens or height."""
    half = row["side_mm"] / 2
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    to_mm = cv2.getPerspectiveTransform(np.float32(row["reference_px"]), np.float32(square))
    (motif,) = row["motifs"]
    box = cv2.perspectiveTransform(np.float32([motif["corners_px"]]), to_mm)[0]
    sides = np.linalg.norm(box - np.roll(box, -1, axis=0), axis=1)
    assert sides[[0, 2]] == pytest.approx(motif["width_mm"], rel=BARE_SHARE)
    assert sides[[1, 3]] == pytest.approx(motif["height_mm"], rel=BARE_SHARE)


@pytest.mark.parametrize("name", NAMES)
def test_photo_carries_no_position(name: str) -> None:
    exif = read(name).getexif()
    assert not exif.get_ifd(ExifTags.IFD.GPSInfo)
    assert exif[ExifTags.Base.Make] == "Hollin & Reed"


def test_the_kinds_that_were_promised_are_there() -> None:
    kinds = {(row["kind"], row["reference"]) for row in TRUTH}
    assert {("single", "card"), ("single", "square"), ("single", None)} <= kinds
    assert {("plain", "card"), ("allover", "card")} <= kinds
    assert any(name.endswith(".heic") for name in NAMES)
