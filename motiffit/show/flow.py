"""Pages that fill from the top down: headings, paragraphs, lists to tick."""

from collections.abc import Sequence

from motiffit.show.pdf import Sheet, line_width_mm, lines_of

__all__ = ["MARGIN_MM", "Flow", "shorten"]

MARGIN_MM = 12.0
_FOOT_MM = 9.0  # from the paper's lower edge to the running foot
_BOX_MM = 3.6
_MM_PER_PT = 25.4 / 72
_LINE_SPACING = 1.3


def shorten(words: str, *, width_mm: float, size_pt: float, bold: bool = False) -> str:
    """Return words that fit on a line: too long ones lose their middle."""

    def is_wide(text: str) -> bool:
        return line_width_mm(text, size_pt=size_pt, bold=bold) > width_mm

    kept = len(words)
    text = words
    while is_wide(text) and kept > 1:
        kept -= 1
        start, end = kept - kept // 3, kept // 3
        text = f"{words[:start]}\u2026{words[len(words) - end :]}"
    return text


class Flow:
    """A place on a page that moves down as things are written.

    Parameters
    ----------
    sheet
        The document; its present page is begun anew by `start_page`.
    running
        What stands at the foot of every page, before the page's number.
    """

    def __init__(self, sheet: Sheet, *, running: str) -> None:
        self.sheet = sheet
        self.width_mm = sheet.width_mm - 2 * MARGIN_MM
        self.y = MARGIN_MM
        self._running = running
        self.page = 0

    @property
    def bottom_mm(self) -> float:
        """Lowest place that may be written to."""
        return self.sheet.height_mm - _FOOT_MM - 6.0

    def start_page(self) -> None:
        """Begin a page, with its foot."""
        if self.page:
            self.sheet.new_page()
        self.page += 1
        self.y = MARGIN_MM
        foot = (self.sheet.width_mm / 2, self.sheet.height_mm - _FOOT_MM)
        words = f"{self._running}, page {self.page}"
        self.sheet.text(foot, words, size_pt=8, align="centre", grey=0.3)

    def part(self, words: str, *, room_mm: float) -> None:
        """Begin a part of the plan, on the page at hand where so much room is left."""
        if not self.page or self.y + room_mm > self.bottom_mm:
            self.start_page()
        elif self.y > MARGIN_MM:
            self.y += 6.0
            ends = [(MARGIN_MM, self.y), (MARGIN_MM + self.width_mm, self.y)]
            self.sheet.line(ends, width_mm=0.3, grey=0.5)
            self.y += 2.0
        self.heading(words)

    def need(self, height_mm: float) -> None:
        """Begin another page unless so much room is left."""
        if self.y + height_mm > self.bottom_mm:
            self.start_page()

    def skip(self, height_mm: float) -> None:
        """Leave room."""
        self.y += height_mm

    def heading(self, words: str) -> None:
        """Write what a page or part is about."""
        self.need(24.0)
        self.y += 7.0
        self.sheet.text((MARGIN_MM, self.y), words, size_pt=18, bold=True)
        self.y += 4.0

    def subheading(self, words: str, *, keep_mm: float = 14.0) -> None:
        """Write what follows next, with room for some of it."""
        self.need(9.0 + keep_mm)
        self.y += 8.0
        self.sheet.text((MARGIN_MM, self.y), words, size_pt=13, bold=True)
        self.y += 2.0

    def paragraph(
        self, words: str, *, size_pt: float = 11.0, bold: bool = False, indent_mm: float = 0.0
    ) -> None:
        """Write wrapped lines."""
        width = self.width_mm - indent_mm
        step = size_pt * _MM_PER_PT * _LINE_SPACING
        lines = lines_of(words, width_mm=width, size_pt=size_pt, bold=bold)
        for line in lines:
            self.need(step)
            self.y += step
            self.sheet.text((MARGIN_MM + indent_mm, self.y), line, size_pt=size_pt, bold=bold)
        self.y += 1.2

    def ticks(
        self, count: int, cells: Sequence[str], stops_mm: Sequence[float], *, size_pt: float = 11.0
    ) -> None:
        """Write boxes to tick and, at stops from the left margin, one cell each; cells wrap.

        The first stop must leave room for the boxes, which are as many as things to tick.
        """
        ends = [*stops_mm[1:], self.width_mm]
        wrapped = [
            lines_of(cell, width_mm=end - stop - 2.0, size_pt=size_pt)
            for cell, stop, end in zip(cells, stops_mm, ends, strict=True)
        ]
        per_row = max(1, int((stops_mm[0] - 1.0) / (_BOX_MM + 1.2)))
        step = size_pt * _MM_PER_PT * _LINE_SPACING + 0.9
        rows = max(max(map(len, wrapped)), -(-count // per_row))
        self.need(rows * step + 1.0)
        self.draw_boxes((MARGIN_MM, self.y + step), count, per_row, step)
        for cell, stop in zip(wrapped, stops_mm, strict=True):
            for number, line in enumerate(cell, start=1):
                where = (MARGIN_MM + stop, self.y + number * step)
                self.sheet.text(where, line, size_pt=size_pt)
        self.y += rows * step + 1.0

    def draw_boxes(
        self, where: tuple[float, float], count: int, per_row: int, step_mm: float
    ) -> None:
        """Draw boxes to tick; ``where`` is the lower left corner of the first."""
        for number in range(count):
            x = where[0] + (number % per_row) * (_BOX_MM + 1.2)
            y = where[1] + (number // per_row) * step_mm
            corners = [(x, y), (x + _BOX_MM, y), (x + _BOX_MM, y - _BOX_MM), (x, y - _BOX_MM)]
            self.sheet.line(corners, closed=True, width_mm=0.25)
