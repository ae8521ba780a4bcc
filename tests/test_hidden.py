"""A reference that lies on what is to be cut, or where a motif may be, is told."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scenes import Reference, Scene, make_scene, render, save_photo, truth_of

from motiffit.measure.hidden import doubt_ground, doubt_place, spread_margin
from motiffit.measure.window import fit_empty
from motiffit.record import Reference as Recorded
from motiffit.record import Sizing
from motiffit.resizing import resize
from motiffit.settings import Settings
from motiffit.sizing import size_photo

IN_THE_WAY, ON_GARMENT = {"reference-in-the-way"}, {"reference-on-garment"}
SMALL = Reference(side_mm=50.8, turn_deg=4.0)


def sized(scene: Scene, folder: Path, **changes: object) -> Sizing:
    """Size a scene's motif by its true outline, if it has one."""
    path = save_photo(render(scene), folder / "photo.png", focal_35mm=scene.camera.focal_35mm)
    outlines = [motif.outline_px for motif in truth_of(scene).motifs]
    outline = tuple((float(x), float(y)) for x, y in outlines[0]) if outlines else ()
    return size_photo(path, replace(Settings(), outline_px=outline, **changes))  # type: ignore[arg-type]


def with_card_at(scene: Scene, centre_mm: tuple[float, float]) -> Scene:
    return replace(scene, references=(replace(SMALL, centre_mm=centre_mm),))


def test_a_card_on_the_motif_is_told(tmp_path: Path) -> None:
    scene = make_scene(11, tilt_deg=4.0)
    left_mm = truth_of(scene).motifs[0].corners_mm[:, 0].min()
    middle_mm = truth_of(scene).motifs[0].centre_mm[1]
    on_its_edge = sized(with_card_at(scene, (left_mm, middle_mm)), tmp_path)
    assert on_its_edge.says(IN_THE_WAY)
    assert on_its_edge.outcome == "check"
    beside = sized(scene, tmp_path)
    assert not beside.says(IN_THE_WAY | ON_GARMENT)


def test_a_card_within_the_cut_square_is_told_for_each_size(tmp_path: Path) -> None:
    scene = make_scene(11, tilt_deg=4.0)
    motif = truth_of(scene).motifs[0]
    side_mm = max(motif.width_mm, motif.height_mm)
    reach_mm = side_mm / 2 + 0.625 * SMALL.side_mm  # the white margin with it
    place = (motif.centre_mm[0] - reach_mm - 40.0, motif.centre_mm[1])
    fits, roomy = Settings(sizes_mm=(side_mm + 12.0,)), Settings(sizes_mm=(side_mm + 120.0,))
    near = sized(with_card_at(scene, place), tmp_path, sizes_mm=fits.sizes_mm)
    assert not near.says(IN_THE_WAY)
    larger = resize(near, replace(near.settings, sizes_mm=roomy.sizes_mm))
    assert larger.says(IN_THE_WAY)
    assert larger.outcome == "check"
    assert not resize(larger, near.settings).says(IN_THE_WAY)


def test_a_card_on_a_garment_without_a_motif_is_told(tmp_path: Path) -> None:
    scene = make_scene(3, tilt_deg=4.0, kind="plain")
    assert scene.garment is not None
    on_it = sized(with_card_at(scene, scene.garment.centre_mm), tmp_path)
    assert on_it.outcome == "no-motif"
    assert on_it.says(ON_GARMENT)
    assert not sized(scene, tmp_path).says(ON_GARMENT)


@pytest.mark.parametrize(("x_mm", "told"), [(0.0, True), (90.0, True), (120.0, False)])
def test_most_of_it_must_lie_on_the_garment(x_mm: float, told: bool) -> None:
    cloth = np.array([[-100.0, -150.0], [100.0, -150.0], [100.0, 150.0], [-100.0, 150.0]])
    paper = spread_margin("card", np.array([[-40.0, -40], [40, -40], [40, 40], [-40, 40]]))
    reference = Recorded(kind="card", side_mm=80.0, corners_px=((0.0, 0.0),) * 4)
    said = list(doubt_ground(reference, paper + np.array([x_mm, 0.0]), cloth))
    assert [message.code for message in said] == ["reference-on-garment"] * told


def test_the_outline_may_run_round_the_card_as_round_a_bay() -> None:
    cloth = [(-100, -150), (100, -150), (100, -50), (-50, -50), (-50, 50), (100, 50), (100, 150)]
    paper = np.array([[-45.0, -45], [45, -45], [45, 45], [-45, 45]])
    reference = Recorded(kind="card", side_mm=72.0, corners_px=((0.0, 0.0),) * 4)
    outline = np.array([*cloth, (-100, 150)], dtype=float)
    said = list(doubt_ground(reference, paper, outline))
    assert [message.code for message in said] == ["reference-on-garment"]


def test_a_card_on_the_square_hides_no_box_where_there_is_no_motif() -> None:
    corners = ((-20.0, -20.0), (20.0, -20.0), (20.0, 20.0), (-20.0, 20.0))
    reference = Recorded(kind="square", side_mm=40.0, corners_px=corners)
    cloth = np.array([[-100.0, -150.0], [100.0, -150.0], [100.0, 150.0], [-100.0, 150.0]])
    fit = fit_empty(cloth, 0.0, Settings())
    (said,) = doubt_place(reference, np.array(corners), None, fit, Settings())
    assert said.code == "reference-on-square"
    assert said.text.startswith("The paper square lies")


def test_a_plain_square_has_no_margin() -> None:
    corners = np.array([[-40.0, -40], [40, -40], [40, 40], [-40, 40]])
    assert np.allclose(spread_margin("card", corners), 1.25 * corners)
    assert np.allclose(spread_margin("square", corners), corners)
