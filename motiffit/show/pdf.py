"""True-scale drawing: pages measured in millimetres from their top left corner, y down."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from typing import Literal
from unicodedata import normalize

from reportlab.lib.units import mm as PT_PER_MM
from reportlab.lib.utils import ImageReader, simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from motiffit.record import Point
from motiffit.units import MM_PER_INCH, Units

__all__ = [
    "PAPER_MM",
    "PRINT_MARGIN_MM",
    "Paper",
    "Sheet",
    "draw_ruler",
    "in_font",
    "line_width_mm",
    "lines_of",
    "paragraph_height_mm",
    "usual_paper",
]

Paper = Literal["letter", "a4"]

PAPER_MM: dict[Paper, tuple[float, float]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
"""Width and height; US Letter is 8 1/2 x 11 in, A4 is that of ISO 216."""

PRINT_MARGIN_MM = 10.0
"""What is left free along the paper's edge; household printers reach to 4-6 mm."""

_FONT, _BOLD, _FIXED = "Helvetica", "Helvetica-Bold", "Courier"
# letters with a bar or a hook that is no accent, so that no decomposition frees them of it
_BARRED = {"\u0141": "L", "\u0142": "l", "\u0110": "D", "\u0111": "d", "\u0131": "i"}
_MM_PER_PT = 25.4 / 72
_LINE_SPACING = 1.3

# Ticks per unit of length, and the length in mm of every n-th tick, longest first.
_TICKS: dict[Units, tuple[int, dict[int, float]]] = {
    "in": (16, {16: 5.5, 8: 4.4, 4: 3.4, 2: 2.5, 1: 1.6}),
    "cm": (10, {10: 5.5, 5: 4.0, 1: 2.2}),
}
_UNIT_MM: dict[Units, float] = {"in": float(MM_PER_INCH), "cm": 10.0}


class Sheet:
    """A PDF document drawn page by page at true scale.

    All lengths are millimetres from the page's top left corner, y down; ``grey`` runs from 0
    (black) to 1 (white). Viewers are asked to print without scaling.

    Parameters
    ----------
    paper : {'letter', 'a4'}
        Size of every page, upright.
    title
        The document's title, shown by viewers.
    subject
        Its subject in the metadata, by which a program may know it again.
    """

    def __init__(self, paper: Paper, *, title: str, subject: str = "") -> None:
        self.width_mm, self.height_mm = PAPER_MM[paper]
        self._buffer = BytesIO()
        self._shift_mm = (0.0, 0.0)
        size = (self.width_mm * PT_PER_MM, self.height_mm * PT_PER_MM)
        # invariant: the same sheet gives the same bytes, without date or user
        self._canvas = Canvas(self._buffer, pagesize=size, invariant=1)
        self._canvas.setTitle(title)
        if subject:
            self._canvas.setSubject(subject)
        self._canvas.setCreator("motiffit")
        self._canvas.setViewerPreference("PrintScaling", "None")

    @contextmanager
    def shifted(self, x: float, y: float) -> Iterator[None]:
        """Measure from (x, y) instead of the present origin."""
        before = self._shift_mm
        self._shift_mm = (before[0] + x, before[1] + y)
        try:
            yield
        finally:
            self._shift_mm = before

    def line(
        self,
        points: Sequence[Point],
        *,
        width_mm: float = 0.2,
        grey: float = 0.0,
        dash_mm: Sequence[float] = (),
        closed: bool = False,
        fill_grey: float | None = None,
    ) -> None:
        """Draw a line through the points, or an outline, filled or not."""
        path = self._canvas.beginPath()
        path.moveTo(*self._pt(points[0]))
        for point in points[1:]:
            path.lineTo(*self._pt(point))
        if closed:
            path.close()
        self._pen(width_mm, grey, dash_mm)
        self._fill(fill_grey)
        self._canvas.drawPath(path, stroke=1, fill=int(fill_grey is not None))

    def circle(
        self,
        centre: Point,
        radius_mm: float,
        *,
        width_mm: float = 0.2,
        fill_grey: float | None = None,
    ) -> None:
        """Draw a circle, filled or not."""
        self._pen(width_mm, 0.0, ())
        self._fill(fill_grey)
        self._canvas.circle(
            *self._pt(centre), radius_mm * PT_PER_MM, stroke=1, fill=int(fill_grey is not None)
        )

    def solid(self, boxes: Sequence[tuple[float, float, float, float]]) -> None:
        """Fill boxes (x, y, width, height) black, as one shape.

        Boxes that share an edge leave no seam, because one path is painted, not several.
        """
        path = self._canvas.beginPath()
        for x, y, width, height in boxes:
            left, bottom = self._pt((x, y + height))
            path.rect(left, bottom, width * PT_PER_MM, height * PT_PER_MM)
        self._fill(0.0)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def text(
        self,
        where: Point,
        words: str,
        *,
        size_pt: float = 9.0,
        bold: bool = False,
        fixed: bool = False,
        align: Literal["left", "centre", "right"] = "left",
        grey: float = 0.0,
    ) -> None:
        """Write one line whose baseline starts, is centred, or ends at a point.

        ``fixed`` is for what is to be typed as it stands.
        """
        self._fill(grey)
        self._canvas.setFont(_FIXED if fixed else _BOLD if bold else _FONT, size_pt)
        draw = {
            "left": self._canvas.drawString,
            "centre": self._canvas.drawCentredString,
            "right": self._canvas.drawRightString,
        }[align]
        draw(*self._pt(where), in_font(words))

    def paragraph(
        self, where: Point, words: str, *, width_mm: float, size_pt: float = 9.0, bold: bool = False
    ) -> float:
        """Write wrapped lines from the first baseline down; return where the next would lie."""
        x, y = where
        font = _BOLD if bold else _FONT
        for words_of_line in simpleSplit(words, font, size_pt, width_mm * PT_PER_MM):
            self.text((x, y), words_of_line, size_pt=size_pt, bold=bold)
            y += size_pt * _MM_PER_PT * _LINE_SPACING
        return y

    def image(self, where: Point, content: bytes, *, width_mm: float, height_mm: float) -> None:
        """Put a JPEG or PNG file into a rectangle, given by its top left corner."""
        left, bottom = self._pt((where[0], where[1] + height_mm))
        self._canvas.drawImage(
            ImageReader(BytesIO(content)),
            left,
            bottom,
            width=width_mm * PT_PER_MM,
            height=height_mm * PT_PER_MM,
        )

    def new_page(self) -> None:
        """Begin another page."""
        self._canvas.showPage()

    def to_bytes(self) -> bytes:
        """Close the document and return it; draw nothing afterwards."""
        self._canvas.save()
        return self._buffer.getvalue()

    def _pt(self, point: Point) -> Point:
        """Turn mm from the top left, y down, into the PDF's points from the bottom left."""
        x, y = point[0] + self._shift_mm[0], point[1] + self._shift_mm[1]
        return x * PT_PER_MM, (self.height_mm - y) * PT_PER_MM

    def _pen(self, width_mm: float, grey: float, dash_mm: Sequence[float]) -> None:
        """Set how lines are stroked."""
        self._canvas.setLineWidth(width_mm * PT_PER_MM)
        self._canvas.setStrokeGray(grey)
        self._canvas.setDash([length * PT_PER_MM for length in dash_mm])

    def _fill(self, grey: float | None) -> None:
        """Set how shapes and letters are filled."""
        if grey is not None:
            self._canvas.setFillGray(grey)


def in_font(words: str) -> str:
    """Return words in letters that the PDF's built-in fonts have: Western European ones.

    Others lose their accents; those that are still lacking become question marks.

    Examples
    --------
    >>> in_font("\u0141ucja \u0160\u00e9 \u8863") == "Lucja \u0160\u00e9 ?"
    True
    """
    return "".join(letter if _has_glyph(letter) else _plain(letter) for letter in words)


def _has_glyph(letter: str) -> bool:
    """Whether the built-in fonts draw a letter."""
    return letter.encode("cp1252", "ignore") != b""


def _plain(letter: str) -> str:
    """Letter without what the fonts lack."""
    if letter in _BARRED:
        return _BARRED[letter]
    return "".join(part for part in normalize("NFKD", letter) if _has_glyph(part)) or "?"


def lines_of(words: str, *, width_mm: float, size_pt: float, bold: bool = False) -> list[str]:
    """Wrap words; a word that is wider than the line goes on in the next."""
    wrapped = simpleSplit(words, _BOLD if bold else _FONT, size_pt, width_mm * PT_PER_MM)
    lines = []
    for line in wrapped:
        rest = line
        while line_width_mm(rest, size_pt=size_pt, bold=bold) > width_mm and len(rest) > 1:
            kept = len(rest) - 1
            while kept > 1 and line_width_mm(rest[:kept], size_pt=size_pt, bold=bold) > width_mm:
                kept -= 1
            lines.append(rest[:kept])
            rest = rest[kept:]
        lines.append(rest)
    return lines


def line_width_mm(words: str, *, size_pt: float, bold: bool = False) -> float:
    """Return how wide `Sheet.text` writes words."""
    return float(stringWidth(words, _BOLD if bold else _FONT, size_pt)) / float(PT_PER_MM)


def usual_paper(units: Units) -> Paper:
    """Return the paper that goes with units."""
    return "letter" if units == "in" else "a4"


def paragraph_height_mm(words: str, *, width_mm: float, size_pt: float) -> float:
    """Return how high `Sheet.paragraph` writes words."""
    lines = lines_of(words, width_mm=width_mm, size_pt=size_pt)
    return len(lines) * size_pt * _MM_PER_PT * _LINE_SPACING


def draw_ruler(
    sheet: Sheet, where: Point, *, units: Units, count: int, hanging: bool = True
) -> None:
    """Draw a ruler of ``count`` inches (in sixteenths) or centimetres (in millimetres).

    Parameters
    ----------
    sheet
        The page to draw on.
    where
        Its zero, on the edge from which the ticks start.
    units : {'in', 'cm'}
        What it measures.
    count
        How many whole units.
    hanging
        Whether the ticks hang down from the edge or stand on it.
    """
    x, y = where
    down = 1 if hanging else -1
    per_unit, lengths = _TICKS[units]
    step_mm = _UNIT_MM[units] / per_unit
    for number in range(count * per_unit + 1):
        length = next(length for every, length in lengths.items() if number % every == 0)
        at = x + number * step_mm
        sheet.line([(at, y), (at, y + down * length)], width_mm=0.15)
    sheet.line([(x, y), (x + count * _UNIT_MM[units], y)], width_mm=0.15)
    label_y = y + 8.6 if hanging else y - 6.6
    for whole in range(1, count + 1):
        sheet.text((x + whole * _UNIT_MM[units], label_y), str(whole), size_pt=8, align="centre")
    sheet.text((x + 0.8, label_y), units, size_pt=8)
