"""Another size set without another look at the photo: the same answer as measuring again gives."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import records
from scenes import Scene, Truth, make_scene, render, save_photo, truth_of

from motiffit.errors import Refusal
from motiffit.measure.report import digest_to_mm, digest_to_px
from motiffit.quilt.lengths import exact_mm, format_cut
from motiffit.record import Sizing
from motiffit.resizing import resize
from motiffit.settings import Settings
from motiffit.show.table import sizing_text
from motiffit.sizing import size_photo, size_survey, survey_photo

SAMPLES = Path(__file__).parent.parent / "sample_images"
DIGIT = 1e-6  # mm and pixels: the record's own numbers, along another route
SETS_MM = ((50.8, 101.6), (127.0, 139.7, 152.4), (228.6,), (500.0,), (90.0, 150.0, 210.0))


def assert_same(one: Sizing, other: Sizing) -> None:
    """Compare all that is told, and where the square is drawn to a millionth of a pixel."""
    assert replace(one, window=None) == replace(other, window=None)
    assert (one.window is None) == (other.window is None)
    if one.window and other.window:
        corners = ("seam_corners_px", "cut_corners_px")
        for name in corners:
            assert np.allclose(getattr(one.window, name), getattr(other.window, name), atol=DIGIT)
        blank: dict[str, tuple[()]] = dict.fromkeys(corners, ())
        assert replace(one.window, **blank) == replace(other.window, **blank)


@pytest.mark.parametrize(
    "photo",
    ["bodysuit-fox.jpg", "shirt-plain.jpg", "leggings-back-tractor.jpg", "no-card-moon.jpg"],
)
def test_the_answer_is_that_of_the_photo(photo: str) -> None:
    before = size_photo(SAMPLES / photo)
    for sizes in SETS_MM:
        wanted = replace(before.settings, sizes_mm=sizes)
        assert_same(resize(before, wanted), size_photo(SAMPLES / photo, wanted))
    assert_same(resize(resize(before, wanted), before.settings), before)


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Scene, Truth]:
    scene = make_scene(11, tilt_deg=9.0)
    path = tmp_path_factory.mktemp("photos") / "shirt.jpg"
    save_photo(render(scene), path, focal_35mm=scene.camera.focal_35mm)
    return path, scene, truth_of(scene)


def test_a_persons_words_stand(shot: tuple[Path, Scene, Truth]) -> None:
    path, _, truth = shot
    outline = tuple((float(x), float(y)) for x, y in truth.motifs[0].outline_px)
    x, y = np.mean(outline, axis=0)
    usual = Settings()
    survey = survey_photo(path, usual)[0]
    for words in (
        {"outline_px": outline},
        {"outline_px": outline, "outline_sd_mm": 1.5},
        {"no_motif": True},
        {"place": (float(x) + 60, float(y) - 40, 12.0)},
        {"place": (float(x), float(y), 0.0), "no_motif": True},
        {"near_px": (float(x), float(y))},
    ):
        said = replace(usual, **words)  # type: ignore[arg-type]
        before = size_survey(survey, said)
        for sizes in SETS_MM:
            wanted = replace(said, sizes_mm=sizes)
            assert_same(resize(before, wanted), size_survey(survey, wanted))


def test_what_needs_another_look_is_not_answered(shot: tuple[Path, Scene, Truth]) -> None:
    record = size_photo(shot[0])
    with pytest.raises(ValueError, match="not only the sizes"):
        resize(record, replace(record.settings, side_mm=90.0))
    with pytest.raises(ValueError, match="not only the sizes"):
        resize(record, replace(record.settings, no_motif=True))


def test_a_record_leads_to_the_photo_and_back(shot: tuple[Path, Scene, Truth]) -> None:
    plane = size_photo(shot[0]).plane
    assert plane is not None
    points = np.array([[0.0, 0.0], [120.0, -80.0], [-60.0, 210.0]])
    assert digest_to_mm(plane, digest_to_px(plane, points)) == pytest.approx(points, abs=DIGIT)


def test_drawn_by_hand_an_outline_is_held_for_less_exact(shot: tuple[Path, Scene, Truth]) -> None:
    path, _, truth = shot
    outline = tuple((float(x), float(y)) for x, y in truth.motifs[0].outline_px)
    exact = size_photo(path, Settings(outline_px=outline))
    drawn = size_photo(path, Settings(outline_px=outline, outline_sd_mm=2.0))
    assert drawn.motifs[0].width_mm == exact.motifs[0].width_mm
    for side in ("top", "right", "bottom", "left"):
        own, plane = (getattr(one.motifs[0].sd_edges_mm, side) for one in (drawn, exact))
        assert own**2 - plane**2 == pytest.approx(2.0**2 - 0.1**2)  # variances add up


def test_a_person_told_where_the_motif_is_so_nothing_looks_for_it(
    shot: tuple[Path, Scene, Truth], monkeypatch: pytest.MonkeyPatch
) -> None:
    def look(*_: object, **__: object) -> None:
        raise AssertionError("looked for a motif")

    monkeypatch.setattr("motiffit.sizing.find_motifs", look)
    assert size_photo(shot[0], Settings(outline_px=((900.0, 700.0), (1300.0, 1100.0)))).motifs
    assert size_photo(shot[0], Settings(no_motif=True)).outcome == "no-motif"


@pytest.mark.parametrize("code", ["took-too-long", "worker-died", "self-check", "program-fault"])
def test_a_photo_that_was_not_measured_is_not_answered(code: str) -> None:
    refused = size_photo(SAMPLES / "no-card-moon.jpg")
    message = replace(refused.messages[0], code=code)
    with pytest.raises(Refusal):
        resize(
            replace(refused, messages=(message,)), replace(refused.settings, sizes_mm=SETS_MM[0])
        )


def test_a_cut_size_is_told_in_centimetres_as_the_plan_tells_it() -> None:
    # 10 cm with 1/4 in on each side: 112.7 mm
    settings = Settings(sizes_mm=(100.0,), units="cm")
    sizing = resize(records.make_sizing(records.Case(settings=settings)), settings)
    assert sizing.window is not None
    assert sizing.window.cut == "11.27 cm" == format_cut(exact_mm(112.7), "cm")
    words = " ".join(sizing_text(sizing).split())
    assert "Tape off an 11.27 cm square. Its middle lies 5.64 cm from each side" in words
