"""Colours as people see them, so that distances between them mean something."""

from math import cbrt

__all__ = ["parse_colour", "to_lab"]

# sRGB to CIE XYZ under D65, rows X, Y, Z (IEC 61966-2-1); white is the sum of each row
_TO_XYZ = (
    (0.4124, 0.3576, 0.1805),
    (0.2126, 0.7152, 0.0722),
    (0.0193, 0.1192, 0.9505),
)
_CUBE_EDGE = (6 / 29) ** 3


def parse_colour(text: str) -> tuple[int, int, int]:
    """Read ``#rrggbb``.

    Raises
    ------
    ValueError
        If the text is not such a colour.

    Examples
    --------
    >>> parse_colour("#ff8000")
    (255, 128, 0)
    """
    digits = text.removeprefix("#")
    if len(digits) != 6 or text == digits:
        raise ValueError(f"'{text}' is not a colour: write for instance '#5b7089'")
    try:
        red, green, blue = bytes.fromhex(digits)
    except ValueError as error:
        raise ValueError(f"'{text}' is not a colour: write for instance '#5b7089'") from error
    return red, green, blue


def to_lab(colour: str) -> tuple[float, float, float]:
    """Return lightness and the two colour axes of CIE L*a*b* (1976), white point D65.

    A distance of 2 is just seen; black and white are 100 apart.
    """
    linear = [_linear(channel / 255) for channel in parse_colour(colour)]
    x, y, z = (
        _cube_root(
            sum(factor * channel for factor, channel in zip(row, linear, strict=True)) / sum(row)
        )
        for row in _TO_XYZ
    )
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def _linear(channel: float) -> float:
    """Undo the sRGB curve (IEC 61966-2-1)."""
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4


def _cube_root(ratio: float) -> float:
    """Lightness curve of L*a*b*, straight near black."""
    if ratio > _CUBE_EDGE:
        return cbrt(ratio)
    return ratio / (3 * (6 / 29) ** 2) + 4 / 29
