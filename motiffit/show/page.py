"""The page of a pile: one file that works without a network, on a phone, on paper, by keyboard.

Pictures are inside the file. Its own content security policy names the one script and the one
style that may run, by their hash, so that nothing in a file's name or a note ever can.
"""

from base64 import b64encode
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from motiffit.messages import MESSAGES
from motiffit.show.pile_table import not_counted_words, outcome_counts, row_counted_as
from motiffit.show.rows import Row, needing_an_eye, size_counts
from motiffit.show.shell import inline, templates
from motiffit.show.table import CAUTIONS
from motiffit.show.words import (
    COUNT_WORDS,
    Counted,
    clearance_words,
    motif_words,
    outcome_words,
    percent_words,
    reference_words,
)

__all__ = ["page_parts"]

_ICONS: dict[Counted, str] = {
    "sized": "\u2713",
    "accepted": "\u2713",
    "check": "!",
    "cuts": "\u2715",
    "no-motif": "\u2013",
    "refused": "?",
}
_OF_THE_CAMERA = {
    "focal-unknown": "{count} photos do not say which lens took them; a usual phone camera is "
    "assumed."
}
"""Notes that a whole pile from one camera shares, in words for all its photos together."""

_NO_SIZE = "no size"
_LAST = 10**6  # sorts behind every size and every urgency


@dataclass(frozen=True, slots=True, kw_only=True)
class _Card:
    """What the page shows of a photo."""

    anchor: str
    photo: str
    kind: Counted
    badge: str
    is_accepted: bool
    needs_an_eye: bool
    counts: bool
    why_not: str
    size: str
    finished: str
    cut: str
    carries: tuple[str, ...]
    note: str
    brief: str
    reasons: tuple[str, ...]
    remarks: tuple[str, ...]
    reference: tuple[str, str]
    motif: str
    clearance: str
    sure: str
    thumbnail: str
    link: str | None
    alt: str


def page_parts(
    rows: Sequence[Row],
    *,
    title: str,
    gone: Sequence[str],
    thumbnail: Callable[[str], bytes | None],
    link: Callable[[str], str | None],
) -> Iterator[bytes]:
    """Yield the page piece by piece, so that its pictures never all lie in memory.

    Parameters
    ----------
    rows
        One line per photo, those of one garment together.
    title
        What the pile is called.
    gone
        Names of photos that were sized but are no longer there.
    thumbnail
        Gives the small picture of a photo as a JPEG file, None when there is none.
    link
        Gives the address of its large picture, relative to the page; None when there is none.
    """
    anchors = {row.photo: f"photo-{number}" for number, row in enumerate(rows, start=1)}
    shared = _said_of_many(rows)
    urgencies = {row.photo: place for place, row in enumerate(needing_an_eye(rows))}
    garments = (
        {
            "name": group[0].garment,
            "photos": [
                _card(row, anchors[row.photo], thumbnail(row.photo), link(row.photo), set(shared))
                for row in group
            ],
            "urgency": min(urgencies.get(row.photo, _LAST) for row in group),
            "size_mm": min(_size_mm(row) for row in group),
        }
        for group in _groups(rows)
    )
    template = templates().get_template("pile_page.html")
    for part in template.generate(
        **_shell(),
        **_overview(rows, anchors),
        title=title,
        gone=gone,
        garments=garments,
        shared=shared,
    ):
        # a name that is no valid text holds lone surrogates
        yield part.encode("utf-8", "replace")


def _shell() -> dict[str, Any]:
    """Return what does not depend on the pile."""
    return {
        "icons": _ICONS,
        "cautions": CAUTIONS,
        **inline("script", "pile_page.js"),
        **inline("style", "pile_page.css"),
    }


def _overview(rows: Sequence[Row], anchors: dict[str, str]) -> dict[str, Any]:
    """Return what stands above the garments: counts, what needs an eye, sizes, filters."""
    kinds = Counter(row_counted_as(row) for row in rows)
    sizes = Counter((_size_mm(row), _size_words(row)) for row in rows)
    return {
        "photo_count": len(rows),
        "garment_count": sum(1 for _ in _groups(rows)),
        "outcomes": outcome_counts(rows),
        "filter_kinds": [
            (kind, words, kinds[kind]) for kind, words in COUNT_WORDS.items() if kinds[kind]
        ],
        "filter_sizes": [(words, count) for (_, words), count in sorted(sizes.items())],
        "eye": [
            {
                "anchor": anchors[row.photo],
                "photo": row.photo,
                "kind": row_counted_as(row),
                "badge": outcome_words(row.sizing),
                "finished": row.sizing.window.finished if row.sizing.window else "",
                "reasons": _brief(row),
            }
            for row in needing_an_eye(rows)
        ],
        "sizes": size_counts(rows),
        "not_counted": not_counted_words(rows),
    }


def _said_of_many(rows: Sequence[Row]) -> dict[str, str]:
    """Return notes that several photos share and that nothing can be done about, by code."""
    told = Counter(m.code for row in rows for m in row.sizing.messages if m.code in _OF_THE_CAMERA)
    return {
        code: f"{_OF_THE_CAMERA[code].format(count=count)} {MESSAGES[code].cure}"
        for code, count in told.items()
        if count > 1
    }


def _brief(row: Row) -> str:
    """Say in a few words what needs an eye; of a photo not measured all there is to say."""
    if row.sizing.outcome == "refused":
        return " ".join(message.page_text for message in row.reasons)
    return row.brief_reasons


def _groups(rows: Sequence[Row]) -> Iterator[list[Row]]:
    """Yield the photos of each garment."""
    for _, group in groupby(rows, key=lambda row: row.garment.casefold()):
        yield list(group)


def _size_mm(row: Row) -> float:
    return row.sizing.window.finished_mm if row.sizing.window else float(_LAST)


def _size_words(row: Row) -> str:
    return row.sizing.window.finished if row.sizing.window else _NO_SIZE


def _card(
    row: Row, anchor: str, thumbnail: bytes | None, link: str | None, shared: set[str]
) -> _Card:
    """Put one photo in words."""
    sizing, window, units = row.sizing, row.sizing.window, row.sizing.settings.units
    drawn = f" with the {window.finished} square drawn in" if window else ""
    sure = window.p_clear if window and not sizing.says({"motif-cut"}) else None
    return _Card(
        anchor=anchor,
        photo=row.photo,
        kind=row_counted_as(row),
        badge=outcome_words(sizing),
        is_accepted=row.is_accepted,
        needs_an_eye=row.needs_an_eye,
        counts=row.counts,
        why_not="you left it out" if row.keep is False else "another photo of this garment is",
        size=_size_words(row),
        finished=window.finished if window else "",
        cut=window.cut if window else "",
        carries=row.flags,
        note=row.note,
        brief=_brief(row),
        reasons=tuple(message.page_text for message in row.reasons),
        remarks=tuple(
            message.page_text
            for message in sizing.messages
            if message.severity == "note" and message.code not in shared
        ),
        reference=reference_words(sizing),
        motif=motif_words(sizing.motifs[0], units) if sizing.motifs else "",
        clearance=clearance_words(window.clearance_mm, units)
        if window and window.clearance_mm
        else "",
        sure="" if sure is None else percent_words(sure),
        thumbnail=b64encode(thumbnail).decode() if thumbnail else "",
        link=link,
        alt=f"{row.photo}{drawn}",
    )
