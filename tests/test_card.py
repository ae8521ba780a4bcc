"""The printed card, rasterised by PDFium and read by the AprilTag library: neither is ours."""

from dataclasses import dataclass
from fractions import Fraction
from io import BytesIO

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from pyapriltags import Detection, Detector

from motiffit.errors import UsageError
from motiffit.marker import marker_id_for
from motiffit.show.marker_bits import black_modules
from motiffit.show.sheets import card_pdf
from motiffit.units import MM_PER_INCH

DPI = 600
SIDE_TOLERANCE_MM = 0.1  # what the card promises
TICK_TOLERANCE_MM = 25.4 / DPI  # one pixel

INCHES_4 = 4 * MM_PER_INCH
CARDS = [
    (INCHES_4, "letter", "in"),
    (Fraction(100), "a4", "cm"),
    (Fraction(3, 2) * MM_PER_INCH, "a4", "in"),
]


def rasterise(pdf, *, dpi=DPI, page=0):
    """Return one page as a grey picture."""
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    try:
        return document[page].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze().copy()
    finally:
        document.close()


def count_pages(pdf):
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    try:
        return len(document)
    finally:
        document.close()


@dataclass(frozen=True)
class Print:
    """A card as it leaves the printer, and the marker that the AprilTag library sees on it."""

    side_mm: Fraction
    paper: str
    picture: NDArray[np.uint8]
    marker: Detection


@pytest.fixture(scope="module", params=CARDS, ids=lambda card: f"{float(card[0]):g}-{card[1]}")
def printed(request):
    side_mm, paper, units = request.param
    picture = rasterise(card_pdf(side_mm, paper=paper, units=units))
    # decimate 1, because the detector halves the picture unless told
    (marker,) = Detector(families="tag36h11", quad_decimate=1.0).detect(picture)
    return Print(side_mm, paper, picture, marker)


def test_marker_has_its_nominal_side_and_id(printed):
    corners = printed.marker.corners
    assert printed.marker.tag_id == marker_id_for(printed.side_mm)
    sides_mm = np.hypot(*np.diff([*corners, corners[0]], axis=0).T) * 25.4 / DPI
    assert sides_mm == pytest.approx(float(printed.side_mm), abs=SIDE_TOLERANCE_MM)


def test_marker_is_centred_upright_on_true_paper(printed):
    # ISO 216 and US Letter (8 1/2 x 11 in)
    width_mm, height_mm = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}[printed.paper]
    height_px, width_px = printed.picture.shape
    assert width_px * 25.4 / DPI == pytest.approx(width_mm, abs=0.1)
    assert height_px * 25.4 / DPI == pytest.approx(height_mm, abs=0.1)
    # its corners count from the pixel's edge, as widths do
    assert printed.marker.center[0] * 25.4 / DPI == pytest.approx(
        width_mm / 2, abs=SIDE_TOLERANCE_MM
    )
    heights_px = sorted(printed.marker.corners[:, 1])
    assert np.ptp(heights_px[:2]) < 1
    assert np.ptp(heights_px[2:]) < 1


def test_white_margin_of_a_module_is_kept_round_the_marker(printed):
    module_px = float(printed.side_mm) / 8 * DPI / 25.4
    left, top = printed.marker.corners.min(axis=0)
    right, bottom = printed.marker.corners.max(axis=0)
    outer = printed.picture[
        round(top - module_px) : round(bottom + module_px),
        round(left - module_px) : round(right + module_px),
    ].copy()
    edge = round(module_px)
    outer[edge - 2 : 2 - edge, edge - 2 : 2 - edge] = 255
    assert outer.min() == 255


@pytest.mark.parametrize("dpi", [96, 137, 300])
def test_black_modules_show_no_seam(printed, dpi):
    picture = rasterise(
        card_pdf(printed.side_mm, paper=printed.paper, units="in"),  # the same marker in any units
        dpi=dpi,
    )
    left, top = printed.marker.corners.min(axis=0) * dpi / DPI
    module_px = float(printed.side_mm) / 8 / 25.4 * dpi
    rows = black_modules(marker_id_for(printed.side_mm))
    pairs = [(r, c) for r in range(8) for c in range(7) if rows[r][c] and rows[r][c + 1]]
    assert len(pairs) >= 14  # the two rows of the border alone have that many
    for row, column in pairs:
        first, last = ((column + part) * module_px + left for part in (0.5, 1.5))
        across = picture[round((row + 0.5) * module_px + top), round(first) : round(last)]
        assert across.max() == 0


@pytest.mark.parametrize(
    ("step_mm", "count"), [(25.4 / 16, 6 * 16 + 1), (1.0, 150 + 1)], ids=["inches", "centimetres"]
)
def test_scales_are_true(printed, step_mm, count):
    assert any(
        np.allclose(places - places[0], step_mm * np.arange(count), atol=TICK_TOLERANCE_MM)
        for places in _tick_rows(printed.picture)
        if len(places) == count
    )


def _tick_rows(picture):
    """Yield, for every row of the page, the middles of its dark runs in mm."""
    for row in picture[:: DPI // 50]:
        dark = np.flatnonzero(np.diff(np.concatenate([[0], row < 128, [0]]).astype(int)))
        if len(dark) >= 2:
            yield dark.reshape(-1, 2).mean(axis=1) * 25.4 / DPI


def test_scales_check_rejects_a_page_printed_smaller(printed):
    shrunk_mm = 0.97 * 25.4 / 16 * np.arange(97)
    assert not any(
        np.allclose(places - places[0], shrunk_mm, atol=TICK_TOLERANCE_MM)
        for places in _tick_rows(printed.picture)
        if len(places) == 97
    )


def test_same_card_gives_the_same_bytes_and_asks_not_to_be_scaled():
    first, second = (card_pdf(INCHES_4, paper="letter", units="in") for _ in range(2))
    assert first == second
    assert b"/PrintScaling /None" in first


def test_what_does_not_fit_under_a_large_card_goes_on_a_second_page():
    assert count_pages(card_pdf(INCHES_4, paper="letter", units="in")) == 1
    assert count_pages(card_pdf(Fraction(100), paper="a4", units="cm")) == 1
    large = card_pdf(5 * MM_PER_INCH, paper="letter", units="in")
    assert count_pages(large) == 2
    assert rasterise(large, page=1, dpi=50).min() < 100


def test_nothing_is_printed_where_printers_cannot_reach(printed):
    edge = round(6.0 * DPI / 25.4)
    inside = printed.picture.copy()
    inside[edge:-edge, edge:-edge] = 255
    assert inside.min() == 255


@pytest.mark.parametrize(
    ("side", "words"),
    [
        (Fraction(1001, 10), "whole millimetres or sixteenths"),
        (10 * MM_PER_INCH, "between 1 in and 5 13/16 in"),
        (20 * MM_PER_INCH, "between 1 in and 5 13/16 in"),  # 508 mm: whole, and too large
        (Fraction(20), "between"),
    ],
)
def test_side_that_cannot_be_printed_is_refused_with_what_can(side, words):
    with pytest.raises(UsageError, match=words):
        card_pdf(side, paper="letter", units="in")
