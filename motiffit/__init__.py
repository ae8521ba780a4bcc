"""Sizes the centre of a log cabin block from a photo of an outgrown garment.

>>> from motiffit import Settings, size_photo
>>> size_photo("no/such/photo.jpg", Settings(units="cm")).outcome
'refused'
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from motiffit.errors import MotiffitError, UsageError
    from motiffit.record import Sizing
    from motiffit.settings import Settings
    from motiffit.sizing import size_photo

__all__ = ["MotiffitError", "Settings", "Sizing", "UsageError", "size_photo"]

_HOMES = {
    "MotiffitError": "motiffit.errors",
    "Settings": "motiffit.settings",
    "Sizing": "motiffit.record",
    "UsageError": "motiffit.errors",
    "size_photo": "motiffit.sizing",
}


def __getattr__(name: str) -> object:
    """Import a public name when it is first asked for, so that the commands start at once."""
    if name not in _HOMES:
        raise AttributeError(f"module 'motiffit' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
