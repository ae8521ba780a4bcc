"""What was wished of the quilt on the review page: it holds where nothing else is typed."""

from collections.abc import Collection, Iterator
from dataclasses import fields, replace

from motiffit.cli.options import unlike
from motiffit.review.form import PART_FABRICS, QuiltForm

__all__ = ["form_words", "without_typed"]

_SIZE = ("size", "bed", "drop")
_FIELDS = {
    # rows and columns count more than a size: those of the page must not outdo one that is typed,
    # nor its size fill in for what typed ones leave open
    "quilt_size": (*_SIZE, "rows", "columns"),
    "bed": (*_SIZE, "rows", "columns"),
    "clockwise": ("direction",),
    "rows": ("rows", *_SIZE),
    "columns": ("columns", *_SIZE),
}
"""Fields of the form of which an option says otherwise, where their names differ."""


def without_typed(form: QuiltForm, typed: Collection[str], parts: Collection[str]) -> QuiltForm:
    """Return the form, emptied of what was typed.

    Parameters
    ----------
    form
        As it was filled in on the page.
    typed
        Names of the command's parameters that were given.
    parts
        Words of ``--part``, such as ``binding=navy``.
    """
    names = {name for option in typed for name in _FIELDS.get(option, (option,))}
    names |= {f"{words.partition('=')[0].strip()}_fabric" for words in parts}
    usual = QuiltForm()
    return replace(
        form, **{one.name: getattr(usual, one.name) for one in fields(form) if one.name in names}
    )


def form_words(form: QuiltForm) -> str:
    """Name what a form asks for beside the usual."""
    return "; ".join(_words(form))


def _words(form: QuiltForm) -> Iterator[str]:
    """Yield each wish in a few words."""
    for field, value in unlike(form, QuiltForm()).items():
        label = field.replace("_", " ")
        if field == "fabrics":
            yield f"{label} {', '.join(name for name, _ in value)}"
        elif field in PART_FABRICS:
            yield f"{label} {value[0]}"
        else:
            yield label if value is True else f"{label} {value}"
