"""A plan as plain values for programs: exact lengths become numbers with a twin in words."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

from motiffit.quilt.lengths import format_cut
from motiffit.units import Units

__all__ = ["to_plain"]

_LENGTH = "_mm"


def to_plain(value: Any, units: Units) -> Any:
    """Return JSON-ready values.

    A field ``width_mm`` becomes a number of millimetres, and beside it ``width``, the same in
    words. Fractions elsewhere become numbers.

    Raises
    ------
    ValueError
        If a field beside it has the name of the twin already.

    Examples
    --------
    >>> to_plain({"side_mm": Fraction(1143, 10), "pieces": (Fraction(1, 4), 3)}, "in")
    {'side_mm': 114.3, 'side': '4 1/2 in', 'pieces': [0.25, 3]}
    """
    if is_dataclass(value):
        pairs = {field.name: getattr(value, field.name) for field in fields(value)}
        return to_plain(pairs, units)
    if isinstance(value, Mapping):
        plain: dict[str, Any] = {}
        for name, item in value.items():
            plain[name] = to_plain(item, units)
            if name.endswith(_LENGTH) and _is_length(item):
                if name.removesuffix(_LENGTH) in value:
                    raise ValueError(f"two meanings of {name.removesuffix(_LENGTH)}")
                plain[name.removesuffix(_LENGTH)] = _words(item, units)
        return plain
    if isinstance(value, tuple | list):
        return [to_plain(item, units) for item in value]
    return float(value) if isinstance(value, Fraction) else value


def _is_length(value: Any) -> bool:
    """Whether a value is an exact length, or several."""
    if isinstance(value, tuple):
        return bool(value) and all(isinstance(item, Fraction) for item in value)
    return isinstance(value, Fraction)


def _words(value: Any, units: Units) -> Any:
    """Print a length, or several."""
    if isinstance(value, tuple):
        return [format_cut(item, units) for item in value]
    return format_cut(value, units)
