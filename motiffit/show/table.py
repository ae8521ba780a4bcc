"""Records as text for a person: one photo on one screen, or a few lines for each of many."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from motiffit.record import Message, Size, Sizing, Window
from motiffit.show.pile_table import not_counted_words, outcome_counts
from motiffit.show.rows import make_row
from motiffit.show.words import (
    clearance_words,
    edges_words,
    middle_words,
    motif_words,
    outcome_words,
    percent_words,
    reference_words,
    size_words,
    too_small_words,
    window_words,
    wrap_words,
)
from motiffit.units import Units, format_centimetres, format_inches, format_length

__all__ = [
    "CAUTIONS",
    "brief_text",
    "cautions_text",
    "headline",
    "how_text",
    "references_line",
    "sizing_text",
    "summary_text",
]

CAUTIONS = (
    "Lay a paper window of the finished size on the garment and look once more.",
    "Rotary cutter: fingers well back from the ruler's edge, guard closed after every cut.",
    "No hot iron straight on a print: press from the back, under a pressing cloth.",
)
"""What to mind before the first cut."""

_LABEL_WIDTH = 11
_LEAST_WIDTH = 40  # columns; below, words would stand one to a line
_SEVERITY_WORDS = {"error": "Reason", "warning": "Check", "note": "Note"}


def headline(sizing: Sizing) -> str:
    """Return the answer in one line, finished size first."""
    window = sizing.window
    if window is None:
        return outcome_words(sizing)
    words = window_words(window)
    if sizing.is_too_small:
        largest = "" if sizing.settings.place else "even the largest size, "
        return f"{outcome_words(sizing)}: {largest}{words}, {too_small_words(sizing)}"
    if sizing.outcome == "sized":
        return words.capitalize()
    if sizing.outcome == "no-motif":
        return f"No motif; the largest square that the cloth holds: {words}"
    return f"{outcome_words(sizing)}: {words}"


def sizing_text(sizing: Sizing, *, width: int = 80) -> str:
    """Return one screen on one photo: sizes first, what needs an eye, then why and how.

    Parameters
    ----------
    sizing
        The record.
    width
        Columns of the screen; longer lines are wrapped.
    """
    urgent = [message for message in sizing.messages if message.severity != "note"]
    notes = [message for message in sizing.messages if message.severity == "note"]
    blocks = [
        _fill(headline(sizing), width),
        _messages(urgent, width, indent="  "),
        _facts(sizing, width),
        _ruler(sizing, width),
        _sizes(sizing, width),
        _messages(notes, width, indent="  "),
        cautions_text([sizing], width=width),
    ]
    return "\n\n".join(block for block in blocks if block)


def brief_text(sizing: Sizing, *, name: str, width: int = 80) -> str:
    """Return a few lines on one photo of many: the answer, and what needs an eye."""
    line = f"{name}: {headline(sizing)}"
    if sizing.motifs:
        line += f" (motif {motif_words(sizing.motifs[0], sizing.settings.units, brief=True)})"
    urgent = [message for message in sizing.messages if message.severity != "note"]
    blocks = [_fill(line, width, rest="    "), _messages(urgent, width, indent="    ")]
    return "\n".join(block for block in blocks if block)


def summary_text(sizings: Sequence[Sizing]) -> str:
    """Return how many photos came out how, and how many squares of each size are proposed."""
    rows = [make_row(sizing, garment=sizing.photo) for sizing in sizings]
    counted = [f"{count} {words}" for words, count in outcome_counts(rows)]
    lines = [f"{len(sizings)} photos: {', '.join(counted)}"]
    windows = [s.window for s in sizings if s.motifs and s.window and not s.is_too_small]
    if windows:
        sizes = Counter((window.finished_mm, window.finished) for window in windows)
        counted = [f"{name}: {count}" for (_, name), count in sorted(sizes.items())]
        lines.append(f"Finished sizes: {', '.join(counted)}")
        lines.append(not_counted_words(rows))
    lines.append(references_line(sizings))
    return "\n".join(line for line in lines if line)


def references_line(sizings: Iterable[Sizing], *, width: int = 80) -> str:
    """Return by how many cards and squares of which side photos were measured; empty for none."""
    references = Counter(reference_words(sizing) for sizing in sizings if sizing.reference)
    counted = [
        f"{label.lower()} of {words} ({count})"
        for (label, words), count in sorted(references.items())
    ]
    return _fill(f"Measured by: {'; '.join(counted)}", width, rest="  ") if counted else ""


def cautions_text(sizings: Sequence[Sizing], *, width: int = 80) -> str:
    """Return what to mind before the first cut, where there is something to cut."""
    if not any(sizing.window and not sizing.is_too_small for sizing in sizings):
        return ""
    lines = (_fill(f"- {caution}", width, first="    ", rest="      ") for caution in CAUTIONS)
    return "\n".join(["  Before the first cut", *lines])


def how_text(sizing: Sizing, *, width: int = 80) -> str:
    """Return how the photo was measured: camera, garment, every motif."""
    facts: list[tuple[str, str]] = []
    if sizing.plane is not None:
        tilt, focal = sizing.plane.tilt_deg, sizing.plane.focal_px
        facts.append(("Camera", f"tilted by {tilt:.1f} degrees, focal length {focal:.0f} pixels"))
    if sizing.garment is not None:
        facts.append(
            ("Garment", f"turned by {sizing.garment.upright_deg:.1f} degrees in the photo")
        )
    for rank, motif in enumerate(sizing.motifs, start=1):
        words = motif_words(motif, sizing.settings.units)
        edges = edges_words(motif, sizing.settings.units)
        trust = percent_words(motif.trust)
        facts.append((f"Motif {rank}", f"{words}; {edges}; {trust} sure that it is the motif"))
    return "\n".join(_fact(label, words, width) for label, words in facts)


def _facts(sizing: Sizing, width: int) -> str:
    """List reference square, motif, clearances, certainty."""
    units, window = sizing.settings.units, sizing.window
    facts = [reference_words(sizing)] if sizing.reference else []
    if sizing.motifs:
        facts.append(("Motif", motif_words(sizing.motifs[0], units)))
    is_cut = sizing.says({"motif-cut"})
    if window is not None and window.clearance_mm is not None and not is_cut:
        facts.append(("To the seam", clearance_words(window.clearance_mm, units)))
    can_be_sure = not sizing.is_too_small and not is_cut
    if window is not None and window.p_clear is not None and can_be_sure:
        asked = format_length(sizing.settings.clearance_mm, units)
        sure = f"{percent_words(window.p_clear)} that {asked} or more stays clear on every side"
        if sizing.says({"motif-doubtful", "motif-maybe-none"}):
            sure += ", if the box is the motif and holds all of it"
        facts.append(("How sure", sure))
    return "\n".join(_fact(label, words, width) for label, words in facts)


def _ruler(sizing: Sizing, width: int) -> str:
    """Say what to tape off on the ruler, and where to lay it."""
    window, units = sizing.window, sizing.settings.units
    if window is None or sizing.is_too_small or sizing.says({"motif-cut"}):
        return ""
    if sizing.motifs:
        place = middle_words(window, sizing.motifs[0], units)
        where = f"Its middle lies {_half(window, units)} from each side: lay that point {place}"
    else:
        where = "Lay it where the cloth is best"
    taped = f"Tape off {_article(window.cut)} {window.cut} square."
    words = f"{taped} {where}, {_sides_words(sizing)}."
    return "  On the ruler\n" + _fill(words, width, first="    ", rest="    ")


def _sides_words(sizing: Sizing) -> str:
    """Say how the square is turned."""
    if sizing.settings.place is not None:
        return "turned as in the picture"
    return {
        "grain": "sides straight with the garment's grain",
        "motif": "sides straight with the motif",
    }[sizing.settings.turn]


def _article(length: str) -> str:
    """Return 'a' or 'an' before a length in figures."""
    return "an" if re.match(r"8|1[18]\b", length) else "a"


def _half(window: Window, units: Units) -> str:
    """Print half the cut size, finer than lengths are printed elsewhere: halves of marks occur."""
    half_mm = window.cut_mm / 2
    if units == "in":
        return format_inches(half_mm, finest=32)
    return format_centimetres(half_mm, finest=10)


def _sizes(sizing: Sizing, width: int) -> str:
    """List the size proposed between its neighbours; those farther off in one line."""
    sizes, window, units = sizing.sizes, sizing.window, sizing.settings.units
    if not sizes or window is None:
        return ""
    at = min(range(len(sizes)), key=lambda n: abs(sizes[n].finished_mm - window.finished_mm))
    first, last = max(at - 1, 0), at + 2
    pad = max(len(size.finished) for size in sizes[first:last])
    near = [
        _fill(
            size_words(size if number != at else _as_placed(size, window), units),
            width,
            first=f"  {'->' if number == at else '  '} {size.finished:<{pad}}  ",
            rest=" " * (pad + 7),
        )
        for number, size in enumerate(sizes[first:last], start=first)
    ]
    smaller = _names(sizes[:first], "smaller still", units, width)
    larger = _names(sizes[last:], "larger still", units, width)
    return "\n".join(["  Sizes of the set", *smaller, *near, *larger])


def _as_placed(size: Size, window: Window) -> Size:
    """Return the size proposed as it does where its square lies, be that off the motif's middle."""
    if window.clearance_mm is None or window.p_clear is None:
        return size
    return replace(size, least_clearance_mm=window.clearance_mm.least(), p_clear=window.p_clear)


def _names(sizes: Sequence[Size], words: str, units: Units, width: int) -> list[str]:
    """Name the sizes that need no line of their own."""
    if not sizes:
        return []
    numbers = ", ".join(size.finished.removesuffix(f" {units}") for size in sizes)
    return [_fill(f"{numbers} {units}: {words}", width, first="     ", rest="     ")]


def _messages(messages: Iterable[Message], width: int, *, indent: str) -> str:
    """Each message with what it is, wrapped."""
    return "\n".join(
        _fill(
            f"{_SEVERITY_WORDS[message.severity]}: {message.text}",
            width,
            first=indent,
            rest=indent + "  ",
        )
        for message in messages
    )


def _fact(label: str, words: str, width: int) -> str:
    """One labelled line, wrapped under its own words."""
    first = f"  {label:<{_LABEL_WIDTH}}  "
    return _fill(words, width, first=first, rest=" " * len(first))


def _fill(words: str, width: int, *, first: str = "", rest: str = "") -> str:
    """Wrap words to lines of a text."""
    return "\n".join(wrap_words(words, max(width, _LEAST_WIDTH), first=first, rest=rest))
