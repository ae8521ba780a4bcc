"""Garments cut from panels, sewn and ribbed; each maker returns a layer and its outline."""

from collections.abc import Callable

import numpy as np

from maker.fields import blurred, bumps
from maker.layer import Layer, dome, mask_of, press
from maker.outlines import Path, band, beside, curve, joined, mirrored
from maker.sewing import Style, Work, neck, start


def bodysuit(
    style: Style, rng: np.random.Generator, *, long_sleeves: bool = False
) -> tuple[Layer, Path]:
    """Short-sleeved bodysuit with snaps at the crotch."""
    k = style.size
    work = start(style, 430 if not long_sleeves else 560, 460, rng)
    if long_sleeves:
        sleeve = [
            [(58, -190), (95, -180), (122, -158)],
            [(122, -158), (180, -92), (236, -22)],
            [(236, -22), (223, -4), (206, 8)],
            [(206, 8), (150, -48), (112, -92)],
        ]
        cuff = curve([(236, -22), (223, -4), (206, 8)])
    else:
        sleeve = [
            [(58, -190), (95, -180), (122, -158)],
            [(122, -158), (150, -126), (176, -98)],
            [(176, -98), (162, -76), (142, -66)],
            [(142, -66), (124, -80), (108, -92)],
        ]
        cuff = curve([(176, -98), (162, -76), (142, -66)])
    side = [
        [(sleeve[-1][-1]), (105, -30), (108, 40), (114, 96)],
        [(114, 96), (88, 112), (56, 140), (40, 172), (38, 192)],
        [(38, 192), (36, 206), (30, 212)],
        [(30, 212), (0, 214)],
    ]
    right = joined([(0, -150), (28, -158), (48, -178), (58, -190)], *sleeve, *side) * k
    outline = work.wobbly(mirrored(right))
    front_neck = (
        curve(
            [(-58, -190), (-48, -178), (-28, -158), (0, -150), (28, -158), (48, -178), (58, -190)]
        )
        * k
    )
    back_neck = curve([(-58, -190), (-36, -181), (0, -178), (36, -181), (58, -190)]) * k
    neck(work, front_neck, back_neck, front_neck)
    work.label((0, -176 * k + 11))
    work.piece(outline)
    work.rib_band(front_neck, 12.0)
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        armhole = curve([(62, -188), (86, -160), (98, -128), (108, -92)]) * k * mirror
        work.seam(armhole if flip > 0 else armhole[::-1])
        end = cuff * k * mirror
        work.hem(end if flip > 0 else end[::-1], 9.0)
        leg = curve([(114, 96), (88, 112), (56, 140), (40, 172), (38, 192)]) * k * mirror
        work.rib_band(leg if flip > 0 else leg[::-1], 9.0)
        overlap = curve([(60, -189), (52, -172), (66, -140), (100, -112)]) * k * mirror
        press(work.layer, overlap, deep_mm=-0.7, wide_mm=2.2)
    tab = np.array([(-37.0, 190.0), (37.0, 190.0)]) * k
    work.hem(np.array([(30.0, 213.0), (-30.0, 213.0)]) * k, 12.0)
    press(work.layer, tab, deep_mm=0.5, wide_mm=1.2)
    for x in (-22, 0, 22):
        dome(work.layer, (x * k, 203 * k), 5.0, style.snap)
    pulls = []
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        pulls += [
            (curve([(104, -88), (78, -62), (58, -20)]) * mirror, 2.2, 4.5),
            (curve([(106, -84), (92, -40), (90, 10)]) * mirror, 1.6, 4.0),
            (curve([(46, 170), (58, 118), (78, 70)]) * mirror, 2.2, 5.0),
            (curve([(30, 188), (26, 140), (38, 88)]) * mirror, 1.6, 4.5),
            (curve([(112, 92), (76, 88), (36, 100)]) * mirror, 1.8, 4.5),
        ]
    return work.finish(*pulls), outline


def shirt(
    style: Style, rng: np.random.Generator, *, long_sleeves: bool = False
) -> tuple[Layer, Path]:
    """Toddler's T-shirt or sweatshirt."""
    k = style.size
    work = start(style, 430 if not long_sleeves else 600, 430, rng)
    if long_sleeves:
        sleeve = [
            [(64, -188), (100, -178), (134, -160)],
            [(134, -160), (196, -70), (252, 40)],
            [(252, 40), (238, 54), (214, 62)],
            [(214, 62), (166, -20), (124, -84)],
        ]
        cuff = curve([(252, 40), (238, 54), (214, 62)])
    else:
        sleeve = [
            [(64, -188), (100, -178), (134, -160)],
            [(134, -160), (166, -124), (194, -88)],
            [(194, -88), (178, -66), (158, -54)],
            [(158, -54), (140, -70), (122, -84)],
        ]
        cuff = curve([(194, -88), (178, -66), (158, -54)])
    side = [[sleeve[-1][-1], (118, -20), (120, 70), (126, 176)], [(126, 176), (60, 181), (0, 180)]]
    right = joined([(0, -148), (30, -156), (52, -174), (64, -188)], *sleeve, *side) * k
    outline = work.wobbly(mirrored(right), 1.6)
    front_neck = (
        curve(
            [(-64, -188), (-52, -174), (-30, -156), (0, -148), (30, -156), (52, -174), (64, -188)]
        )
        * k
    )
    back_neck = curve([(-64, -188), (-38, -180), (0, -177), (38, -180), (64, -188)]) * k
    neck(work, front_neck, back_neck, front_neck)
    work.label((0, -174 * k + 11))
    work.piece(outline)
    work.rib_band(front_neck, 14.0)
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        armhole = curve([(70, -186), (96, -158), (112, -122), (122, -84)]) * k * mirror
        work.seam(armhole if flip > 0 else armhole[::-1], topstitch=long_sleeves)
        end = cuff * k * mirror
        if long_sleeves:
            work.cuff(end if flip > 0 else end[::-1], 24.0)
        else:
            work.hem(end if flip > 0 else end[::-1], 11.0)
    bottom = curve([(126, 176), (60, 181), (0, 180), (-60, 181), (-126, 176)]) * k
    if long_sleeves:
        work.rib_band(bottom, 22.0)
    else:
        work.hem(bottom, 13.0)
    pulls = []
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        pulls += [
            (curve([(120, -80), (90, -58), (62, -20)]) * mirror, 2.4, 5.0),
            (curve([(120, -76), (100, -30), (98, 40)]) * mirror, 1.8, 5.0),
            (curve([(128, -92), (140, -108), (152, -138)]) * mirror, 1.8, 4.0),
            (curve([(112, 172), (98, 100), (92, 50)]) * mirror, 1.5, 6.0),
        ]
    return work.finish(*pulls), outline


def bib(style: Style, rng: np.random.Generator) -> tuple[Layer, Path]:
    """Bib bound round its edge, closed behind the neck by a snap."""
    k = style.size
    work = start(style, 300, 380, rng)
    inner = [(0, -42), (9, -43), (27, -50), (42, -67), (46, -92), (38, -116), (21, -134)]
    tab = [(12, -146), (14, -158), (27, -161)]
    outer = [(62, -142), (84, -104), (91, -58), (106, -12), (112, 48), (104, 110), (72, 148)]
    right = curve([*inner, *tab, *outer, (14, 158), (0, 158)]) * k
    outline = work.wobbly(mirrored(right), 0.9)
    work.piece(outline, lift_mm=0.9, edge_mm=2.2)
    rim = np.vstack([outline, outline[:1]])
    work.rib_band(rim, 6.5, lift_mm=1.2, around=True)
    for x in (-24, 24):
        dome(work.layer, (x * k, -147 * k), 4.6, style.snap)
    pulls = [
        (curve([(40, -60), (66, -20), (70, 40)]), 1.2, 7.0),
        (curve([(-44, -58), (-60, -10), (-44, 60)]), 1.4, 8.0),
        (curve([(80, 130), (40, 96), (-20, 104)]), 1.3, 8.0),
    ]
    return work.finish(*pulls), outline


def leggings(style: Style, rng: np.random.Generator) -> tuple[Layer, Path]:
    """Back of a pair of leggings: elastic waist, a seat panel, ribbed cuffs."""
    k = style.size
    work = start(style, 360, 500, rng)
    right = (
        joined(
            [(0, -216), (52, -218), (98, -214)],
            [(98, -214), (112, -150), (124, -84), (128, -10), (118, 90), (104, 214)],
            [(104, 214), (76, 222), (52, 220)],
            [(52, 220), (44, 120), (28, 20), (10, -26), (0, -34)],
        )
        * k
    )
    outline = work.wobbly(mirrored(right), 1.6)
    work.piece(outline)
    waist = curve([(-98, -214), (-52, -218), (0, -216), (52, -218), (98, -214)]) * k
    work.rib_band(waist, 26.0, lift_mm=1.4)
    gather = mask_of(work.layer, band(beside(waist, 22), 40.0))
    columns = bumps(rng, work.layer.shape, 5.5 * style.px_per_mm, 60 * style.px_per_mm)
    work.layer.height += 0.55 * blurred(gather, 7 * style.px_per_mm) * columns
    work.seam(curve([(0, -192), (1, -120), (0, -34)]) * k)
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        ankle = curve([(104, 214), (76, 222), (52, 220)]) * k * mirror
        work.cuff(ankle if flip > 0 else ankle[::-1], 24.0)
    pulls = []
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        pulls += [
            (curve([(4, -36), (40, -52), (84, -50)]) * mirror, 2.6, 5.0),
            (curve([(8, -26), (44, -10), (92, 6)]) * mirror, 2.2, 5.0),
            (curve([(14, -10), (48, 40), (66, 100)]) * mirror, 2.0, 5.0),
            (curve([(46, 180), (70, 168), (104, 176)]) * mirror, 1.6, 4.5),
            (curve([(110, 150), (84, 140), (56, 150)]) * mirror, 1.4, 4.5),
        ]
    return work.finish(*pulls), outline


def dress(style: Style, rng: np.random.Generator) -> tuple[Layer, Path]:
    """Dress: short bodice with cap sleeves and a gathered skirt."""
    k = style.size
    work = start(style, 480, 560, rng)
    right = (
        joined(
            [(0, -196), (26, -202), (44, -220), (52, -236)],
            [(52, -236), (84, -228), (106, -214)],
            [(106, -214), (128, -192), (138, -168)],
            [(138, -168), (118, -156), (98, -150)],
            [(98, -150), (92, -116), (92, -72)],
            [(92, -72), (122, 40), (158, 140), (186, 232)],
            [(186, 232), (110, 250), (0, 254)],
        )
        * k
    )
    outline = work.wobbly(mirrored(right), 2.0)
    front_neck = (
        curve(
            [(-52, -236), (-44, -220), (-26, -202), (0, -196), (26, -202), (44, -220), (52, -236)]
        )
        * k
    )
    back_neck = curve([(-52, -236), (-30, -227), (0, -225), (30, -227), (52, -236)]) * k
    neck(work, front_neck, back_neck, front_neck)
    work.label((0, -222 * k + 10))
    work.piece(outline)
    work.rib_band(front_neck, 9.0)
    waist = curve([(92, -72), (46, -67), (0, -66), (-46, -67), (-92, -72)]) * k
    gather_skirt(work, waist[::-1])
    work.seam(waist[::-1], deep_mm=1.6)
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        armhole = curve([(58, -234), (84, -204), (94, -178), (98, -150)]) * k * mirror
        work.seam(armhole if flip > 0 else armhole[::-1])
        end = np.array([(138.0, -168.0), (98.0, -150.0)]) * k * mirror
        work.hem(end if flip > 0 else end[::-1], 7.0)
    work.hem(curve([(186, 232), (110, 250), (0, 254), (-110, 250), (-186, 232)]) * k, 14.0)
    pulls = [
        (curve([(96, -146), (76, -124), (48, -104)]), 1.6, 4.5),
        (curve([(-96, -146), (-70, -128), (-40, -90)]), 1.6, 4.5),
    ]
    return work.finish(*pulls), outline


def gather_skirt(work: Work, waist: Path) -> None:
    """Folds that fan out from a gathered waist and grow broader towards the hem."""
    layer = work.layer
    rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
    middle = layer.px(np.array((0.0, -66.0 * work.style.size)))
    below = (rows - middle[1]) / np.float32(layer.px_per_mm)
    fan = (
        (columns - middle[0]) / np.float32(layer.px_per_mm) / (92 + np.clip(below, 0, None) * 0.33)
    )
    profile = np.zeros(2400, np.float32)
    for cells, weight in [(17, 0.9), (34, 0.8), (64, 0.55)]:
        knots = work.rng.normal(0, 1, cells + 3)
        profile += weight * np.interp(
            np.linspace(0, cells, 2400), np.arange(cells + 3), knots
        ).astype(np.float32)
    sway = 0.035 * bumps(work.rng, layer.shape, 90 * layer.px_per_mm)
    index = np.clip((fan + sway + 1.1) / 2.2 * 2399, 0, 2399).astype(int)
    fine = blurred(profile[index], 1.0 * layer.px_per_mm)
    broad = blurred(profile[index], 3.4 * layer.px_per_mm)
    near = np.exp(-np.clip(below, 0, None) / 34)
    folds = (1.5 * near * fine + 2.1 * (1 - 0.75 * near) * broad) * (below > 0)
    layer.height += (1.5 * folds * (layer.cover > 0)).astype(np.float32)


def sleepsuit(style: Style, rng: np.random.Generator) -> tuple[Layer, Path]:
    """Footed sleepsuit with a zip from the neck to one ankle."""
    k = style.size
    work = start(style, 520, 640, rng)
    right = (
        joined(
            [(0, -254), (26, -260), (42, -276), (50, -288)],
            [(50, -288), (84, -278), (110, -260)],
            [(110, -260), (160, -190), (214, -112)],
            [(214, -112), (202, -96), (182, -88)],
            [(182, -88), (138, -150), (102, -196)],
            [(102, -196), (100, -100), (104, 0), (112, 70)],
            [(112, 70), (118, 160), (122, 228), (126, 262)],
            [(126, 262), (122, 286), (98, 292), (66, 286), (58, 268)],
            [(58, 268), (44, 170), (20, 92), (0, 80)],
        )
        * k
    )
    outline = work.wobbly(mirrored(right), 1.8)
    front_neck = (
        curve(
            [(-50, -288), (-42, -276), (-26, -260), (0, -254), (26, -260), (42, -276), (50, -288)]
        )
        * k
    )
    back_neck = curve([(-50, -288), (-30, -280), (0, -277), (30, -280), (50, -288)]) * k
    neck(work, front_neck, back_neck, front_neck)
    work.label((0, -274 * k + 10))
    work.piece(outline)
    work.rib_band(front_neck, 11.0)
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        armhole = curve([(56, -286), (82, -256), (96, -224), (102, -196)]) * k * mirror
        work.seam(armhole if flip > 0 else armhole[::-1])
        end = curve([(214, -112), (202, -96), (182, -88)]) * k * mirror
        work.cuff(end if flip > 0 else end[::-1], 20.0)
        ankle = curve([(124, 248), (92, 256), (56, 250)]) * k * mirror
        work.seam(ankle if flip > 0 else ankle[::-1], topstitch=True)
    pulls = []
    for flip in (1, -1):
        mirror = np.array([flip, 1])
        pulls += [
            (curve([(100, -190), (72, -166), (50, -120)]) * mirror, 2.4, 5.0),
            (curve([(102, -186), (86, -130), (84, -60)]) * mirror, 1.8, 5.0),
            (curve([(6, 84), (46, 66), (96, 64)]) * mirror, 2.4, 5.0),
            (curve([(14, 96), (54, 120), (104, 128)]) * mirror, 2.0, 5.0),
            (curve([(60, 236), (88, 226), (118, 234)]) * mirror, 1.8, 5.0),
        ]
    return work.finish(*pulls), outline


def zip_path(size: float) -> Path:
    """Where the sleepsuit's zip runs."""
    return curve([(0, -252), (1, -150), (3, -60), (14, 12), (42, 92), (68, 172), (88, 240)]) * size


GARMENTS: dict[str, Callable[[Style, np.random.Generator], tuple[Layer, Path]]] = {
    "bodysuit": bodysuit,
    "shirt": shirt,
    "bib": bib,
    "leggings": leggings,
    "dress": dress,
    "sleepsuit": sleepsuit,
}
