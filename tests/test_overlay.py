"""The picture for a person: lines where the record says, readable on any cloth."""

from dataclasses import replace

import numpy as np
import pytest
from records import Case, View, make_refused, make_sizing

from motiffit.show.overlay import draw_overlay
from motiffit.show.panel import PANEL_PX
from motiffit.show.strokes import CUT, MOTIF, OTHER, REFERENCE, SEAM
from motiffit.show.view import PHOTO_PX

HEIGHT, WIDTH = 2000, 1500
PLACE_TOLERANCE_PX = 1.5  # half a line's core, in the drawing
VIEW = View(px_per_mm=3.2, origin_px=(300.0, 1600.0), turn_deg=6.0)

# WCAG 2.1, success criteria 1.4.11 (parts of a picture) and 1.4.3 (text), from w3.org/TR/WCAG21
CONTRAST_OF_LINES = 3.0
CONTRAST_OF_TEXT = 4.5


def luminance(colour):
    """Return the relative luminance of sRGB 0..255, by the definition in WCAG 2.1."""
    share = np.asarray(colour, dtype=float) / 255
    linear = np.where(share <= 0.03928, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return linear @ [0.2126, 0.7152, 0.0722]


def contrast(one, other):
    low, high = np.sort([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


def plain_picture(colour=(128, 128, 128), height=HEIGHT, width=WIDTH):
    return np.full((height, width, 3), colour, dtype=np.uint8)


def drawn_points(corners_px, count=400, picture_height=HEIGHT):
    """Return points along the four sides, where the drawing has them."""
    corners = (np.asarray(corners_px) + 0.5) * PHOTO_PX / picture_height - 0.5
    ends = np.roll(corners, -1, axis=0)
    steps = np.linspace(0.06, 0.94, count)[:, None]  # corners are shared with the next side
    return np.concatenate(
        [start + steps * (end - start) for start, end in zip(corners, ends, strict=True)]
    )


def colours_at(drawing, points):
    columns, rows = np.round(points).astype(int).T
    return drawing[rows, columns].astype(float)


def lit_share(drawing, corners_px, stroke):
    """Return the share of a line's length that shows its own colour."""
    off = np.abs(colours_at(drawing, drawn_points(corners_px)) - stroke.colour).max(axis=1)
    return (off < 60).mean()


@pytest.fixture(scope="module")
def sizing():
    return make_sizing(Case(view=VIEW))


@pytest.fixture(scope="module")
def drawing(sizing):
    return draw_overlay(plain_picture(), 1.0, sizing)


def test_drawing_is_a_new_picture_of_limited_size(sizing):
    picture = plain_picture()
    drawing = draw_overlay(picture, 1.0, sizing)
    assert drawing.dtype == np.uint8
    assert drawing.shape == (PHOTO_PX, PHOTO_PX * WIDTH // HEIGHT + PANEL_PX, 3)
    assert (picture == 128).all()


@pytest.mark.parametrize(
    ("name", "stroke", "least", "most"),
    [("cut_corners_px", CUT, 0.9, 1.0), ("seam_corners_px", SEAM, 0.5, 0.8)],
)
def test_lines_lie_where_the_record_says(sizing, drawing, name, stroke, least, most):
    # the middle marks and the words on plates cross the cut line here and there
    assert least <= lit_share(drawing, getattr(sizing.window, name), stroke) <= most


def test_motif_and_reference_are_drawn_in_their_own_dashes(sizing, drawing):
    assert 0.2 <= lit_share(drawing, sizing.motifs[0].corners_px, MOTIF) <= 0.6
    assert 0.4 <= lit_share(drawing, sizing.reference.corners_px, REFERENCE) <= 0.8


def test_place_check_rejects_a_line_next_to_it(sizing, drawing):
    outer = np.asarray(sizing.window.cut_corners_px)
    outer = outer.mean(axis=0) + (outer - outer.mean(axis=0)) * 1.03
    assert lit_share(drawing, outer, CUT) < 0.1


@pytest.mark.parametrize("full_per_px", [2.0, 4.0])
def test_reduced_picture_gives_the_same_drawing(sizing, drawing, full_per_px):
    small = plain_picture(height=int(HEIGHT / full_per_px), width=int(WIDTH / full_per_px))
    reduced = draw_overlay(small, full_per_px, sizing)
    photo_width = drawing.shape[1] - PANEL_PX
    difference = np.abs(reduced[:, :photo_width].astype(int) - drawing[:, :photo_width])
    assert difference.max() == 0


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 180.0, 270.0])
def test_square_as_cut_stands_upright_however_the_photo_is_turned(turn_deg):
    view = View(px_per_mm=2.5, origin_px=(750.0, 1000.0), turn_deg=turn_deg)
    garment = ((-150.0, -150.0), (150.0, -150.0), (150.0, 150.0), (-150.0, 150.0))
    sizing = make_sizing(Case(view=view, motifs_mm=((0.0, 0.0, 60.0, 60.0),), garment_mm=garment))
    picture = plain_picture()
    # the upper half of the motif is red, the lower blue, seen upright on the cloth
    rows, columns = np.mgrid[:HEIGHT, :WIDTH]
    on_cloth = np.stack([columns.ravel(), rows.ravel(), np.ones(rows.size)]).T @ view.px_to_mm.T
    across, down = on_cloth[:, 0].reshape(rows.shape), on_cloth[:, 1].reshape(rows.shape)
    picture[(np.abs(across) < 25) & (down < 0) & (down > -25)] = (200, 0, 0)
    picture[(np.abs(across) < 25) & (down > 0) & (down < 25)] = (0, 0, 200)
    panel = draw_overlay(picture, 1.0, sizing)[:, -PANEL_PX:]
    red = np.argwhere((panel == (200, 0, 0)).all(axis=2))
    blue = np.argwhere((panel == (0, 0, 200)).all(axis=2))
    assert len(red) > 1000
    assert red[:, 0].max() < blue[:, 0].min()
    assert red[:, 1].mean() == pytest.approx(blue[:, 1].mean(), abs=2)


@pytest.mark.parametrize(
    "cloth",
    [(0, 0, 0), (255, 255, 255), (128, 128, 128), (255, 232, 92), (120, 210, 255), (255, 170, 214),
     (200, 30, 30), (20, 20, 120), (250, 240, 200)],
)  # fmt: skip
def test_every_line_stands_out_from_any_cloth(sizing, cloth):
    drawing = draw_overlay(plain_picture(cloth), 1.0, sizing)
    for corners_px in (
        sizing.window.cut_corners_px,
        sizing.window.seam_corners_px,
        sizing.motifs[0].corners_px,
        sizing.reference.corners_px,
    ):
        points = drawn_points(corners_px)
        shifts = np.mgrid[-4:5, -4:5].reshape(2, -1).T
        near = np.stack([colours_at(drawing, points + shift) for shift in shifts])
        best = np.stack([contrast_to(near_shift, cloth) for near_shift in near]).max(axis=0)
        # gaps of a dashed line may show bare cloth
        assert (best >= CONTRAST_OF_LINES).mean() > 0.6


def contrast_to(colours, cloth):
    """Return the contrast of each of many colours to one."""
    high = np.maximum(luminance(colours), luminance(cloth)) + 0.05
    low = np.minimum(luminance(colours), luminance(cloth)) + 0.05
    return high / low


def test_contrast_of_black_and_white_is_that_of_the_standard():
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)


def test_lines_are_told_apart_without_colour(sizing, drawing):
    grey = drawing.mean(axis=2)
    shares = []
    for corners_px in (
        sizing.window.cut_corners_px,
        sizing.window.seam_corners_px,
        sizing.motifs[0].corners_px,
    ):
        columns, rows = np.round(drawn_points(corners_px)).astype(int).T
        shares.append((grey[rows, columns] > 160).mean())
    assert np.diff(shares).max() < -0.1


def test_banners_differ_between_outcomes():
    sizings = [
        make_sizing(Case(view=VIEW)),
        make_sizing(Case(view=VIEW, codes=("motif-doubtful",))),
        make_sizing(Case(view=VIEW, motifs_mm=())),
        make_refused(),
    ]
    assert [sizing.outcome for sizing in sizings] == ["sized", "check", "no-motif", "refused"]
    banners = set()
    for sizing in sizings:
        drawing = draw_overlay(plain_picture(), 1.0, sizing)
        assert_banner_is_readable(drawing)
        banners.add(tuple(drawing[2, -2]))
    assert len(banners) == 4


def assert_banner_is_readable(drawing):
    banner = drawing[:60, -PANEL_PX:]
    assert contrast(banner[2, 2], (255, 255, 255)) >= CONTRAST_OF_TEXT
    assert (banner == 255).all(axis=2).sum() > 100  # there are words


def test_size_that_cuts_the_motif_has_the_banner_of_a_refusal():
    case = Case(view=VIEW, motifs_mm=((200.0, -180.0, 260.0, 180.0),))
    cutting = draw_overlay(plain_picture(), 1.0, make_sizing(case))
    refused = draw_overlay(plain_picture(), 1.0, make_refused())
    assert tuple(cutting[2, -2]) == tuple(refused[2, -2])


def test_refused_photo_is_shown_untouched():
    drawing = draw_overlay(plain_picture(), 1.0, make_refused())
    assert (drawing[:, :-PANEL_PX] == 128).all()


def test_other_motifs_are_drawn_with_their_number():
    case = Case(view=VIEW, motifs_mm=((200.0, -180.0, 78.0, 72.0), (200.0, -280.0, 40.0, 30.0)))
    sizing = make_sizing(case)
    drawing = draw_overlay(plain_picture(), 1.0, sizing)
    assert lit_share(drawing, sizing.motifs[1].corners_px, OTHER) > 0.2


def test_what_finds_no_room_beside_a_broad_photo_stands_below_it():
    codes = ("motif-doubtful", "reference-bent", "focal-unknown", "garment-unclear")
    sizing = make_sizing(Case(view=VIEW, codes=codes))
    drawing = draw_overlay(plain_picture(height=800, width=2000), 1.0, sizing)
    photo_height = PHOTO_PX * 800 // 2000
    below = drawing[photo_height:, : PHOTO_PX // 2]
    assert drawing.shape[1] == PHOTO_PX + PANEL_PX
    assert (below.max(axis=(1, 2)) > 240).all()  # paper
    assert (below.min(axis=2) < 80).any(axis=1).sum() > 30  # rows with letters


@pytest.mark.parametrize(
    "size", [(60, 40), (40, 60), (3000, 90), (1, 1)], ids=lambda size: "x".join(map(str, size))
)
def test_pictures_of_odd_shape_are_drawn(size):
    drawing = draw_overlay(plain_picture(height=size[0], width=size[1]), 1.0, make_sizing())
    assert drawing.shape[2] == 3


def test_square_that_reaches_far_out_of_the_photo_is_drawn():
    sizing = make_sizing(Case(view=VIEW))
    far = tuple((x * 1e7, y * 1e7) for x, y in sizing.window.cut_corners_px)
    window = replace(sizing.window, cut_corners_px=far)
    drawing = draw_overlay(plain_picture(), 1.0, replace(sizing, window=window))
    assert drawing.shape[0] == PHOTO_PX
