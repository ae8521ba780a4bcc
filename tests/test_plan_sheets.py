"""The plan's sheets: true to scale when rasterised by PDFium, and every word of the plan there."""

import csv
import json
import math
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction as F
from functools import cache
from io import BytesIO, StringIO
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from PIL import Image
from plans import MIXED, make_record, make_records

from motiffit.quilt import GarmentNote, Plan, PlanOptions, default_options, make_plan
from motiffit.quilt.cautions import CAUTIONS
from motiffit.quilt.lengths import format_cut
from motiffit.record import Sides, make_message
from motiffit.settings import Settings
from motiffit.show.flow import Flow, shorten
from motiffit.show.pdf import Sheet, line_width_mm, lines_of
from motiffit.show.picture_file import encode_picture
from motiffit.show.plan_page import plan_page
from motiffit.show.plan_sheets import plan_pdf
from motiffit.show.plan_tables import (
    CUTTING_COLUMNS,
    LAYOUT_COLUMNS,
    cutting_table,
    layout_table,
    shopping_table,
)
from motiffit.show.plan_text import plan_text
from motiffit.show.window_sheet import WINDOW_MARGIN_MM, draw_windows
from motiffit.units import MM_PER_INCH

INCH = MM_PER_INCH
DPI = 600
SCALE_TOLERANCE_MM = 0.1  # what issue 5 asks for
SHORT = Sides(top=0.0, right=12.0, bottom=0.0, left=0.0)


def make_whole_plan(**changes: object) -> Plan:
    """Make a plan in which everything occurs."""
    records = [*MIXED, make_record("bib.jpg", 5, short=SHORT, outcome="check")]
    options = replace(
        PlanOptions(), sash_mm=INCH, borders_mm=(2 * INCH,), rows=5, columns=3, **changes
    )  # type: ignore[arg-type]
    notes = {
        "garment 0.jpg": GarmentNote(garment="Bear suit", note="zip at the front"),
        "garment 1.jpg": GarmentNote(garment="<b>Duck</b> & drake", note="=1+1"),
    }
    return make_plan(records, options, notes=notes)


@cache
def thumbnail(photo: str) -> bytes | None:
    """Picture of a photo; one has none."""
    picture = np.full((300, 400, 3), 200, np.uint8)
    return None if photo == "bib.jpg" else encode_picture(picture, ".jpg")


def pages_of(pdf: bytes) -> list[str]:
    """Text of each page."""
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    try:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]
    finally:
        document.close()


def raster(pdf: bytes, page: int) -> NDArray[np.uint8]:
    """One page as a grey picture."""
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    try:
        image = document[page].render(scale=DPI / 72, grayscale=True).to_numpy()
        return image.squeeze().copy()
    finally:
        document.close()


def sheets(plan: Plan, paper: str = "letter") -> bytes:
    """All sheets."""
    return plan_pdf(plan, paper=paper, title="Ann's quilt", thumbnail=thumbnail)  # type: ignore[arg-type]


def lines_at(dark_share: NDArray[np.float64], least: float) -> list[float]:
    """Middles (mm) of the runs of rows or columns of which so large a share is dark."""
    marked = np.flatnonzero(dark_share >= least)
    runs = np.split(marked, np.flatnonzero(np.diff(marked) > 1) + 1)
    return [float(run.mean() + 0.5) / DPI * 25.4 for run in runs]


# --- viewing windows -----------------------------------------------------------------------------


@pytest.mark.parametrize(("size", "paper"), [(3, "letter"), (4, "a4"), (7, "letter"), (7, "a4")])
def test_a_whole_window_is_true_to_scale(size: int, paper: str) -> None:
    pdf = sheets(make_plan(make_records([size]), PlanOptions()), paper)
    page = next(n for n, words in enumerate(pages_of(pdf)) if "Viewing window: fin" in words)
    dark = raster(pdf, page) < 128
    top = round(27.0 / 25.4 * DPI)  # the window's upper edge; its lower part has no text
    cut_px = round((size + 0.5) * DPI)
    band = dark[top + int(0.6 * cut_px) : top + int(0.9 * cut_px)]
    columns = lines_at(band.mean(axis=0), 0.45)
    # cut line, dashed seam line, and the same at the right
    assert len(columns) == 4
    cut_left, seam_left, seam_right, cut_right = columns
    assert cut_right - cut_left == pytest.approx((size + 0.5) * 25.4, abs=SCALE_TOLERANCE_MM)
    assert seam_right - seam_left == pytest.approx(size * 25.4, abs=SCALE_TOLERANCE_MM)
    side = dark[:, round(cut_left / 25.4 * DPI) + 60 : round(cut_left / 25.4 * DPI) + cut_px // 3]
    rows = lines_at(side[top - 60 : top + cut_px + 60].mean(axis=1), 0.45)
    assert rows[-1] - rows[0] == pytest.approx((size + 0.5) * 25.4, abs=SCALE_TOLERANCE_MM)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_windows_inside_one_another_are_true_to_scale(paper: str) -> None:
    pdf = sheets(make_plan(make_records([3, 4, 5, 6, 7]), PlanOptions()), paper)
    (page,) = (n for n, words in enumerate(pages_of(pdf)) if "Viewing windows: " in words)
    words = pages_of(pdf)[page]
    assert "finished 7 in, 6 in, 5 in, 4 in, 3 in" in words
    for size in range(3, 8):
        assert f"finished {size} in, cut {size} 1/2 in" in words  # on the frame itself
    dark = raster(pdf, page) < 128
    middle = round((27.0 / 25.4 + 3.75) * DPI)  # of the outermost window
    # below the text and above the marks of the middle of the sides
    band = dark[middle + round(1.0 * DPI) : middle + round(1.4 * DPI)]
    columns = lines_at(band.mean(axis=0), 0.4)
    assert len(columns) == 20  # cut line, seam line and the same at the right, five times
    widths = [right - left for left, right in zip(columns, reversed(columns), strict=True)][:10]
    sides = [side * 25.4 for size in (7, 6, 5, 4, 3) for side in (size + 0.5, size)]
    assert widths == pytest.approx(sides, abs=SCALE_TOLERANCE_MM)


def test_windows_name_their_garments_or_number_them() -> None:
    few = pages_of(sheets(make_plan(make_records([3, 4]), PlanOptions())))
    assert any("4 in for 2 garment 1; 3 in for 1 garment 0." in words for words in few)
    many = make_plan(make_records([7, 6, 5, 4, 3] * 12), PlanOptions())
    text = " ".join(pages_of(sheets(many)))
    assert "7 in for 1, 6, 11, 16," in text


def test_sheets_are_few() -> None:
    # a newcomer's pile of seven garments came on 17 sheets
    pages = pages_of(sheets(make_plan(make_records([3, 4, 4, 5, 5, 6, 7]), PlanOptions())))
    assert len(pages) <= 8
    assert min(len(words) for words in pages) > 300  # no page with a line or two


@pytest.mark.parametrize(("count", "pages"), [(1, 1), (8, 1), (12, 1), (13, 2), (24, 2), (25, 3)])
def test_labels_fill_their_pages(count: int, pages: int) -> None:
    plan = make_plan(make_records([4] * count), PlanOptions())
    labels = [words.count(", block ") for words in pages_of(sheets(plan)) if ", block " in words]
    assert (len(labels), sum(labels)) == (pages, count)
    assert min(labels) >= min(count, 5)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("turning", ["same", "barn"])
def test_labels_with_long_names_keep_what_must_be_seen(paper: str, turning: str) -> None:
    all_sides = Sides(top=5.0, right=5.0, bottom=5.0, left=5.0)
    records = [
        make_record(f"garment {n}.jpg", 4, short=all_sides, outcome="check") for n in range(24)
    ]
    name = "the grey sleepsuit with the bear from the first winter in the old house, "
    notes = {r.photo: GarmentNote(garment=name + r.photo, note="zip " * 40) for r in records}
    options = replace(PlanOptions(), turning=turning)  # type: ignore[arg-type]
    pages = pages_of(sheets(make_plan(records, options, notes=notes), paper))
    labels = [words for words in pages if ", block " in words]
    assert len(labels) == 2
    for words in labels:
        for told in ("CHECK before you cut", "extension: top, right, bottom, left", ", block "):
            assert words.count(told) == 12
        assert words.count("first strip: ") == (0 if turning == "same" else 12)


def test_labels_shorten_a_long_name_before_they_leave_out_a_reason() -> None:
    doubt = (make_message("motif-several", count=2),)
    records = [make_record(f"{n}.jpg", 4, outcome="check", messages=doubt) for n in range(12)]
    name = "the grey sleepsuit with the bear from the first winter in the old house, "
    notes = {r.photo: GarmentNote(garment=name + r.photo) for r in records}
    text = " ".join(pages_of(sheets(make_plan(records, PlanOptions(), notes=notes))))
    assert text.count("several motifs") == 12


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_halves_of_a_large_window_make_its_size(paper: str) -> None:
    pdf = sheets(make_plan(make_records([9]), PlanOptions()), paper)
    pages = [n for n, words in enumerate(pages_of(pdf)) if "Viewing window, " in words]
    assert len(pages) == 2
    widths = []
    for page in pages:
        dark = raster(pdf, page) < 160
        left = round(WINDOW_MARGIN_MM / 25.4 * DPI)
        part = dark[:, left - 20 : left + round(4.75 * DPI) + 20]
        rows = lines_at(part.mean(axis=1), 0.6)
        assert rows[-1] - rows[0] == pytest.approx(9.5 * 25.4, abs=SCALE_TOLERANCE_MM)
        # the cut line is solid, the join a line of dashes and dots
        columns = lines_at(part[300:-1800].mean(axis=0), 0.5)
        widths.append(columns[-1] - columns[0])
    assert sum(widths) == pytest.approx(9.5 * 25.4, abs=2 * SCALE_TOLERANCE_MM)


def test_a_very_large_window_comes_in_quarters() -> None:
    records = make_records([12], Settings(sizes_mm=(304.8,)))
    pages = pages_of(sheets(make_plan(records, PlanOptions())))
    parts = [words for words in pages if "Viewing window, " in words]
    assert len(parts) == 4
    for part in ("upper left", "upper right", "lower left", "lower right"):
        assert sum(f"Viewing window, {part}" in words for words in parts) == 1


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("sizes", [(7.0, 5.0, 3.0, 1.0), (2.5,), (2.25, 1.0), (2.0,), (1.5,)])
def test_words_on_a_window_stay_off_its_lines(sizes: tuple[float, ...], paper: str) -> None:
    settings = Settings(sizes_mm=tuple(25.4 * size for size in sorted(sizes)))
    pdf = sheets(make_plan(make_records(sizes, settings), PlanOptions()), paper)
    outer_mm, mm = (max(sizes) + 0.5) * 25.4, 25.4 / 72
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    try:
        page = document[len(document) - 1]
        height_mm, text = page.get_height() * mm, page.get_textpage()
        boxes = [np.array(text.get_charbox(n)) * mm for n in range(text.count_chars())]
        assert "mark the cloth along the outer edge" in " ".join(text.get_text_bounded().split())
        middle = np.array([page.get_width() * mm / 2, height_mm - 27.0 - outer_mm / 2] * 2)
    finally:
        document.close()
    for box in boxes:
        left, bottom, right, top = box - middle
        if max(abs(bottom), abs(top)) > outer_mm / 2:
            assert bottom > outer_mm / 2 or top < -outer_mm / 2  # above or below all windows
            continue
        far = max(abs(left), abs(bottom), abs(right), abs(top))
        assert far < min(sizes) / 2 * 25.4 or any(
            size / 2 * 25.4 < bottom and far < (size / 2 + 0.25) * 25.4 and right < 0
            for size in sizes
        ), "neither in the opening nor on a frame, left of its mark"


def test_a_list_of_strips_longer_than_a_page_goes_on_on_the_next() -> None:
    options = replace(PlanOptions(), block_mm=18 * INCH, strips_mm=(INCH / 2,))
    plan = make_plan(make_records([3, 5]), options)
    for paper in ("letter", "a4"):
        document = pypdfium2.PdfDocument(BytesIO(sheets(plan, paper)))
        try:
            told = []
            for page in document:
                words = page.get_textpage()
                left, bottom, right, top = 80 / 25.4 * 72, 12 / 25.4 * 72, page.get_width(), 2000
                lines = words.get_text_bounded(left, bottom, right, top).splitlines()
                told += [
                    n for line in lines if (n := re.match(r"(\d+) +(top|right|bottom|left)", line))
                ]
        finally:
            document.close()
        numbers = [int(found[1]) for found in told]
        assert numbers == [*range(1, 61), *range(1, 53)]


class LineSheet(Sheet):
    """A sheet that adds up the cut lines drawn on it, and draws nothing."""

    total_mm = 0.0

    def line(self, points, *, width_mm=0.2, **how) -> None:  # type: ignore[no-untyped-def,override]
        if width_mm == 0.4:  # the cut line
            self.total_mm += sum(math.dist(*ends) for ends in pairwise(points))

    def text(self, *what, **how) -> None:  # type: ignore[no-untyped-def,override]
        pass


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_parts_of_a_window_have_the_whole_cut_line(paper: str) -> None:
    plan = make_plan(make_records([9]), PlanOptions())
    for sixteenths in range(14 * 16, 40 * 16 + 1):
        cut = F(sixteenths, 16) * INCH
        block = replace(plan.kinds[0].block, cut_centre_mm=cut, centre_mm=cut - INCH / 2)
        sheet = LineSheet(paper, title="")  # type: ignore[arg-type]
        kinds = (replace(plan.kinds[0], block=block),)
        draw_windows(Flow(sheet, running=""), replace(plan, kinds=kinds))
        assert sheet.total_mm == pytest.approx(4 * float(cut)), format_cut(cut, "in")


# --- words ---------------------------------------------------------------------------------------


def test_everything_of_the_plan_is_on_the_sheets() -> None:
    plan = make_whole_plan()
    text = " ".join(pages_of(sheets(plan)))
    for centre in plan.centres:
        assert centre.name in text
    for need in plan.fabrics:
        assert need.purchase.words in text
        for group in need.groups:
            assert f"{group.strips} x {format_cut(group.width_mm, 'in')} wide" in text
    for kind in plan.kinds:
        for strip in kind.block.strips:
            size = f"{format_cut(strip.cut_width_mm, 'in').removesuffix(' in')} x "
            assert size + format_cut(strip.cut_length_mm, "in") in text
    assert "If the bolt gives only 38 in" in text  # what the message on it says, where one shops
    for message in plan.messages:
        if message.code != "plan-narrower":
            assert message.text.split(".")[0] in text
    for caution in CAUTIONS:
        assert caution.source in text
    assert "zip at the front" in text
    assert "CHECK before you cut" in text
    assert "cloth ends at the motif" in text  # the seam of a piece there would run through it
    assert "the pieces have 1/4 in to spare for that" in text


def test_borders_joined_from_strips_have_their_lengths_wherever_one_cuts() -> None:
    # 6 x 6 blocks of 9 in: sides as long as the top's raw edge, 54 1/2 in; then top and bottom as
    # long as that and two borders of 4 in, 62 1/2 in
    options = replace(PlanOptions(), rows=6, columns=6, block_mm=9 * INCH, borders_mm=(4 * INCH,))
    plan = make_plan(make_records([5] * 36), options)
    words = "slanting seams to 234 in, then cut 2 of 62 1/2 in, 2 of 54 1/2 in"
    page = plan_page(plan, title="q", picture=encode_picture(np.zeros((9, 9, 3), np.uint8), ".jpg"))
    assert words in " ".join(pages_of(sheets(plan)))
    assert words in page.decode()
    text = " ".join(plan_text(plan).split())
    assert words in text
    # the binding is sewn on in one length: 4 x 62 in and 16 in more
    assert re.search(r"binding .{,30} joined end to end with slanting seams to 264 in Layout", text)


def test_each_garment_has_a_label() -> None:
    plan = make_whole_plan()
    labels = [words for words in pages_of(sheets(plan)) if "row 1, block 1" in words]
    text = " ".join(pages_of(sheets(plan)))
    assert labels
    for cell in plan.layout.cells:
        if cell.photo:
            assert f"row {cell.row}, block {cell.column}" in text


def test_sheets_are_the_same_every_time() -> None:
    plan = make_whole_plan()
    assert sheets(plan) == sheets(plan)


def test_turned_blocks_say_on_which_side_to_begin() -> None:
    text = " ".join(pages_of(sheets(make_whole_plan(turning="barn"))))
    assert "first strip: left" in text
    assert "The first strip goes to another side from block to block: begin on the side" in text
    assert "The lengths and fabrics stay as listed" in text
    assert "clockwise, the first on the side that the block's label names." in text


def test_turned_blocks_with_fabrics_by_side_have_a_list_for_each_first_side() -> None:
    options = replace(PlanOptions(), scheme="sides", turning="pinwheel", block_mm=9 * INCH)
    bib = make_record("bib.jpg", 5, outcome="check")
    plan = make_plan([*make_records([5, 5, 5, 5, 9]), bib], options)
    text = " ".join(pages_of(sheets(plan)))
    page = plan_page(plan, title="q", picture=encode_picture(np.zeros((9, 9, 3), np.uint8), ".jpg"))
    assert "sew each block by the list that begins on the side that its label names" in text
    assert "the list that begins on the side" in page.decode()
    assert text.count("Viewing window: finished 5 in, cut 5 1/2 in") == 1
    begun = Counter(cell.first_side for cell in plan.layout.cells if cell.photo != "garment 4.jpg")
    at_bib = next(cell.first_side for cell in plan.layout.cells if cell.photo == "bib.jpg")
    for letter, side in zip("ABCD", ("top", "right", "bottom", "left"), strict=True):
        if begun[side]:
            count = f"{begun[side]} (1 not settled)" if side == at_bib else str(begun[side])
            assert f"first strip: {side}, blocks: {count} 1{letter} " in text
            assert f"1 {side} {letter} 1 1/2 x 5 1/2 in 2 " in text
            words = f"{count} with a centre cut 5\u00a01/2\u00a0in, first strip: {side}"
            assert words in page.decode()
            assert f"first strip: {side}" in plan_text(plan)
    assert text.count("No strips: the centre is the block.") == 1


def test_metric_sheets_speak_centimetres() -> None:
    settings = Settings(units="cm", seam_allowance_mm=7.5, sizes_mm=(75.0, 100.0, 225.0))
    records = make_records([75 / 25.4, 100 / 25.4], settings)
    plan = make_plan(records, default_options("cm"))
    text = " ".join(pages_of(sheets(plan, "a4")))
    assert "finished 7.5 cm, cut 9 cm" in text
    assert " in," not in text.replace("in, and", "")
    # three strips of 4 cm and two seams of 0.75 cm: 12 - 4 x 0.75
    assert "three strips cut 4 cm wide must measure 9 cm across" in text


def test_the_seam_test_is_the_usual_one_in_inches() -> None:
    # quiltcentric.com 2012; quiltingaffection.blogspot.com 2014
    text = " ".join(pages_of(sheets(make_whole_plan())))
    assert "three strips cut 1 1/2 in wide must measure 3 1/2 in across" in text


def test_the_seam_test_heeds_what_seams_take_up() -> None:
    # by hand: 4 1/2 in, less four allowances of 1/4 in, less two seams of 1/32 in
    text = " ".join(pages_of(sheets(make_whole_plan(seam_take_up_mm=INCH / 32))))
    assert "three strips cut 1 1/2 in wide must measure 3 7/16 in across" in text


def test_nothing_is_written_beyond_the_margins() -> None:
    long_name = "a garment with a very long name that nobody would give to anything " * 2
    notes = {record.photo: GarmentNote(garment=long_name, note="x" * 300) for record in MIXED}
    pdf = sheets(make_plan(MIXED, PlanOptions(), notes=notes))
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    try:
        for page in document:
            picture = page.render(scale=1, grayscale=True).to_numpy().squeeze()
            rim = round(6.0 / 25.4 * 72)
            assert picture[:rim].min() == picture[-rim:].min() == 255
            assert picture[:, :rim].min() == picture[:, -rim:].min() == 255
    finally:
        document.close()


NASTY = (
    "b\u00e9b\u00e9 \u8863.jpg",
    "line\nbreak.jpg",
    "bell\x07 \x1b[31mred.jpg",
    "\u202egpj.jpg",
    "lost \udcff byte.jpg",
    "<img src=x onerror=alert(1)>.jpg",
)


def test_names_that_trip_screens_fonts_and_pages() -> None:
    records = [make_record(name, 4) for name in NASTY]
    records += [make_record("<i>cut\x1b.jpg", 4)]
    notes = {"<i>cut\x1b.jpg": GarmentNote(keep=False), NASTY[0]: GarmentNote(note="\x1b]0;\x07")}
    plan = make_plan(records, PlanOptions(), notes=notes)
    text = plan_text(plan)
    assert all(letter.isprintable() for line in text.split("\n") for letter in line)
    assert len(pages_of(sheets(plan))) > 5
    page = plan_page(plan, title="q", picture=encode_picture(np.zeros((9, 9, 3), np.uint8), ".jpg"))
    assert b"<img src=x" not in page
    assert b"<i>" not in page
    assert len(read_table(layout_table(plan))) == plan.grid.rows * plan.grid.columns
    assert json.loads(json.dumps(plan.to_dict()))["left_out"][0]["name"] == "<i>cut?.jpg"


def test_long_names_lose_their_middle() -> None:
    short = shorten("0ec7bcaf-e4ed-4fa4-8e4d-36a50635a545", width_mm=30.0, size_pt=11)
    assert short.startswith("0ec7bcaf")
    assert short.endswith("545")
    assert line_width_mm(short, size_pt=11) <= 30.0
    assert shorten("bib", width_mm=30.0, size_pt=11) == "bib"


def test_words_wider_than_a_line_go_on_in_the_next() -> None:
    lines = lines_of("see " + "m" * 60, width_mm=50.0, size_pt=11)
    assert "".join(lines).replace(" ", "") == "see" + "m" * 60
    assert all(line_width_mm(line, size_pt=11) <= 50.0 for line in lines)


# --- screen, page, tables ------------------------------------------------------------------------


def test_screen_text_answers_in_order() -> None:
    text = plan_text(make_whole_plan(), width=80)
    titles = ["The quilt", "Blocks", "To buy", "To cut", "Extension pieces", "Layout", "Mind"]
    places = [text.index(f"{title}\n") for title in titles]
    assert places == sorted(places)
    assert max(map(len, text.splitlines())) <= 80
    assert "bib: right side, cut 1 1/4 x 6 1/2 in" in text


def test_page_runs_nothing_and_escapes_names() -> None:
    picture = encode_picture(np.zeros((20, 10, 3), np.uint8), ".jpg")
    page = plan_page(make_whole_plan(), title="<script>", picture=picture).decode()
    assert "&lt;script&gt;" in page
    assert "&lt;b&gt;Duck&lt;/b&gt; &amp; drake" in page
    assert "<script" not in page
    assert "script-src" not in page
    assert "default-src 'none'" in page
    assert "http" not in page.replace("http-equiv", "")


def test_page_names_what_to_buy_and_cut() -> None:
    plan = make_whole_plan()
    picture = encode_picture(np.zeros((20, 10, 3), np.uint8), ".jpg")
    page = plan_page(plan, title="quilt", picture=picture).decode()
    assert "\u00a01/2\u00a0in" in page  # no line ends inside a length
    for need in plan.fabrics:
        assert need.purchase.words in page.replace("\u00a0", " ")
    assert 'width="10" height="20"' in page


def read_table(content: bytes) -> list[dict[str, str]]:
    """Lines of a table."""
    return list(csv.DictReader(StringIO(content.decode("utf-8-sig"))))


def test_cutting_table_holds_all_pieces() -> None:
    plan = make_whole_plan()
    lines = read_table(cutting_table(plan))
    assert tuple(lines[0]) == CUTTING_COLUMNS
    cells = [(line["fabric"], F(line["piece_length_mm"]), int(line["pieces"])) for line in lines]
    told = [
        (need.fabric.name, F(str(float(length))), count)
        for need in plan.fabrics
        for group in need.groups
        for length, count in group.pieces
    ]
    assert cells == told


def test_shopping_table_names_every_fabric() -> None:
    plan = make_whole_plan()
    lines = {line["item"]: line["amount"] for line in read_table(shopping_table(plan))}
    assert {need.fabric.name: need.purchase.words for need in plan.fabrics}.items() <= lines.items()
    assert {"batting", "light fusible interfacing"} <= set(lines)


def test_layout_table_holds_every_place_and_no_formula() -> None:
    plan = make_whole_plan()
    lines = read_table(layout_table(plan))
    assert tuple(lines[0]) == LAYOUT_COLUMNS
    assert len(lines) == plan.grid.rows * plan.grid.columns
    assert sum(line["garment"] == "plain block" for line in lines) == plan.grid.missing == 2
    named = make_plan(MIXED, PlanOptions(), notes={"garment 0.jpg": GarmentNote(garment="=1+1")})
    names = [line["garment"] for line in read_table(layout_table(named))]
    assert "'=1+1" in names


def test_centres_not_settled_are_marked_everywhere() -> None:
    plan = make_plan([*MIXED, make_record("bib.jpg", 5, outcome="check")], PlanOptions())
    words = "A ? marks a centre that is not settled yet: its size may still change."
    page = plan_page(plan, title="q", picture=encode_picture(np.zeros((9, 9, 3), np.uint8), ".jpg"))
    for text in (
        " ".join(plan_text(plan).split()),
        " ".join(pages_of(sheets(plan))),
        page.decode(),
    ):
        assert words in text
        assert "3 (1 not settled)" in text  # two of MIXED have 5 in too
        assert "13?" in text
        assert "12?" not in text
    lines = read_table(layout_table(plan))
    assert [line["garment"] for line in lines if line["settled"] == "no"] == ["bib"]
    assert words not in plan_text(make_plan(MIXED, PlanOptions()))


def test_paper_and_page_name_no_option() -> None:
    plain = make_record("plain.jpg", 6, outcome="no-motif")
    assert plain.window is not None
    plain = replace(plain, window=replace(plain.window, clearance_mm=None, p_clear=None))
    plan = make_plan([*MIXED, plain], PlanOptions())
    assert "--motifs-only" in plan_text(plan)
    picture = encode_picture(np.zeros((9, 9, 3), np.uint8), ".jpg")
    page = plan_page(plan, title="q", picture=picture).decode()
    for text in (" ".join(pages_of(sheets(plan))), page[page.index("<body>") :]):
        assert " --" not in text
        assert "docs/" not in text


def test_labels_take_pictures_of_any_shape() -> None:
    tall = BytesIO()
    Image.new("RGB", (20, 400)).save(tall, "JPEG")
    plan = make_plan(make_records([4]), PlanOptions())
    assert plan_pdf(plan, paper="a4", title="q", thumbnail=lambda photo: tall.getvalue())
