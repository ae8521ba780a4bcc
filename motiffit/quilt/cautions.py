"""What can hurt a person, a print or a machine: said where it matters, with its source.

Words of our own; facts from the sources named. Local rules and the advice of those licensed to
give it come first.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from unicodedata import combining, normalize

from motiffit.quilt.centre import Centre

__all__ = ["CAUTIONS", "FIRST_WORD", "Caution", "CautionKind", "list_cautions"]

FIRST_WORD = (
    "Local rules and the advice of doctors, safety bodies and makers come before anything here."
)


@dataclass(frozen=True, slots=True)
class CautionKind:
    """One caution.

    Attributes
    ----------
    topic
        A word or two.
    text
        What to mind, and why.
    source
        Where the fact comes from.
    when : {'cutting', 'pressing', 'sewing', 'using', 'washing'}
        At which work it matters.
    signs
        Words in a person's note that make it matter for that garment: patterns of small letters
        without accents, to which `_has_sign` adds the usual endings.
    """

    topic: str
    text: str
    source: str
    when: str
    signs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A caution and the garments whose notes call for it."""

    topic: str
    text: str
    source: str
    when: str
    garments: tuple[str, ...]


CAUTIONS: tuple[CautionKind, ...] = (
    CautionKind(
        "Sleep",
        "A keepsake, not bedding for a baby: nothing soft belongs in the sleeping place of a "
        "child under 12 months, neither over nor under it.",
        "American Academy of Pediatrics, policy of 2022 on sleep-related infant deaths "
        "(Pediatrics 150(1) e2022057990); CPSC, 'bare is best'",
        "using",
    ),
    CautionKind(
        "Small parts",
        "Take off snaps, buttons, zip pulls, beads and bows if a child under three may get the "
        "quilt: what fits in a cylinder 1 1/4 in (31.7 mm) wide can choke.",
        "16 CFR 1501.4; Canada, Toys Regulations SOR/2011-17, schedule 1",
        "sewing",
        (
            "zip",
            "snap",
            "button",
            "popper",
            "press[- ]?stud",
            "bead",
            "sequin",
            "bow",
            "rivet",
            "eyelet",
        ),
    ),
    CautionKind(
        "Cords",
        "Remove cords, ties and drawstrings before sewing a garment in; loose ones can catch.",
        "CPSC on drawstrings in children's outerwear; 16 CFR 1120",
        "sewing",
        (
            "(?:draw|hood|neck|shoe|waist)?(?:cord|string)",
            "(?:bow)?tie(?![- ]?dy)",  # not tie-dyed
            "tying",
            "lace",
            "lacing",
            "ribbon",
            "strap",
            "strappy",
        ),
    ),
    CautionKind(
        "Zips and snaps",
        "Keep the needle off zip teeth, snaps and rivets: it can break and fly. Turn the hand "
        "wheel past them, sew with the zip closed, and wear glasses.",
        "general sewing practice, no source",
        "sewing",
        ("zip", "snap", "popper", "press[- ]?stud", "rivet", "hook"),
    ),
    CautionKind(
        "Thick cloth",
        "Towelling, fleece, bibs and appliques make bulky seams: keep them out of the seam "
        "allowance, lengthen the stitch and press seams open.",
        "nationalquilterscircle.com (keep bulky designs away from seam lines)",
        "sewing",
        ("bib", "terry", "towel", "fleece", "3-?d", "quilted", "padded", "applique"),
    ),
    CautionKind(
        "Rotary cutter",
        "Close the guard after every cut, cut away from you along a thick ruler with your fingers "
        "back from its edge, and lock the cutter away from children.",
        "NDSU Extension, CB111",
        "cutting",
    ),
    CautionKind(
        "Before the first cut",
        "Lay the paper window on the garment and look: the seam line must clear the motif on all "
        "four sides. A cut cannot be taken back.",
        "what makers complain of first: a motif that was cut off",
        "cutting",
    ),
    CautionKind(
        "Printed motifs",
        "Never put a hot iron on a screen or vinyl print: the ink softens at about 180 to 250 F "
        "(80 to 120 C), far below a cotton setting, and smears. Press from the back, or through "
        "a pressing sheet, and let it cool before you lift the sheet.",
        "ink makers' figures for plastisol (lawsonsp.com); quilters' practice",
        "pressing",
        (
            "vinyl",
            "(?:screen)?print",
            "transfer",
            "iron[- ]?on",
            "foil",
            "glitter",
            "glittery",
            "flock",
            "plastisol",
        ),
    ),
    CautionKind(
        "Fusing",
        "Wash garments without fabric softener, which keeps interfacing from sticking, and try a "
        "scrap first. Interfacing should be lighter than the cloth: woven behind woven, knit "
        "behind knit.",
        "University of Minnesota Extension, Folder 341; WSU Extension, EM014",
        "pressing",
    ),
    CautionKind(
        "Old sleepwear",
        "Sleepwear may have been made flame-resistant: follow its label when you wash and press.",
        "16 CFR 1615 and 1616",
        "washing",
        ("pyjama", "pajama", "sleep", "sleepsuit", "sleepwear", "nightgown", "nightie"),
    ),
    CautionKind(
        "Washing",
        "Wash the finished quilt gently in cool water, with a colour catcher the first time, "
        "without softener; dry it flat or on low, and keep the iron off the prints. It will come "
        "out about 2 to 4 per cent smaller once quilted and washed.",
        "qovf.org; four quilts measured before and after (melgeecrafts)",
        "washing",
    ),
    CautionKind(
        "Quilting",
        "Quilt round a print, not across it: every needle hole in it stays.",
        "unique2youquilting.com",
        "sewing",
    ),
    CautionKind(
        "Giving or selling",
        "Children's products that are sold fall under product rules (in the United States CPSIA: "
        "metal fasteners, plastic prints, tracking label). Ask your authority first.",
        "trade summaries, not legal advice",
        "using",
    ),
)


# plurals, and what makes a word of doing: tied, buttoned, zippered, toweling or towelling
_ENDING = r"(?:s|es|d|(?:(?<=(\w))\1)?(?:ed|er|ers|ered|ing))?"


def list_cautions(centres: Iterable[Centre]) -> tuple[Caution, ...]:
    """Return all cautions, each with the garments whose notes call for it."""
    listed = list(centres)
    return tuple(
        Caution(
            topic=kind.topic,
            text=kind.text,
            source=kind.source,
            when=kind.when,
            garments=tuple(
                centre.name for centre in listed if _has_sign(centre.note.note, kind.signs)
            ),
        )
        for kind in CAUTIONS
    )


def _has_sign(note: str, signs: tuple[str, ...]) -> bool:
    """Whether a note has one of the words, alone or with an ending; accents do not count."""
    letters = (letter for letter in normalize("NFKD", note) if not combining(letter))
    plain = "".join(letters).casefold()
    return any(re.search(rf"\b{sign}{_ENDING}\b(?!-free\b)", plain) for sign in signs)
