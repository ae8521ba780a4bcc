"""The walk from photo to record: choices, outcomes, the record's own check."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from scenes import Scene, Truth, make_scene, render, save_photo, truth_of

from motiffit.errors import Refusal
from motiffit.measure.choice import choose_motifs
from motiffit.measure.motif import MotifBox, MotifsFound
from motiffit.measure.photo import read_photo
from motiffit.measure.plane import Plane, solve_plane
from motiffit.measure.reference import find_reference
from motiffit.measure.report import check_sizing, digest_to_mm
from motiffit.record import Sides, Sizing, make_message
from motiffit.settings import Settings, Turn
from motiffit.sizing import size_photo
from motiffit.units import parse_length

SIDE_MM = 1.6  # a sixteenth of an inch, the finest mark on a quilter's ruler


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Scene, Truth]:
    scene = make_scene(11, tilt_deg=9.0)
    path = tmp_path_factory.mktemp("photos") / "shirt on the table.jpg"
    save_photo(render(scene), path, focal_35mm=scene.camera.focal_35mm)
    return path, scene, truth_of(scene)


def outlined(truth: Truth, **changes: object) -> Settings:
    outline = tuple((float(x), float(y)) for x, y in truth.motifs[0].outline_px)
    return replace(Settings(), outline_px=outline, **changes)  # type: ignore[arg-type]


def test_an_outline_is_measured_to_a_sixteenth(shot: tuple[Path, Scene, Truth]) -> None:
    path, _, truth = shot
    sizing = size_photo(path, outlined(truth, turn="motif"))
    motif, true = sizing.motifs[0], truth.motifs[0]
    grain = size_photo(path, outlined(truth)).motifs[0]
    assert motif.width_mm * motif.height_mm <= grain.width_mm * grain.height_mm + 1e-6
    assert max(grain.width_mm, grain.height_mm) == pytest.approx(
        max(true.width_mm, true.height_mm), abs=SIDE_MM + 0.1 * max(true.width_mm, true.height_mm)
    )
    assert sizing.window is not None
    check_sizing(sizing)


def test_a_box_of_two_points_is_its_four_corners(shot: tuple[Path, Scene, Truth]) -> None:
    path, _, truth = shot
    (x0, y0), (x1, y1) = (
        truth.motifs[0].outline_px.min(axis=0),
        truth.motifs[0].outline_px.max(axis=0),
    )
    two = size_photo(path, Settings(outline_px=((x0, y1), (x1, y0))))
    four = size_photo(path, Settings(outline_px=((x0, y0), (x1, y0), (x1, y1), (x0, y1))))
    assert two.motifs == four.motifs


def test_turning_or_shrinking_the_photo_changes_nothing(
    shot: tuple[Path, Scene, Truth], tmp_path: Path
) -> None:
    path, scene, truth = shot
    picture, outline = render(scene), truth.motifs[0].outline_px
    height, width = picture.shape[:2]
    half = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    variants = {
        "quarter": (cv2.rotate(picture, cv2.ROTATE_90_CLOCKWISE),
                    np.column_stack([height - 1 - outline[:, 1], outline[:, 0]])),
        "upside": (cv2.rotate(picture, cv2.ROTATE_180), (width - 1, height - 1) - outline),
        "half": (half, (outline + 0.5) / 2 - 0.5),
    }  # fmt: skip
    settings = outlined(truth, turn="motif")
    sides = sorted(_sides(size_photo(path, settings)))
    for name, (turned, moved) in variants.items():
        save_photo(turned, tmp_path / f"{name}.png", focal_35mm=scene.camera.focal_35mm)
        again = size_photo(
            tmp_path / f"{name}.png",
            replace(settings, outline_px=tuple((float(x), float(y)) for x, y in moved)),
        )
        assert sorted(_sides(again)) == pytest.approx(sides, abs=0.5), name


def _sides(sizing: Sizing) -> tuple[float, float]:
    return sizing.motifs[0].width_mm, sizing.motifs[0].height_mm


def test_the_record_maps_pixels_as_the_plane_does(shot: tuple[Path, Scene, Truth]) -> None:
    path, _, truth = shot
    photo = read_photo(path)
    plane = solve_plane(find_reference(photo, Settings()), photo)
    assert truth.garment_px is not None
    ours = digest_to_mm(plane.digest(), truth.garment_px)
    assert np.abs(ours - plane.to_mm(truth.garment_px)).max() < 1e-3


def test_a_spoilt_record_does_not_leave(shot: tuple[Path, Scene, Truth]) -> None:
    path, _, truth = shot
    sizing = size_photo(path, outlined(truth))
    assert sizing.window is not None
    corners = sizing.window.seam_corners_px
    bent = replace(
        sizing.window, seam_corners_px=((corners[0][0] + 2, corners[0][1]), *corners[1:])
    )
    with pytest.raises(Refusal, match="self-check"):
        check_sizing(replace(sizing, window=bent))
    x, y = corners[0]
    motif = replace(sizing.motifs[0], corners_px=((x - 9, y - 9), *sizing.motifs[0].corners_px[1:]))
    with pytest.raises(Refusal, match="self-check"):
        check_sizing(replace(sizing, motifs=(motif,)))


def test_a_photo_that_cannot_be_measured_is_refused(tmp_path: Path) -> None:
    blank = tmp_path / "blank.png"
    save_photo(np.full((600, 800, 3), 200, np.uint8), blank)
    (tmp_path / "empty.jpg").write_bytes(b"")
    for path, code in (
        (blank, "no-reference"),
        (tmp_path / "empty.jpg", "photo-empty"),
        (tmp_path / "none.jpg", "photo-missing"),
    ):
        sizing = size_photo(path)
        assert sizing.outcome == "refused"
        assert [message.code for message in sizing.messages] == [code]
        assert sizing.photo == str(path)
        json.loads(sizing.to_json())


def test_memory_that_opencv_lacks_is_the_machines_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    def fill(*_: object) -> None:
        cv2.copyMakeBorder(np.zeros((4, 4), np.uint8), 0, 2**30, 0, 2**20, 0)  # a million GB

    monkeypatch.setattr("motiffit.sizing.survey_photo", fill)
    assert [message.code for message in size_photo("a.jpg").messages] == ["out-of-memory"]


def make_box(x: float, y: float, *, trust: float = 1.0) -> MotifBox:
    edges = Sides(top=1.0, right=1.0, bottom=1.0, left=1.0)
    return MotifBox(
        centre_mm=(x, y), width_mm=40.0, height_mm=30.0, angle_deg=5.0, edge_sd_mm=edges,
        side_sd_mm=(2**0.5, 2**0.5), trust=trust, own_angle_deg=None,
    )  # fmt: skip


@pytest.fixture(scope="module")
def plane(shot: tuple[Path, Scene, Truth]) -> Plane:
    photo = read_photo(shot[0])
    return solve_plane(find_reference(photo, Settings()), photo)


def found(*boxes: MotifBox, p_motif: float = 1.0) -> MotifsFound:
    return MotifsFound(candidates=boxes, p_motif=p_motif, messages=())


def test_a_persons_choice_wins(plane: Plane) -> None:
    three = found(make_box(200, 0), make_box(200, 80), make_box(260, 0))
    first = choose_motifs(three, plane, Settings())
    assert [m.centre_mm for m in first.motifs] == [(200, 0), (200, 80), (260, 0)]
    assert [m.code for m in first.messages] == ["motif-several"]
    second = choose_motifs(three, plane, Settings(pick=2))
    assert second.motifs[0].centre_mm == (200, 80)
    assert second.messages == ()
    x, y = plane.to_px(np.array([[255.0, 8.0]]))[0]
    near = choose_motifs(three, plane, Settings(near_px=(float(x), float(y))))
    assert near.motifs[0].centre_mm == (260, 0)


@pytest.mark.parametrize(("beside_mm", "is_near"), [(24.0, True), (27.0, False)])
def test_a_point_far_beside_every_box_means_none(
    beside_mm: float, is_near: bool, plane: Plane
) -> None:
    box = replace(make_box(200, 0), angle_deg=0.0)  # its right edge lies at 220 mm
    x, y = plane.to_px(np.array([[220.0 + beside_mm, 5.0]]))[0]
    settings = Settings(near_px=(float(x), float(y)))
    if is_near:
        assert choose_motifs(found(box), plane, settings).motifs[0].centre_mm == (200, 0)
        return
    with pytest.raises(Refusal, match="motif-none-at-point"):
        choose_motifs(found(box), plane, settings)


@pytest.mark.parametrize(("turn", "told"), [("grain", ["motif-crooked"]), ("motif", [])])
def test_a_crooked_motif_is_told_unless_the_square_follows_it(
    turn: Turn, told: list[str], plane: Plane
) -> None:
    crooked = replace(make_box(200, 0), own_angle_deg=7.0)
    assert codes(found(crooked), plane, Settings(turn=turn)) == told


def test_the_doubt_is_that_of_the_box_chosen(plane: Plane) -> None:
    x, y = plane.to_px(np.array([[200.0, 80.0]]))[0]
    for settings in (Settings(pick=2), Settings(near_px=(float(x), float(y)))):
        two = found(make_box(200, 0, trust=0.9), make_box(200, 80, trust=0.5))
        assert codes(two, plane, settings) == ["motif-doubtful"]
        two = found(make_box(200, 0, trust=0.5), make_box(200, 80, trust=0.9))
        assert codes(two, plane, settings) == []
    sure, unsure = make_box(200, 0, trust=0.9), make_box(200, 0, trust=0.5)
    assert codes(found(unsure), plane, Settings()) == ["motif-doubtful"]
    # whether there is a motif at all is in doubt only until a person points at one
    assert codes(found(sure, p_motif=0.6), plane, Settings()) == ["motif-maybe-none"]
    assert codes(found(unsure, p_motif=0.6), plane, Settings()) == ["motif-maybe-none"]
    assert codes(found(unsure, p_motif=0.6), plane, Settings(pick=1)) == ["motif-doubtful"]
    assert codes(found(sure, p_motif=0.6), plane, Settings(pick=1)) == []


def codes(motifs: MotifsFound, plane: Plane, settings: Settings) -> list[str]:
    return [message.code for message in choose_motifs(motifs, plane, settings).messages]


@pytest.mark.parametrize(("away_mm", "told"), [(20.5, ["motif-cut"]), (27.0, [])])
def test_a_motif_at_the_photos_edge_may_go_on_beyond_it(
    plane: Plane, away_mm: float, told: list[str]
) -> None:
    # the box ends 20 mm from its middle, 23 mm where its corner points to the edge; its sd is 1 mm
    right = plane.to_mm(plane.middle_px * (2.0, 1.0) + (0.5, 0.0))[0]
    box = make_box(float(right[0]) - away_mm, float(right[1]))
    assert codes(found(box), plane, Settings()) == told


def test_a_cut_motif_is_told_in_place_of_cloth_that_ends(
    shot: tuple[Path, Scene, Truth], tmp_path: Path
) -> None:
    _, scene, truth = shot
    (x0, y0), (x1, y1) = (
        truth.motifs[0].outline_px.min(axis=0),
        truth.motifs[0].outline_px.max(axis=0),
    )
    width = round((x0 + x1) / 2)
    save_photo(render(scene)[:, :width], tmp_path / "cut.png")
    whole, part = (float(width - 1), float(y1)), (float(x0 + 20), float(y0 + 20))
    told, lacks = [], []
    for corner in (whole, part):
        box = ((float(x0), float(y0)), corner)
        sizing = size_photo(tmp_path / "cut.png", Settings(outline_px=box))
        told.append({message.code for message in sizing.messages})
        assert sizing.window is not None
        lacks.append(sizing.window.cloth_short_mm)
    of_the_edge = {"garment-cut", "cloth-scant", "cloth-short", "cloth-short-at-motif"}
    assert told[0] & {"motif-cut", *of_the_edge} == {"motif-cut"}
    assert lacks[0] == Sides(top=0.0, right=0.0, bottom=0.0, left=0.0)
    assert told[1] & {"motif-cut", "garment-cut"} == {"garment-cut"}


def test_a_choice_of_what_is_not_there(plane: Plane) -> None:
    two = found(make_box(200, 0), make_box(200, 80))
    with pytest.raises(Refusal, match="motif-none-there") as told:
        choose_motifs(two, plane, Settings(pick=3))
    text = make_message(told.value.code, **told.value.details).text
    assert "no motif number 3; motifs found: 2. Choose one of those" in text
    for settings in (Settings(pick=1), Settings(near_px=(10.0, 10.0))):
        with pytest.raises(Refusal, match="motif-none-near"):
            choose_motifs(found(), plane, settings)


@pytest.mark.parametrize(
    "points", [((700.0, 700.0), (700.0, 700.0)), ((700.0, 700.0), (900.0, 700.0)),
               ((10000.0, 200.0), (10400.0, 400.0)), ((-50.0, 10.0), (300.0, 300.0))],
)  # fmt: skip
def test_an_outline_that_cannot_be(
    shot: tuple[Path, Scene, Truth], points: tuple[tuple[float, float], ...]
) -> None:
    sizing = size_photo(shot[0], Settings(outline_px=points))
    assert [message.code for message in sizing.messages] == ["outline-impossible"]


@pytest.mark.parametrize(("finished", "cut"), [("12 in", "12 1/2 in"), ("3 in", "3 1/2 in")])
def test_seam_arithmetic_of_the_published_examples(
    shot: tuple[Path, Scene, Truth], finished: str, cut: str
) -> None:
    # finished 12 in is cut at 12 1/2 in (quiltingboard.com, resources article 31); finished 3 in at
    # 3 1/2 in (harriger.com, inch2yard)
    size = float(parse_length(finished, "in"))
    window = size_photo(shot[0], outlined(shot[2], sizes_mm=(size,))).window
    assert window is not None
    assert (window.finished, window.cut) == (finished, cut)
    assert window.cut_mm == pytest.approx(float(parse_length(cut, "in")))


def test_errors_of_plane_and_finder_add_up(plane: Plane) -> None:
    motif = choose_motifs(found(make_box(200, 0)), plane, Settings()).motifs[0]
    assert motif.sd_width_mm > np.hypot(1.0, 1.0)
    assert motif.sd_edges_mm.left > 1.0
    # the two edges' errors, independent but for the plane's share, give back the side's
    plane_share = motif.sd_width_mm**2 - 2.0
    assert motif.sd_edges_mm.left**2 - 1.0 == pytest.approx(plane_share / 4)
