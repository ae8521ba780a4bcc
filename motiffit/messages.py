"""Every message that a record can carry, declared once: code, severity, text and cure.

Texts are Python format strings; the values come from whoever raises the message.
"""

from dataclasses import dataclass
from typing import Literal

__all__ = ["MACHINE_REFUSALS", "MESSAGES", "MessageKind", "Severity", "text_of"]

Severity = Literal["note", "warning", "error"]

MACHINE_REFUSALS = frozenset(
    {"file-denied", "out-of-memory", "photo-missing", "took-too-long", "worker-died"}
)
"""Refusals that say more about the computer at that moment than about the photo."""


@dataclass(frozen=True, slots=True)
class MessageKind:
    """One kind of message.

    Attributes
    ----------
    severity : {'note', 'warning', 'error'}
        ``error`` makes the outcome ``refused``, ``warning`` makes it ``check``.
    text
        What was seen, with placeholders.
    cure
        What to do next; empty only for a note that needs nothing.
    page_cure
        The same for a page or a sheet, where no option can be typed; None where it needs no other
        words. It has no placeholders.
    """

    severity: Severity
    text: str
    cure: str
    page_cure: str | None = None


def _error(text: str, cure: str, page_cure: str | None = None) -> MessageKind:
    return MessageKind("error", text, cure, page_cure)


def _warning(text: str, cure: str, page_cure: str | None = None) -> MessageKind:
    return MessageKind("warning", text, cure, page_cure)


def _note(text: str, cure: str = "", page_cure: str | None = None) -> MessageKind:
    return MessageKind("note", text, cure, page_cure)


MESSAGES: dict[str, MessageKind] = {
    # photo
    "photo-missing": _error("There is no such file.", "Check the name and the folder."),
    "photo-empty": _error(
        "The file is empty.", "Copy it from the camera again; it may have been cut off."
    ),
    "photo-unreadable": _error(
        "The file cannot be read as a picture ({reason}).",
        "Copy it again, or save it as JPEG from a photo program.",
    ),
    "photo-truncated": _error(
        "The picture is cut off: part of the file is missing.", "Copy it from the camera again."
    ),
    "photo-format": _error(
        "Pictures of the format {format} are not read.", "Save it as JPEG, PNG, WebP, TIFF or HEIC."
    ),
    "photo-too-large": _error(
        "The file has {megabytes:.1f} MB, more than is read.",
        "Save it at {limit_megabytes:.0f} MB or less, for instance as JPEG.",
    ),
    "photo-too-many-pixels": _error(
        "The picture has {megapixels:.1f} million pixels, more than is read.",
        "Save it at {limit_megapixels:.0f} million pixels or less.",
    ),
    "photo-too-small": _error(
        "The picture is only {width} x {height} pixels.",
        "Use the photo as it came from the camera, not a preview.",
    ),
    "file-denied": _error(
        "The file may not be read ({reason}).", "Change its permissions, or copy it elsewhere."
    ),
    # reference
    "no-reference": _error(
        "No reference square was found.",
        "Lay the printed card flat beside the garment, all of it in frame and well lit. For a "
        "plain square of paper, say how large it is with --side.",
        "Lay the printed card flat beside the garment, all of it in frame and well lit, and take "
        "the photo again.",
    ),
    "reference-several": _error(
        "{count} reference squares are in the photo, so it is not clear which one counts.",
        "Leave one card in frame and take the photo again.",
    ),
    "reference-cut": _error(
        "The reference square is cut off by the edge of the photo.",
        "Step back until the whole card with its white margin is in frame.",
    ),
    "reference-too-small": _error(
        "The reference square is only {side_px:.0f} pixels wide; {least_px:.0f} are needed.",
        "Go closer, use the photo at full size, or print a larger card.",
    ),
    "reference-too-oblique": _error(
        "The reference square is seen at {tilt_deg:.0f} degrees, too much from the side.",
        "Hold the phone flat above the table, so that it looks straight down.",
    ),
    "reference-unclear": _error(
        "The edges of the reference square are not straight and sharp enough to measure from.",
        "Lay it flat, out of glare and shadow, and hold the phone still.",
    ),
    "reference-unread": _error(
        "A card is in the photo, but its pattern cannot be read.",
        "Lay it flat with nothing on it, out of glare and shadow, and hold the phone still; take "
        "it away to measure by a plain square.",
    ),
    "reference-unknown-side": _error(
        "The card's marker (id {marker_id}) does not say how large it was printed.",
        "Measure the black square and give it with --side, or print a card with 'motiffit card'.",
        "Print the card anew with 'motiffit card' and take the photo again.",
    ),
    "reference-small": _warning(
        "The reference square is only {side_px:.0f} pixels wide, so the sizes are less certain.",
        "Go closer so that the garment and the card fill the frame.",
    ),
    "reference-glare": _warning(
        "Part of the reference square's edge is washed out or hidden ({percent:.0f} % of it).",
        "Move the card out of glare and shadow, with nothing lying on it.",
    ),
    "reference-covered": _warning(
        "Something lies over an edge of the card's black square; the sizes rest on what shows of "
        "the pattern in it.",
        "Lay the card where nothing covers it, its white margin in view all round, and take the "
        "photo again.",
    ),
    "reference-bent": _warning(
        "The reference square does not lie flat, is not square, or has an edge covered.",
        "Press it flat with nothing on it, or glue it on cardboard.",
    ),
    "reference-in-the-way": _warning(
        "The {kind} lies on the motif or on the square to be cut: what is under it is not seen, "
        "and the motif may be larger than its box.",
        "Lay it on the table beside the garment, near the motif, and take the photo again.",
    ),
    "reference-on-square": _warning(
        "The {kind} lies on the square to be cut: what is under it is not seen.",
        "Lay it on the table beside the garment and take the photo again, or lift it and look.",
    ),
    "reference-on-garment": _warning(
        "No motif was found, but the {kind} lies on the garment and may hide one.",
        "Lay it on the table beside the garment and take the photo again, or lift it and look.",
    ),
    "reference-unusual": _warning(
        "The card's code says that its black square is {side}, a size in which cards are hardly "
        "ever printed: it may be a marker of another kind, and then all sizes here are wrong.",
        "Measure the black square and give it with --side.",
        "Measure the black square, and size the pile with that as its side.",
    ),
    "reference-doubtful": _warning(
        "With a {kind} of {side} the garment would be {length} long or wide, and clothes are "
        "hardly ever so {how}: the {kind} may be of another size, and then all sizes here are "
        "wrong.",
        "Measure the square's side and give it with --side.",
        "Measure the square's side, and size the pile with it.",
    ),
    # plane
    "reference-side-said": _note(
        "The card's code says that its black square is {printed}; it counts as {side}, as said.",
        "If the code is right, size the photo again without --side: it holds for one card alone.",
        "If the code is right, take the side away; one given for a pile holds for every card.",
    ),
    "focal-unknown": _note(
        "The photo does not say which lens took it; a usual phone camera is assumed.",
        "Use the photo as it came from the camera, with its camera data.",
    ),
    "tilted": _warning(
        "The camera was tilted by {tilt_deg:.0f} degrees, so the sizes are less certain.",
        "Hold the phone flat above the garment, so that it looks straight down.",
    ),
    "far-from-reference": _warning(
        "The motif lies far from the reference square, so its size is less certain.",
        "Lay the card closer to the motif.",
    ),
    # cloth
    "garment-unclear": _warning(
        "The garment's outline could not be told from what it lies on.",
        "Lay it on something of another colour, or check yourself that the cloth is wide enough.",
    ),
    "garment-cut": _note(
        "The garment reaches the edge of the photo.",
        "Step back if the motif is near that edge.",
    ),
    # motif
    "no-motif": _note(
        "No motif was found: the cloth looks plain, striped or printed all over. "
        "The largest square that fits is proposed where there is one.",
        "If there is a motif, point at it with --outline.",
        "If there is a motif, draw a box round it.",
    ),
    "no-motif-said": _note(
        "You said that there is no motif. "
        "The largest square that fits is proposed where there is one."
    ),
    "motif-doubtful": _warning(
        "It is not certain that the box is the motif and holds all of it.",
        "Look at the picture; if it does not, draw the box yourself on the page of 'motiffit "
        "review' or with --outline.",
        "Drag the box's edges until it holds the whole motif and no more.",
    ),
    "motif-maybe-none": _warning(
        "There may be no motif: a label, a crease or a stain can look like one.",
        "Look at the picture; if it shows none, say --no-motif. If the box does not hold all of a "
        "motif, draw it yourself on the page of 'motiffit review' or with --outline.",
        "Say that there is no motif, or drag the box's edges until it holds all of it.",
    ),
    "motif-several": _warning(
        "There are {count} motifs; the first one is proposed.",
        "Choose another with --pick, or the one near a point with --near.",
        "Choose the one to frame.",
    ),
    "motif-none-there": _error(
        "There is no motif number {pick}; motifs found: {count}.",
        "Choose one of those by its number, or draw a box round another with --outline.",
        "Choose another one.",
    ),
    "motif-none-near": _error(
        "No motif was found on this garment.",
        "Draw a box round it with --outline.",
        "Choose another one, or draw a box round it.",
    ),
    "motif-none-at-point": _error(
        "No motif was found within 25 mm (1 in) of this point.",
        "Draw a box round it with --outline, or leave --near away to see what was found.",
        "Choose another one, or draw a box round it.",
    ),
    "outline-impossible": _error(
        "The outline, point or place given does not lie on the cloth in this photo.",
        "Give pixels of the photo as it is shown, two corners or more, not all in one spot.",
    ),
    "motif-cut": _warning(
        "The motif reaches the edge of the photo, so part of it may be missing.",
        "Take the photo again with the whole motif in frame.",
    ),
    "motif-crooked": _note(
        "The motif is turned by {angle_deg:.0f} degrees to the {side} against the garment.",
        "To square the ruler to the motif, use --turn motif.",
        "Turn the square if it should follow the motif.",
    ),
    # window
    "motif-too-large": _warning(
        "No size of the set holds the motif clear of the seam line: {largest} is {over} too small. "
        "Whatever the measure is off by, {needed} would do{lack}.",
        "Add a larger size with --sizes, or choose a part of the motif with --outline.",
        "Choose a smaller part of the motif, or size the pile with larger sizes.",
    ),
    "motif-maybe-too-large": _warning(
        "{largest}, the largest size of the set, may hold the motif clear of the seam line, but "
        "that is not sure; {needed} would{lack}.",
        "Lay a paper window of {largest} on the motif, or add a larger size with --sizes.",
        "Drag the box's edges to what should show, or size the pile with a larger size as well.",
    ),
    "size-doubtful": _warning(
        "The motif is safe in {finished}, yet {smaller} may hold it too: the measure is not sharp "
        "enough to tell.",
        "Lay a paper window of {smaller} on the motif before you cut.",
    ),
    "cloth-short": _warning(
        "The garment has too little cloth for the cut square: {sides}.",
        "Sew an extension piece on there before you cut.",
    ),
    "cloth-short-at-motif": _warning(
        "The garment has too little cloth for the cut square: {sides}. The seam of an extension "
        "piece there would run through the motif's box.",
        "Applique the motif onto a whole square of other cloth, or leave the garment out.",
    ),
    "cloth-scant": _warning(
        "The cut square ends within {least} of the garment's edge, and that edge is not known so "
        "exactly: a side may lack cloth.",
        "Lay a paper square of the cut size on the garment before you cut.",
    ),
    "window-shifted": _note(
        "The square is moved off the motif's middle by {shift} so that the cloth suffices."
    ),
    "placed-close": _warning(
        "Where it was put by hand, the square keeps only {least} between motif and seam line; "
        "{asked} is asked for.",
        "Move it, or choose a larger size.",
    ),
    "placed-cuts": _warning(
        "Where it was put by hand, the seam line cuts {over} off the motif.",
        "Move it, or choose a larger size.",
    ),
    "no-cloth-for-any": _note(
        "The cloth is too small for any size of the set.",
        "Add a smaller size with --sizes.",
        "Size the pile with a smaller size as well.",
    ),
    # plan of a quilt
    "plan-check": _warning(
        "Not settled yet ({count}): {names}. The size of each, and with it strips and cloth, may "
        "still change.",
        "Look at each, accept or correct it, and plan again before you cut.",
    ),
    "plan-no-motif": _note(
        "Without a motif, in the quilt with the largest square that their cloth gives ({count}): "
        "{names}. Such a square may lie over a zip, a seam or a pocket.",
        "Look where each lies, or leave them out (--leave-out NAME, --motifs-only).",
        "Look where each lies, or leave them out.",
    ),
    "plan-no-strips": _note(
        "Blocks without strips ({count}): their centres of {sizes} are as large as the block.",
        "Every centre gets at least one round in a block of {block}.",
    ),
    "plan-left-out": _note(
        "Photos that give no block ({count}): {names}.",
        "Those that were not measured can be taken again, if they should be in the quilt.",
    ),
    "plan-too-small": _note(
        "Without a block, as the largest square is too small for the motif ({count}): {names}.",
        "Size the pile with a larger size as well, or frame a part of the motif.",
    ),
    "plan-extension": _note(
        "Too little cloth for the cut square ({count}): {names}.",
        "Sew the extension pieces on before you cut the square.",
    ),
    "plan-extension-crosses": _warning(
        "The seam of an extension piece would cross the motif of {names}.",
        "Applique the motif onto a whole square of other cloth, or leave the garment out.",
    ),
    "plan-off-centre": _note(
        "Centres of {sizes} lie off the middle of their block: their last round is half a round.",
        "Choose narrower strips if you want them in the middle.",
    ),
    "plan-off-centre-widths": _note(
        "Centres of {sizes} lie off the middle of their block: the half rounds on opposite sides "
        "of them differ in width.",
        "Name each width twice, for both half rounds of a round, if you want them in the middle; "
        "the block may have to change for it.",
    ),
    "plan-take-up": _note(
        "Strips are cut {take_up} wider for what the seams take up; without it a block would come "
        "out up to {shrink} too small."
    ),
    "plan-size-unmet": _note(
        "The rows and columns asked for make a quilt of {size}; wished was one of {wished}.",
        "Leave them open to have them chosen for the size.",
    ),
    "plan-missing": _note(
        "Places without a garment, which get a plain block: {count}.",
        "Add garments, or choose other rows and columns.",
    ),
    "plan-spare": _note(
        "Garments without a place ({count}): {names}.",
        "Choose more rows or columns to take them in.",
    ),
    "plan-wish-unmet": _warning(
        "A wish for the layout is not met: {wish}.",
        "Pin fewer blocks, or try another --seed.",
        "Pin fewer blocks, or try another layout.",
    ),
    "plan-not-proven": _note(
        "'{fabric}' takes {strips} strips; whether {at_least} would do is not proven."
    ),
    "plan-narrower": _note(
        "If the usable width of '{fabric}' is only {width}, buy {narrow} instead of {words}."
    ),
    "plan-bolt-too-narrow": _note(
        "'{fabric}' must be more than {width} wide, or its largest piece does not fit across it."
    ),
    "plan-backing-seam": _note(
        "The back has a seam {run} its middle.", "A wider backing cloth would do without."
    ),
    "plan-backing-split": _note(
        "The back has one seam; to keep it out of the middle, split one length and sew a half to "
        "each side of the other."
    ),
    "plan-batting": _note(
        "No usual package of batting covers {width} x {height}.",
        "Buy it from the roll, or join two pieces edge to edge.",
    ),
    # the program itself
    "self-check": _error(
        "The program's own check of the answer failed ({reason}).",
        "Please report this with the photo, if you can share it.",
    ),
    "program-fault": _error(
        "The program made a mistake on this photo ({reason}).",
        "Please report this with the photo, if you can share it.",
    ),
    "worker-died": _error(
        "The program was stopped while it worked on this photo, twice.",
        "Try again with fewer --jobs; if it happens again, save the photo as JPEG or leave it out.",
        "Save the photo as JPEG from a photo program, or leave it out.",
    ),
    "took-too-long": _error(
        "The photo took more than {seconds:.0f} seconds and was given up.",
        "Save it as JPEG from a photo program and try again.",
    ),
    "out-of-memory": _error(
        "The computer ran out of memory.", "Close other programs and try again."
    ),
}


def text_of(code: str, **details: object) -> str:
    """Return what a person reads: the text and, behind it, the cure.

    In values that are texts, what cannot be printed becomes a question mark.

    Raises
    ------
    KeyError
        For a code that is not declared, or a placeholder without a value.
    """
    kind = MESSAGES[code]
    clean = {
        name: _printable(value) if isinstance(value, str) else value
        for name, value in details.items()
    }
    return f"{kind.text} {kind.cure}".format(**clean).strip()


def _printable(text: str) -> str:
    """Return a text, perhaps out of a file, without anything that could steer a terminal."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
