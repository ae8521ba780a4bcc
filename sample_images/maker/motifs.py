"""Motifs of our own invention, as coloured shapes about 100 units wide (x right, y down)."""

from collections.abc import Callable

import numpy as np

from maker.ink import Ink, Picture, box, ink, oval, star, stroke, words
from maker.layer import Colour
from maker.outlines import closed, curve

INK_DARK: Colour = (44, 47, 58)
CREAM: Colour = (246, 240, 224)


def fox() -> Picture:
    """Draw a fox's face with a scarf."""
    rust, deep, blush = (206, 104, 48), (150, 66, 34), (232, 150, 120)
    face = closed(
        [
            (0, -30),
            (22, -30),
            (40, -14),
            (50, 8),
            (30, 28),
            (0, 44),
            (-30, 28),
            (-50, 8),
            (-40, -14),
            (-22, -30),
        ]
    )
    ear = np.array([(16, -28), (42, -60), (46, -10)])
    inner = np.array([(24, -26), (39, -48), (41, -16)])
    cheek = closed([(4, 40), (8, 14), (24, 2), (47, 8), (30, 27), (14, 37)])
    scarf = closed(
        [(-33, 26), (0, 40), (33, 26), (37, 38), (20, 51), (0, 55), (-20, 51), (-37, 38)]
    )
    tail = closed([(9, 46), (25, 44), (31, 68), (16, 73)])
    flip = np.array([-1, 1])
    return (
        ink((58, 110, 120), tail),
        ink((72, 132, 140), scarf),
        ink(
            deep,
            ear,
        ),
        ink(deep, ear * flip),
        ink(INK_DARK, inner),
        ink(INK_DARK, inner * flip),
        ink(rust, face),
        ink(CREAM, cheek),
        ink(CREAM, cheek * flip),
        ink(blush, oval(31, 15, 5, 3.6)),
        ink(blush, oval(-31, 15, 5, 3.6)),
        ink(INK_DARK, oval(20, -1, 4, 5)),
        ink(INK_DARK, oval(-20, -1, 4, 5)),
        ink((255, 255, 255), oval(21.4, -3, 1.3)),
        ink((255, 255, 255), oval(-18.6, -3, 1.3)),
        ink(INK_DARK, closed([(-7, 33), (0, 30), (7, 33), (0, 43)])),
    )


def boat() -> Picture:
    """Draw a sailing boat on waves."""
    navy, red, sky = (38, 62, 104), (200, 66, 56), (112, 164, 190)
    waves = [
        stroke(
            [(-50 + dx, y), (-40 + dx, y - 5), (-30 + dx, y), (-20 + dx, y - 5), (-10 + dx, y)], 3.2
        )
        for y, dx in [(44, 0), (44, 44), (54, 18)]
    ]
    waves.append(stroke([(38, 44), (44, 40), (50, 44)], 3.2))
    return (
        ink(navy, np.array([(-2, -56), (2, -56), (2, 22), (-2, 22)])),
        ink(CREAM, np.vstack([curve([(5, -48), (28, -18), (40, 14)]), [(5, 14)]])),
        ink(red, np.vstack([curve([(-5, -38), (-22, -12), (-32, 14)]), [(-5, 14)]])),
        ink(red, np.array([(2, -56), (18, -51), (2, -45)])),
        ink(
            navy,
            np.vstack(
                [
                    [(-44, 20)],
                    [(46, 20)],
                    curve([(46, 20), (38, 36), (26, 42)]),
                    curve([(-26, 42), (-38, 34), (-44, 20)]),
                ]
            ),
        ),
        ink(CREAM, box(-38, 25, 40, 28.5, round_by=1.5)),
        *(ink(sky, wave) for wave in waves),
    )


def moon() -> Picture:
    """Draw a sleepy moon with stars and a cloud."""
    gold, pale = (236, 190, 92), (226, 232, 240)
    t = np.linspace(np.deg2rad(50), np.deg2rad(310), 60)
    outer = np.column_stack([40 * np.cos(t) - 4, 40 * np.sin(t) - 4])
    u = np.linspace(np.deg2rad(292), np.deg2rad(68), 60)
    crescent = np.vstack([outer, np.column_stack([33 * np.cos(u) + 9.5, 33 * np.sin(u) - 4])])
    cloud = closed(
        [
            (-50, 36),
            (-46, 25),
            (-34, 24),
            (-28, 14),
            (-12, 14),
            (-4, 23),
            (10, 21),
            (20, 29),
            (22, 38),
            (8, 43),
            (-34, 43),
        ]
    )
    return (
        ink(gold, crescent),
        ink(INK_DARK, stroke([(-33, -6), (-29, -2.5), (-25, -5)], 2.2)),
        ink((226, 140, 110), oval(-27, 6, 4.2, 3)),
        ink(pale, cloud),
        ink(gold, star(24, -22, 11)),
        ink(gold, star(42, 4, 7)),
        ink(gold, star(40, -38, 6)),
        ink(gold, star(27, 22, 5)),
    )


def tractor() -> Picture:
    """Draw a tractor with its smoke."""
    plum, dark, peach, grey = (120, 88, 148), (38, 40, 44), (238, 178, 142), (172, 178, 184)
    smoke = [oval(30, -43, 5.5), oval(37, -51, 4.5), oval(43.5, -57, 3)]
    return (
        ink(grey, *smoke),
        ink(dark, box(27, -36, 33, -14, round_by=1)),
        ink(plum, closed([(-8, -14), (42, -14), (49, -8), (50, 14), (40, 20), (-8, 20)])),
        ink(plum, box(-36, -46, 4, -39, round_by=3)),
        ink((176, 212, 224), np.array([(-31, -39), (-2, -39), (2, -12), (-31, -12)])),
        ink(plum, np.array([(-34, -40), (-29, -40), (-29, 10), (-34, 10)])),
        ink(plum, np.array([(-3, -40), (1.5, -40), (6, -8), (1.5, -8)])),
        ink(plum, closed([(-44, 2), (-36, -14), (-14, -16), (2, -4), (6, 12), (-20, 14)])),
        ink(peach, oval(45, -1, 3.2, 4.5)),
        ink(dark, oval(-23, 24, 26)),
        ink(peach, oval(-23, 24, 14)),
        ink(dark, oval(-23, 24, 4.5)),
        ink(dark, oval(35, 34, 16)),
        ink(peach, oval(35, 34, 8)),
        ink(dark, oval(35, 34, 2.8)),
        ink(grey, stroke([(10, -8), (38, -8)], 2.2)),
        ink(grey, stroke([(10, -2), (36, -2)], 2.2)),
    )


def whale() -> Picture:
    """Draw a whale that spouts."""
    blue, pale, drop = (72, 112, 158), (220, 230, 236), (128, 182, 206)
    body = closed(
        [
            (-50, 6),
            (-44, -16),
            (-22, -27),
            (4, -23),
            (22, -8),
            (33, -9),
            (36, -24),
            (27, -36),
            (41, -33),
            (44, -26),
            (50, -34),
            (54, -38),
            (52, -22),
            (46, -12),
            (44, 8),
            (28, 26),
            (2, 33),
            (-30, 30),
            (-46, 20),
        ]
    )
    belly = closed(
        [(-49, 9), (-30, 13), (-6, 16), (12, 14), (24, 26), (2, 33), (-30, 30), (-46, 20)]
    )
    ribs = [
        stroke([(x, y), (x + 1, y + 7), (x - 1, y + 12)], 1.5)
        for x, y in [(-34, 16), (-24, 18), (-14, 19), (-4, 19)]
    ]
    return (
        ink(drop, stroke([(-20, -30), (-21, -42), (-30, -47), (-35, -41)], 4)),
        ink(drop, stroke([(-20, -30), (-19, -42), (-10, -47), (-5, -41)], 4)),
        ink(blue, body),
        ink(pale, belly),
        *(ink(blue, rib) for rib in ribs),
        ink((48, 82, 124), closed([(2, 14), (16, 12), (22, 24), (12, 28)])),
        ink(INK_DARK, oval(-32, -3, 3.4, 4)),
        ink((255, 255, 255), oval(-33, -4.4, 1.2)),
        ink((226, 148, 140), oval(-23, 5, 4, 2.8)),
    )


def mushrooms() -> Picture:
    """Draw three mushrooms in the grass."""
    red, stem, leaf = (194, 64, 54), (240, 228, 204), (104, 140, 86)

    def one(x: float, y: float, size: float, cap: Colour) -> list[Ink]:
        hood = np.vstack(
            [
                curve([(-30, 0), (-24, -20), (0, -33), (24, -20), (30, 0)]),
                curve([(30, 0), (0, 6), (-30, 0)]),
            ]
        )
        stalk = closed([(-9, 0), (9, 0), (10, 20), (13, 38), (0, 41), (-13, 38), (-10, 20)])
        dots = [
            oval(-12, -14, 5, 4.4),
            oval(8, -20, 5.4, 4.6),
            oval(17, -6, 4, 3.4),
            oval(-2, -4, 3.6, 3),
        ]
        place = [np.asarray(part) * size + [x, y] for part in (stalk, hood, *dots)]
        return [ink(stem, place[0]), ink(cap, place[1]), *(ink(CREAM, dot) for dot in place[2:])]

    blades = [
        stroke([(x, 40), (x + lean * 0.4, 32), (x + lean, 24 - abs(lean) * 0.3)], 3)
        for x, lean in [
            (-44, -5),
            (-38, 3),
            (-33, 8),
            (-6, -6),
            (12, 5),
            (36, -4),
            (42, 3),
            (46, 7),
        ]
    ]
    return (
        *one(-2, -8, 1.15, red),
        *one(-31, 12, 0.68, (214, 138, 60)),
        *one(31, 10, 0.72, (178, 84, 92)),
        *(ink(leaf, blade) for blade in blades),
    )


def balloon() -> Picture:
    """Draw a hot-air balloon between clouds."""
    coral, teal, sand = (222, 112, 92), (64, 132, 136), (240, 206, 142)
    envelope = closed(
        [
            (0, -60),
            (24, -54),
            (38, -32),
            (36, -10),
            (22, 10),
            (9, 24),
            (-9, 24),
            (-22, 10),
            (-36, -10),
            (-38, -32),
            (-24, -54),
        ]
    )
    strips = []
    for edges, colour in [
        ((0.72, 0.36), teal),
        ((0.36, 0.0), sand),
        ((0.0, -0.36), coral),
        ((-0.36, -0.72), teal),
    ]:
        right = envelope * [1, 1]
        middle_x = np.stack([right[:, 0] * edges[0], right[:, 1]], axis=1)
        other_x = np.stack([right[:, 0] * edges[1], right[:, 1]], axis=1)
        half = envelope[:, 0] >= -1e-9
        order = np.argsort(envelope[half, 1])
        strips.append(ink(colour, np.vstack([middle_x[half][order], other_x[half][order][::-1]])))
    cloud = closed([(-18, 6), (-14, -3), (-5, -4), (0, -11), (10, -9), (14, -1), (20, 2), (18, 8)])
    return (
        ink(coral, envelope),
        *strips,
        ink(INK_DARK, stroke([(-8, 23), (-7, 40)], 1.2)),
        ink(INK_DARK, stroke([(8, 23), (7, 40)], 1.2)),
        ink((150, 104, 66), box(-9, 39, 9, 53, round_by=3)),
        ink((112, 74, 46), box(-10, 38, 10, 42, round_by=1.5)),
        ink((232, 236, 240), cloud + np.array([-32, 34])),
        ink((232, 236, 240), cloud * 0.8 + np.array([34, 28])),
    )


def sunshine() -> Picture:
    """Draw half a sun over two lines of lettering."""
    gold, brick = (234, 172, 60), (176, 78, 52)
    t = np.linspace(np.pi, 2 * np.pi, 40)
    sun = np.column_stack([21 * np.cos(t), 21 * np.sin(t) - 8])
    angles = np.deg2rad([188, 211, 234, 257, 283, 306, 329, 352])
    rays = [
        stroke([(27 * np.cos(a), 27 * np.sin(a) - 8), (38 * np.cos(a), 38 * np.sin(a) - 8)], 4.2)
        for a in angles
    ]
    return (
        ink(gold, sun),
        *(ink(gold, ray) for ray in rays),
        ink(brick, *words("little", height=24, at=(0, 10), bold=0.035)),
        ink(brick, *words("SUNSHINE", height=20, at=(0, 33), bold=0.06)),
    )


def bear() -> Picture:
    """Draw a bear's face in lines only, for embroidery."""
    line: Colour = (224, 221, 212)
    ears = [
        curve([(-39, -10), (-44, -34), (-22, -36), (-16, -28)]),
        curve([(39, -10), (44, -34), (22, -36), (16, -28)]),
    ]
    mouth = curve([(-8, 22), (0, 26), (8, 22)])
    return (
        ink(line, oval(0, 4, 41.3, 36.3), oval(0, 4, 38.7, 33.7)),
        ink(line, oval(0, 18, 16.3, 13.3), oval(0, 18, 13.7, 10.7)),
        *(ink(line, stroke(part, 2.6)) for part in (*ears, mouth)),
        ink(line, oval(0, 13, 5, 3.6)),
        ink(line, oval(-17, -2, 3)),
        ink(line, oval(17, -2, 3)),
        *(
            ink(line, stroke(part, 2.4))
            for part in (
                curve([(-50, 40), (-46, 52), (-20, 60), (0, 58)]),
                curve([(50, 40), (46, 52), (20, 60), (0, 58)]),
            )
        ),
        *(
            ink(line, oval(x, y, 4.6, 2.6, turn))
            for x, y, turn in [
                (-50, 48, 60),
                (-38, 50, 70),
                (-30, 61, 20),
                (50, 48, -60),
                (38, 50, -70),
                (30, 61, -20),
            ]
        ),
    )


def rainbow() -> Picture:
    """Draw a rainbow that ends in clouds, over a word."""
    colours = [(196, 88, 78), (226, 152, 86), (236, 202, 116), (122, 164, 136), (92, 124, 164)]
    t = np.linspace(np.pi, 2 * np.pi, 40)
    arcs = [
        ink(c, stroke(np.column_stack([r * np.cos(t), r * np.sin(t) + 12]), 6.2))
        for r, c in zip((46, 39, 32, 25, 18), colours, strict=True)
    ]
    cloud = closed([(-17, 6), (-13, -3), (-5, -5), (2, -10), (11, -5), (16, 0), (17, 7), (0, 9)])
    return (
        *arcs,
        ink((250, 250, 250), cloud + np.array([-33, 14])),
        ink((250, 250, 250), cloud + np.array([33, 14])),
        ink((178, 70, 74), *words("dream", height=31, at=(0, 38), bold=0.055)),
    )


def snail() -> Picture:
    """Draw a snail."""
    shell, line, skin = (198, 140, 92), (134, 84, 54), (222, 196, 150)
    t = np.linspace(0, 5 * np.pi, 120)
    coil = np.column_stack([(27 - 1.65 * t) * np.cos(t) - 4, (27 - 1.65 * t) * np.sin(t) - 6])
    body = closed(
        [
            (-50, 28),
            (-30, 16),
            (10, 18),
            (28, 10),
            (32, -10),
            (42, -16),
            (49, -8),
            (46, 14),
            (34, 27),
            (10, 30),
            (-30, 31),
        ]
    )
    return (
        ink(skin, stroke([(38, -12), (34, -30)], 2.6)),
        ink(skin, stroke([(44, -12), (48, -30)], 2.6)),
        ink(skin, oval(34, -31, 3)),
        ink(skin, oval(48, -31, 3)),
        ink(skin, body),
        ink(shell, oval(-4, -6, 29)),
        ink(line, stroke(coil, 3.4)),
        ink(INK_DARK, oval(41, -6, 2)),
        ink(line, stroke([(40, 2), (44, 4), (47, 1)], 1.6)),
    )


def wild() -> Picture:
    """Draw lettering alone, on an arch."""
    return (
        ink((238, 226, 196), *words("WILD", height=42, at=(0, -14), bold=0.08, arch=10)),
        ink((206, 120, 72), *words("and free", height=26, at=(0, 22), bold=0.03)),
    )


MOTIFS: dict[str, Callable[[], Picture]] = {
    "fox": fox,
    "boat": boat,
    "moon": moon,
    "tractor": tractor,
    "whale": whale,
    "mushrooms": mushrooms,
    "balloon": balloon,
    "sunshine": sunshine,
    "rainbow": rainbow,
    "snail": snail,
    "wild": wild,
}
