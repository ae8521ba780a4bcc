"""Words and numbers in columns, for a screen."""

from collections.abc import Sequence

__all__ = ["column_text"]


def column_text(lines: Sequence[Sequence[str]], *, words: int) -> str:
    """Return lines of cells one under another.

    Parameters
    ----------
    lines
        Cells, as many in every line.
    words
        How many columns, from the left, hold words and stand to the left; the rest are numbers.

    Examples
    --------
    >>> print(column_text([["Size", "Count"], ["4 in", "12"]], words=1))
      Size  Count
      4 in     12
    """
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    return "\n".join(
        "  "
        + "  ".join(
            cell.ljust(width) if number < words else cell.rjust(width)
            for number, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    )
