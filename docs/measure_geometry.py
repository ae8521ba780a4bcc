"""Measure how well photos are turned into millimetres; the figures stand in geometry.md.

    python docs/measure_geometry.py simulated [--trials 300]
    python docs/measure_geometry.py scenes [--seeds 8]
    python docs/measure_geometry.py composed FOLDER

FOLDER holds photos and a truth.json with `marker_px` and `motifs` (`corners_px`, `width_mm`,
`height_mm`). Everything is seeded. The drawn photos come from `tests/scenes.py`.
"""

import argparse
import json
import sys
import tempfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from scenes import Scene, make_scene, render, save_photo, truth_of
from test_plane import draw, trial

from motiffit.errors import Refusal
from motiffit.marker import marker_id_for
from motiffit.measure.photo import read_photo
from motiffit.measure.plane import Plane, solve_plane
from motiffit.measure.pose import DISTORTION, FITTED, FOCAL, PRINCIPAL
from motiffit.measure.reference import find_reference
from motiffit.settings import Settings

Points = NDArray[np.float64]
TILTS = ((0, 8), (8, 16), (16, 25))


def sides(corners_mm: Points) -> Points:
    """Width and height of a box, each the mean of two opposite sides."""
    lengths = np.linalg.norm(np.roll(corners_mm, -1, axis=0) - corners_mm, axis=1)
    return (lengths[:2] + lengths[2:]) / 2


def sides_sd(plane: Plane, corners_mm: Points) -> Points:
    """Stated sd of width and height."""
    middles = (corners_mm + np.roll(corners_mm, -1, axis=0)) / 2
    return plane.length_sd_mm(middles[[3, 0]], middles[[1, 2]])


def say(name: str, errors_mm: Any, sd_mm: Any) -> None:
    """Print one row of figures."""
    errors, share = np.array(errors_mm), np.array(errors_mm) / np.array(sd_mm)
    print(
        f"{name:34} n {errors.size:4}  |error| median {np.median(np.abs(errors)):.2f}"
        f"  95 % {np.percentile(np.abs(errors), 95):.2f} mm  mean {errors.mean():+.2f}"
        f"  rms(error / sd) {np.sqrt(np.mean(share**2)):.2f}"
        f"  within 95 % interval {np.mean(np.abs(share) < 1.96):.3f}"
    )


def measure_simulated(trials: int) -> None:
    """Geometry without pixels: all that is uncertain is drawn from what the plane expects."""
    settings: list[tuple[str, bool, dict[str, Any]]] = [
        ("4 in card, Exif focal length", True, {}),
        ("4 in card, no Exif data", False, {}),
        ("3 in square, Exif", True, {"kind": "square", "stated_mm": 76.2}),
        ("2 in card, poor edges, no Exif", False, {"sd_px": 0.25, "stated_mm": 50.8}),
    ]
    for name, noted, changes in settings:
        for low, high in TILTS:
            rng = np.random.default_rng(100 + low)
            tilts = rng.uniform(low, high, trials)
            rows = [trial(rng, draw(rng, t, noted=noted, **changes), noted=noted) for t in tilts]
            say(f"{name}, {low}-{high} deg", *np.array(rows).T)


def measure_scenes(seeds: int) -> None:
    """Drawn photos, the motif's box given: as drawn, and with all that is taken for granted off."""
    with tempfile.TemporaryDirectory() as folder:
        for uncertain in (False, True):
            rows, apart = [], []
            for seed in range(500, 500 + seeds):
                for tilt in (0.0, 6.0, 12.0, 18.0, 25.0):
                    scene = make_scene(seed, tilt_deg=tilt)
                    rng = np.random.default_rng([seed, int(tilt)])
                    noted_mm = scene.camera.focal_35mm * float(np.exp(rng.normal(0, 0.03)))
                    if uncertain:
                        scene = unsettled(scene, rng)
                    measured, off = _scene_rows(scene, noted_mm, Path(folder))
                    rows += measured
                    apart.append(off)
            say("scenes, drawn from the priors" if uncertain else "scenes", *np.array(rows).T)
            for name in apart[0]:
                off = np.array([each[name] for each in apart])
                print(f"    {name:12} rms(error / sd) {np.sqrt(np.mean(off**2)):.2f}")


def unsettled(scene: Scene, rng: np.random.Generator) -> Scene:
    """Draw from its sd all that docs/geometry.md lists as taken for granted."""
    camera, card, garment = scene.camera, scene.references[0], scene.garment
    diagonal = float(np.hypot(camera.width_px, camera.height_px))
    side_mm = card.side_mm * np.exp(rng.normal(0, 0.001))  # the printer's doing
    x, y = rng.normal(0, 0.003 * diagonal, 2)
    bend = tuple(float(mm) for mm in rng.normal(0, (0.3, 0.3, 0.7, 0.4, 0.7)))
    number = marker_id_for(Fraction(card.side_mm).limit_denominator(1000))
    return replace(
        scene,
        camera=replace(camera, distortion=rng.normal(0, 0.02), axis_px=(float(x), float(y))),
        references=(replace(card, side_mm=side_mm, bend_mm=bend, marker_id=number),),
        garment=garment and replace(garment, height_mm=rng.normal(3, 2)),
    )


def _scene_rows(
    scene: Scene, noted_mm: float, folder: Path
) -> tuple[list[tuple[float, float]], dict[str, float]]:
    """Return (error, sd) of both sides of a scene's motif; and how far the plane is off, in sds."""
    camera = scene.camera
    path = save_photo(render(scene), folder / "photo.jpg", focal_35mm=noted_mm)
    photo, truth = read_photo(path), truth_of(scene)
    motif = truth.motifs[0]
    plane = solve_plane(find_reference(photo, Settings()), photo)
    corners = plane.to_mm(motif.corners_px)
    errors = sides(corners) - [motif.width_mm, motif.height_mm]
    sd = np.sqrt(np.diag(plane.covariance))
    apart = {
        "focal length": float(np.log(plane.focal_px / camera.focal_px)) / sd[FOCAL],
        "distortion": (plane.distortion - camera.distortion) / sd[DISTORTION],
        "axis x": (plane.principal_px[0] - camera.axis_px[0]) / sd[PRINCIPAL][0],
        "axis y": (plane.principal_px[1] - camera.axis_px[1]) / sd[PRINCIPAL][1],
        "cloth height": (plane.height_mm - truth.height_mm) / sd[FITTED],
        "printed side": float(np.log(plane.side_mm / scene.references[0].side_mm)) / sd[FITTED + 1],
    }
    return list(zip(errors, sides_sd(plane, corners), strict=True)), apart


def measure_composed(folder: Path) -> None:
    """Cards laid into real photos: how many are found, and how well."""
    truth = json.loads((folder / "truth.json").read_text())
    corner_errors, rows, missed = [], [], []
    for row in truth:
        photo = read_photo(folder / row["image"])
        try:
            found = find_reference(photo, Settings())
            plane = solve_plane(found, photo).at_height(0.0, 0.0)  # there is no cloth's height
        except Refusal as refusal:
            missed.append((row["image"], refusal.code))
            continue
        true = np.array(row["marker_px"])
        turns = [np.abs(np.roll(found.corners_px, t, axis=0) - true).max() for t in range(4)]
        corner_errors.append(min(turns))
        for motif in row["motifs"][:1]:
            corners = plane.to_mm(motif["corners_px"])
            errors = sides(corners) - [motif["width_mm"], motif["height_mm"]]
            rows += list(zip(errors, sides_sd(plane, corners), strict=True))
    found_count = len(truth) - len(missed)
    print(f"cards found: {found_count} of {len(truth)}", *missed)
    print(f"largest corner error, median {np.median(corner_errors):.3f} px", end=", ")
    print(f"95 % {np.percentile(corner_errors, 95):.2f} px")
    say("composed photos", *np.array(rows).T)


def main() -> None:
    """Run one of the measurements."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("what", choices=["simulated", "scenes", "composed"])
    parser.add_argument("path", type=Path, nargs="?", default=Path())
    parser.add_argument("--trials", type=int, default=300)
    parser.add_argument("--seeds", type=int, default=8)
    asked = parser.parse_args()
    if asked.what == "simulated":
        measure_simulated(asked.trials)
    elif asked.what == "scenes":
        measure_scenes(asked.seeds)
    else:
        measure_composed(asked.path)


if __name__ == "__main__":
    main()
