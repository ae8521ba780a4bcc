"""Made-up motifs: icons, lettering, both together, cut-outs of real ones, as RGBA sprites."""

import io
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageFont, ImageOps

__all__ = ["Sprites", "fit_alpha"]

Rng = np.random.Generator
Colour = tuple[int, int, int]

# Words as people print them on children's clothes; drawn up for this project.
WORDS = (
    "wild one",
    "little star",
    "happy",
    "hello sunshine",
    "love",
    "dream big",
    "roar",
    "sweet pea",
    "best day ever",
    "tiny",
    "beach baby",
    "explorer",
    "little brother",
    "big sister",
    "go team",
    "sunny days",
    "super hero",
    "be kind",
    "moon",
    "adventure",
    "smile",
    "cool kid",
    "let's play",
    "ocean",
    "milk",
    "01",
    "23",
    "86",
    "est 2020",
    "new york",
    "surf club",
    "honey",
    "mama's boy",
    "daddy's girl",
    "cute",
    "free spirit",
    "born to run",
    "yes",
    "no",
    "wow",
    "sleepy head",
    "hug me",
    "grow",
    "good vibes only",
    "stay wild",
    "little bear",
    "bonjour",
    "amour",
    "fun",
    "play all day",
    "football",
    "racing 7",
    "dino",
    "spring",
    "summer camp",
    "winter",
    "forest friends",
    "to the moon",
    "meow",
    "woof",
    "magic",
    "sparkle",
    "rock star",
    "captain",
    "first mate",
    "busy bee",
    "apple of my eye",
    "one of a kind",
    "brave",
    "kind",
    "you are my sunshine",
    "every day is a gift",
    "small but mighty",
    "made with love",
    "team awesome",
    "handle with care",
)
PRINT_SPREAD = 35.0  # of the lightness of a piece of a photo that is worth printing
SYLLABLES = (  # noqa: SIM905
    "ba be bo ca co da de do el en fa fi ga go ha hi in jo ka ki la le lo lu ma mi mo na ne no "
    "or pa pe po ra ri ro sa se so sta ta te ti to tri va ve vi wa wi ya zo st nd rk ss ll x"
).split()


@dataclass(frozen=True)
class Sprites:
    """The materials that motifs are made of."""

    icons: list[Image.Image]
    fonts: list[bytes]
    cutouts: dict[str, Image.Image]  # by the photo's name
    photos: dict[str, Image.Image]  # likewise

    @classmethod
    def read(cls, folder: Path) -> "Sprites":
        """Read the packed icons, fonts and cut-outs."""
        icons = [_crop(image) for image in _images(folder / "icons.zip", ".webp")]
        with zipfile.ZipFile(folder / "fonts.zip") as source:
            fonts = [source.read(name) for name in sorted(source.namelist())]
        cutouts, photos = {}, {}
        with zipfile.ZipFile(folder / "photos.zip") as source:
            for name in sorted(n for n in source.namelist() if n.endswith(".webp")):
                stem, *kind = name.removesuffix(".webp").split(".")
                target = photos if not kind else cutouts if kind == ["motif"] else None
                if target is not None:
                    target[stem] = Image.open(io.BytesIO(source.read(name)))
        return cls([i for i in icons if min(i.size) > 8], fonts, cutouts, photos)

    def make(self, rng: Rng) -> Image.Image:
        """Make one motif, cropped to its ink, longest side 60-260 px."""
        kind = rng.choice(["icon", "words", "both", "cluster"], p=[0.3, 0.27, 0.33, 0.1])
        if kind == "icon":
            sprite = self.picture(rng)
        elif kind == "words":
            sprite = self.lettering(rng)
        elif kind == "both":
            sprite = self.both(rng)
        else:
            sprite = self.cluster(rng)
        if rng.random() < 0.12:
            sprite = _badge(sprite, rng)
        if rng.random() < 0.25:
            sprite = sprite.rotate(
                rng.normal(0, 12), expand=True, resample=Image.Resampling.BICUBIC
            )
        return _crop(_technique(_crop(sprite), rng))

    def mark(self, rng: Rng) -> Image.Image:
        """Make a maker's mark: a simple shape, a short word, both, or a badge."""
        kind = rng.choice(["shape", "word", "both", "badge", "icon"], p=[0.3, 0.3, 0.15, 0.15, 0.1])
        sprite = self.picture(rng) if kind == "icon" else self._shape(rng)
        if kind == "word":
            sprite = self._word(rng)
        elif kind == "both":
            sprite = _stack([sprite, self._word(rng)], rng, gap=rng.uniform(0.05, 0.4))
        elif kind == "badge":
            sprite = _badge(self._word(rng) if rng.random() < 0.5 else sprite, rng)
        return _crop(_technique(_crop(sprite), rng))

    def _shape(self, rng: Rng) -> Image.Image:
        """Return an icon's outline in one colour."""
        icon = self.icons[rng.integers(len(self.icons))]
        return _filled(icon.getchannel("A"), _mark_colour(rng))

    def _word(self, rng: Rng) -> Image.Image:
        """Return one short word of up to eight letters in one face and colour."""
        word = max(_words(rng), key=len)[:8]
        word = word.upper() if rng.random() < 0.5 else word.capitalize()
        face = ImageFont.truetype(io.BytesIO(self.fonts[rng.integers(len(self.fonts))]), 48)
        return _line(word, face, [_mark_colour(rng)] * 3, "one", 0, rng)

    def picture(self, rng: Rng) -> Image.Image:
        """Return an icon: as it is, as a silhouette, as a drawing, faded or recoloured."""
        icon = self.icons[rng.integers(len(self.icons))].copy()
        if rng.random() < 0.5:
            icon = icon.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
        style = rng.choice(
            ["plain", "flat", "lines", "faded", "turned"], p=[0.5, 0.15, 0.15, 0.1, 0.1]
        )
        alpha = icon.getchannel("A")
        if style == "flat":
            icon = _filled(alpha, _colour(rng))
        elif style == "lines":
            edges = icon.convert("L").filter(ImageFilter.FIND_EDGES)
            rim = ImageChops.subtract(alpha, alpha.filter(ImageFilter.MinFilter(5)))
            ink = ImageChops.lighter(edges.point(lambda v: min(255, v * 4)), rim)
            icon = _filled(ImageChops.multiply(ink, alpha), _colour(rng))
        elif style == "faded":
            grey = icon.convert("L")
            tint = Image.merge("RGB", [grey] * 3)
            icon = Image.merge(
                "RGBA", (*Image.blend(icon.convert("RGB"), tint, 0.8).split(), alpha)
            )
        elif style == "turned":
            bands = list(icon.split()[:3])
            rng.shuffle(bands)  # type: ignore[arg-type]
            icon = Image.merge("RGBA", (*bands, alpha))
        return icon

    def photo_print(self, rng: Rng) -> tuple[Image.Image, str]:
        """Return a piece of a photo as a print, perhaps with words; and the photo's name."""
        names = sorted(self.photos)
        for _ in range(8):  # bare cloth makes no print
            name = names[rng.integers(len(names))]
            piece = _piece(self.photos[name].convert("RGB"), rng)
            if np.asarray(piece.convert("L")).std() > PRINT_SPREAD:
                break
        if rng.random() < 0.4:
            piece = ImageOps.colorize(piece.convert("L"), _colour(rng), _colour(rng))
        if rng.random() < 0.2:
            piece = ImageOps.posterize(piece, int(rng.integers(1, 4)))
        shape = Image.new("L", piece.size, 0)
        pen, frame = ImageDraw.Draw(shape), (0, 0, piece.width - 1, piece.height - 1)
        if rng.random() < 0.25:
            pen.ellipse(frame, fill=255)
        else:
            pen.rounded_rectangle(frame, rng.uniform(0, 0.25) * min(piece.size), fill=255)
        piece.putalpha(shape)
        if rng.random() < 0.5:
            words = self.lettering(rng, width=int(piece.width * rng.uniform(0.6, 1.3)))
            parts = [piece, words] if rng.random() < 0.7 else [words, piece]
            piece = _stack(parts, rng, gap=rng.uniform(-0.1, 0.3))
        return _crop(_technique(_crop(piece), rng)), name

    def lettering(self, rng: Rng, width: int | None = None) -> Image.Image:
        """Return one to four lines of words in one or two faces."""
        words = _words(rng)
        if rng.random() < 0.5:
            words = [w.upper() for w in words]
        elif rng.random() < 0.5:
            words = [w.capitalize() for w in words]
        lines = _broken(words, rng)
        font = io.BytesIO(self.fonts[rng.integers(len(self.fonts))])
        size, colours = int(rng.integers(34, 64)), [_colour(rng) for _ in range(3)]
        manner = rng.choice(["one", "line", "letter"], p=[0.65, 0.2, 0.15])
        face = ImageFont.truetype(font, size)
        pictures = []
        for number, line in enumerate(lines):
            if rng.random() < 0.15:
                other = io.BytesIO(self.fonts[rng.integers(len(self.fonts))])
                face = ImageFont.truetype(other, int(size * rng.uniform(0.6, 1.4)))
            pictures.append(_line(line, face, colours, manner, number, rng))
        justify = rng.random() < 0.25
        text = _stack(pictures, rng, gap=rng.uniform(-0.05, 0.25), justify=justify)
        if rng.random() < 0.2:
            text = _arched(text, rng)
        if width is not None and text.width > width:
            text = text.resize((width, max(6, round(text.height * width / text.width))))
        return text

    def both(self, rng: Rng) -> Image.Image:
        """Return a picture with words under, over, beside or on it."""
        picture = self.picture(rng)
        words = self.lettering(rng, width=int(picture.width * rng.uniform(0.7, 1.9)))
        if rng.random() < 0.1:
            out = Image.new("RGBA", (max(picture.width, words.width), picture.height))
            out.alpha_composite(picture, ((out.width - picture.width) // 2, 0))
            out.alpha_composite(
                words, ((out.width - words.width) // 2, (out.height - words.height) // 2)
            )
            return out if words.height < picture.height else picture
        parts = [picture, words] if rng.random() < 0.6 else [words, picture]
        if rng.random() < 0.2:
            parts = [words, picture, self.lettering(rng, width=words.width)]
        beside = rng.random() < 0.15
        return _stack(parts, rng, gap=rng.uniform(-0.08, 0.3), across=beside)

    def cluster(self, rng: Rng) -> Image.Image:
        """Return a few small pictures in a row or grid that belong together."""
        columns, rows = int(rng.integers(2, 5)), int(rng.integers(1, 3))
        same = self.picture(rng)
        lines = []
        for _ in range(rows):
            row = [same if rng.random() < 0.4 else self.picture(rng) for _ in range(columns)]
            row = [p.resize((56, max(8, round(56 * p.height / p.width)))) for p in row]
            lines.append(_stack(row, rng, gap=rng.uniform(0.05, 0.5), across=True))
        return _stack(lines, rng, gap=rng.uniform(0.05, 0.4))


def fit_alpha(sprite: Image.Image, least: int = 40) -> tuple[int, int, int, int] | None:
    """Return the box of all pixels whose alpha exceeds `least`."""
    return sprite.getchannel("A").point(lambda v: 255 if v > least else 0).getbbox()


def _images(path: Path, ending: str) -> list[Image.Image]:
    """Read the pictures of a zip file."""
    with zipfile.ZipFile(path) as source:
        names = sorted(name for name in source.namelist() if name.endswith(ending))
        return [Image.open(io.BytesIO(source.read(name))).convert("RGBA") for name in names]


def _crop(sprite: Image.Image) -> Image.Image:
    """Crop to the ink."""
    box = fit_alpha(sprite)
    return sprite.crop(box) if box else sprite


def _colour(rng: Rng) -> Colour:
    """Return a colour: black, white, grey, or of any hue."""
    pick = rng.random()
    if pick < 0.18:
        return (int(rng.integers(10, 50)),) * 3  # type: ignore[return-value]
    if pick < 0.34:
        return (int(rng.integers(215, 252)),) * 3  # type: ignore[return-value]
    hue, high = rng.random() * 6, rng.uniform(0.35, 1)
    pale = rng.beta(1.2, 2)
    wheel = np.clip(np.abs((hue + np.array([0, 4, 2])) % 6 - 3) - 1, 0, 1)
    return tuple(int(v) for v in 255 * high * (pale + (1 - pale) * wheel))  # type: ignore[return-value]


def _mark_colour(rng: Rng) -> Colour:
    """Return a colour as makers' marks have it: often white, else any."""
    white = (int(rng.integers(225, 252)),) * 3
    return white if rng.random() < 0.3 else _colour(rng)  # type: ignore[return-value]


def _filled(alpha: Image.Image, colour: Colour) -> Image.Image:
    """Return one colour with this alpha."""
    out = Image.new("RGBA", alpha.size, (*colour, 0))
    out.putalpha(alpha)
    return out


def _piece(photo: Image.Image, rng: Rng) -> Image.Image:
    """Return a piece of a photo, a quarter to some two thirds of its shorter side."""
    reach = rng.uniform(0.25, 0.6) * min(photo.size)
    wide, high = (
        min(int(reach * np.exp(rng.uniform(-0.35, 0.35))), side - 1) for side in photo.size
    )
    left, top = int(rng.integers(photo.width - wide)), int(rng.integers(photo.height - high))
    return photo.crop((left, top, left + wide, top + high))


def _words(rng: Rng) -> list[str]:
    """Return words as they are printed, or made-up ones, perhaps with a number."""
    if rng.random() < 0.5:
        return WORDS[rng.integers(len(WORDS))].split()
    words = ["".join(rng.choice(SYLLABLES, rng.integers(1, 5))) for _ in range(rng.integers(1, 5))]
    if rng.random() < 0.2:
        words.append(str(rng.integers(1, 2030)))
    return words


def _broken(words: list[str], rng: Rng) -> list[str]:
    """Break words into lines."""
    lines = [words[0]]
    for word in words[1:]:
        if rng.random() < 0.6:
            lines.append(word)
        else:
            lines[-1] += " " + word
    return lines


def _line(
    text: str,
    face: ImageFont.FreeTypeFont,
    colours: list[Colour],
    manner: str,
    number: int,
    rng: Rng,
) -> Image.Image:
    """Draw one line of lettering, perhaps outlined, letter-spaced or in colours."""
    space = rng.choice([0.0, 0.25]) * face.size if rng.random() < 0.2 else 0.0
    stroke = int(rng.integers(1, 4)) if rng.random() < 0.2 else 0
    widths = [face.getlength(c) + space for c in text]
    out = Image.new("RGBA", (int(sum(widths)) + 2 * face.size, int(3 * face.size)))
    pen, x = ImageDraw.Draw(out), float(face.size)
    hollow = stroke and rng.random() < 0.4
    for index, letter in enumerate(text):
        pick = {"one": 0, "line": number, "letter": index}[manner] % 3
        fill = (0, 0, 0, 0) if hollow else (*colours[pick], 255)
        edge = colours[0] if hollow else colours[2]
        pen.text(
            (x, face.size), letter, font=face, fill=fill, stroke_width=stroke, stroke_fill=edge
        )
        x += widths[index]
    return _crop(out)


def _stack(
    parts: list[Image.Image], rng: Rng, *, gap: float, across: bool = False, justify: bool = False
) -> Image.Image:
    """Set parts one under (or beside) the other; the gap is in parts of the smaller height."""
    if justify and not across:
        wide = max(p.width for p in parts)
        parts = [p.resize((wide, max(6, round(p.height * min(wide / p.width, 3))))) for p in parts]
    step = 0 if across else 1
    between = int(gap * min(p.size[step] for p in parts))
    length = sum(p.size[step] for p in parts) + between * (len(parts) - 1)
    thick = max(p.size[1 - step] for p in parts)
    out = Image.new("RGBA", (length, thick) if across else (thick, length))
    align, at = rng.choice([0.0, 0.5, 0.5, 0.5, 1.0]), 0
    for part in parts:
        side = int(align * (thick - part.size[1 - step]))
        layer = Image.new("RGBA", out.size)
        layer.paste(part, (at, side) if across else (side, at))
        out = Image.alpha_composite(out, layer)
        at += part.size[step] + between
    return out


def _arched(text: Image.Image, rng: Rng) -> Image.Image:
    """Bend lettering into an arch or a bowl."""
    rise = rng.uniform(0.1, 0.6) * text.height
    out = np.zeros((text.height + int(rise) + 1, text.width, 4), np.uint8)
    array, middle = np.asarray(text), text.width / 2
    up = rng.random() < 0.7
    for column in range(text.width):
        bend = ((column - middle) / middle) ** 2
        drop = int(rise * (bend if up else 1 - bend))
        out[drop : drop + text.height, column] = array[:, column]
    return Image.fromarray(out)


def _badge(sprite: Image.Image, rng: Rng) -> Image.Image:
    """Set a motif on a patch of cloth: round, square or ring-shaped."""
    pad = int(0.25 * max(sprite.size))
    out = Image.new("RGBA", (sprite.width + 2 * pad, sprite.height + 2 * pad))
    pen, colour, edge = ImageDraw.Draw(out), _colour(rng), _colour(rng)
    frame = (2, 2, out.width - 3, out.height - 3)
    thick = int(rng.integers(1, 6))
    fill = (0, 0, 0, 0) if rng.random() < 0.3 else (*colour, 255)
    if rng.random() < 0.5:
        pen.ellipse(frame, fill=fill, outline=(*edge, 255), width=thick)
    else:
        radius = float(rng.uniform(0, 0.3) * min(out.size))
        pen.rounded_rectangle(frame, radius, fill=fill, outline=(*edge, 255), width=thick)
    out.alpha_composite(sprite, (pad, pad))
    return out


def _technique(sprite: Image.Image, rng: Rng) -> Image.Image:
    """Give it the look of embroidery, of a cracked print, of a thin print, or leave it flat."""
    manner = rng.choice(["flat", "stitched", "cracked", "thin"], p=[0.42, 0.33, 0.12, 0.13])
    array = np.asarray(sprite).astype(np.float32)
    if manner == "stitched":
        array = _stitched(array, rng)
    elif manner == "cracked":
        noise = Image.fromarray(
            np.uint8(rng.integers(0, 256, (array.shape[0] // 3 + 1, array.shape[1] // 3 + 1)))
        )
        grain = np.asarray(noise.resize(sprite.size, Image.Resampling.BICUBIC), np.float32)
        array[..., 3] *= np.clip((grain - rng.uniform(20, 90)) / 40, 0.15, 1)
    elif manner == "thin":
        array[..., 3] *= rng.uniform(0.45, 0.85)
    return Image.fromarray(np.uint8(np.clip(array, 0, 255)))


def _stitched(array: np.ndarray, rng: Rng) -> np.ndarray:
    """Give a sprite (h, w, 4) the look of satin stitch: threads, their sheen, a ragged rim.

    Threads lie across the strokes, so that their direction, and with it the sheen, changes from
    part to part.
    """
    height, width = array.shape[:2]
    rows, cols = np.mgrid[:height, :width]
    coarse = rng.normal(size=(max(2, height // 40), max(2, width // 40))).astype(np.float32)
    field = Image.fromarray(coarse).resize((width, height), Image.Resampling.BICUBIC)
    angle = rng.uniform(0, np.pi) + rng.choice([0.0, 0.6, 1.2]) * np.round(np.asarray(field))
    pitch = rng.uniform(2.2, 4.5)
    thread = np.sin((rows * np.sin(angle) + cols * np.cos(angle)) * 2 * np.pi / pitch)
    sheen = np.cos(2 * (angle - rng.uniform(0, np.pi)))
    light = 1 + rng.uniform(0.06, 0.22) * thread + rng.uniform(0.0, 0.25) * sheen
    out = array.copy()
    out[..., :3] *= light[..., None]
    rim = Image.fromarray(np.uint8(array[..., 3])).filter(ImageFilter.GaussianBlur(1.2))
    soft = np.asarray(rim, np.float32) + rng.uniform(10, 40) * thread
    out[..., 3] = np.where(array[..., 3] > 0, np.clip((soft - 60) * 4, 0, 255), 0)
    return out
