"""Worked examples that quilters have published, reproduced exactly, the source beside each.

Sources are named as they were read; lengths are inches unless said otherwise.
"""

from collections import Counter
from fractions import Fraction as F
from math import ceil, floor

import pytest

from motiffit.quilt.backing import count_widths, plan_backing
from motiffit.quilt.beds import MATTRESSES, choose_batting, quilt_for_bed
from motiffit.quilt.binding import binding_cut_width, count_joined_strips, plan_binding
from motiffit.quilt.extension import extension_cut_width
from motiffit.quilt.nesting import nest_pieces
from motiffit.quilt.setting import (
    Setting,
    border_pieces,
    choose_grid,
    count_cornerstones,
    count_sashes,
    measure_top,
)
from motiffit.quilt.stock import cut_strips
from motiffit.quilt.strips import build_block, join_widths
from motiffit.quilt.yardage import YARD_MM, shop_length
from motiffit.units import MM_PER_INCH, parse_length

QUARTER = F(1, 4)


def inches(text: str) -> list[F]:
    """Lengths such as '3 1/2, 5' in inches."""
    return [parse_length(f"{item} in", "in") / MM_PER_INCH for item in text.split(",")]


# --- seam, finished and cut size -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("cut", "sewn"),
    [
        # three 1 1/2 in strips give 3 1/2 (quiltcentric.com 2012; quiltingaffection 2014)
        ("1 1/2, 1 1/2, 1 1/2", "3 1/2"),
        # 2 + 2 -> 3 1/2 (zenofquilting.blogspot.com)
        ("2, 2", "3 1/2"),
        # two 2 1/2 in squares -> 4 1/2 long (avalanden.wordpress.com 2010)
        ("2 1/2, 2 1/2", "4 1/2"),
        # three 2 1/2 in strips -> 6 1/2 in square (tamarinis.typepad.com 2021)
        ("2 1/2, 2 1/2, 2 1/2", "6 1/2"),
        # middle 1 1/2, outer two 1 3/4 still raw at one edge (quilting.about.com): 5 in
        ("2, 2, 2", "5"),
        # three 5 in squares, the middle 4 1/2 (traceypereira.blogspot.com): 14 in
        ("5, 5, 5", "14"),
    ],
)
def test_pieces_sewn_side_by_side(cut: str, sewn: str) -> None:
    assert join_widths(inches(cut), QUARTER) == inches(sewn)[0]


def test_cut_size_is_finished_plus_half_an_inch() -> None:
    # 12 -> 12 1/2 (quiltingboard.com, resources, article 31); 3 -> 3 1/2 (harriger.com)
    for finished, cut in ((F(12), F(25, 2)), (F(3), F(7, 2))):
        block = build_block(finished, [], 0, seam_allowance_mm=QUARTER)
        assert block.cut_centre_mm == cut


def test_strips_between_seams_show_their_cut_width_less_half_an_inch() -> None:
    # three 1 1/2 in strips: the middle shows exactly 1 in (quiltcentric.com 2012)
    strip = build_block(F(3), [F(1)], 2, seam_allowance_mm=QUARTER).strips[0]
    assert (strip.cut_width_mm, strip.width_mm) == (F(3, 2), F(1))


# --- log cabin -----------------------------------------------------------------------------------


def cut_lengths(centre: F, strips: list[F], half_rounds: int, **how: str) -> tuple[list[F], F]:
    """Cut lengths in sewing order and the cut block, from cut sizes."""
    block = build_block(
        centre - 2 * QUARTER,
        [width - 2 * QUARTER for width in strips],
        half_rounds,
        seam_allowance_mm=QUARTER,
        **how,  # type: ignore[arg-type]
    )
    assert block.cut_width_mm == block.cut_height_mm
    return [strip.cut_length_mm for strip in block.strips], block.cut_width_mm


@pytest.mark.parametrize(
    ("centre", "strip", "light", "dark", "final"),
    [
        # 'Log cabin, 12 in block' (mylilsliceofpie.blogspot.com 2010)
        ("3 1/2", "2", "3 1/2, 5, 6 1/2, 8, 9 1/2, 11", "5, 6 1/2, 8, 9 1/2, 11, 12 1/2", "12 1/2"),
        # 'Habitat log cabin', a guild's charity block (brunswickquilters.com)
        (
            "3",
            "1 3/4",
            "3, 4 1/4, 5 1/2, 6 3/4, 8, 9 1/4",
            "4 1/4, 5 1/2, 6 3/4, 8, 9 1/4, 10 1/2",
            "10 1/2",
        ),
    ],
)
def test_log_cabin_of_two_halves(
    centre: str, strip: str, light: str, dark: str, final: str
) -> None:
    lengths, block = cut_lengths(inches(centre)[0], inches(strip), 6)
    pairs = list(zip(lengths[::2], lengths[1::2], strict=True))
    # light logs of a round are the first pair, dark ones the second
    assert [length for pair in pairs[::2] for length in pair] == inches(light)
    assert [length for pair in pairs[1::2] for length in pair] == inches(dark)
    assert block == inches(final)[0]


def test_log_cabin_of_two_strip_widths() -> None:
    # juliekquilts.blogspot.com 2016: centre 2; strips 1 1/4 and 2, a half round of each in turn
    lengths, block = cut_lengths(F(2), inches("1 1/4, 2"), 6)
    assert lengths == inches(
        "2, 2 3/4, 2 3/4, 4 1/4, 4 1/4, 5, 5, 6 1/2, 6 1/2, 7 1/4, 7 1/4, 8 3/4"
    )
    assert block == F(35, 4)


def test_courthouse_steps() -> None:
    # piecemealquilts.com 2011: centre 2 1/2, strips 1 1/2, four rounds of opposite pairs
    lengths, block = cut_lengths(F(5, 2), inches("1 1/2"), 8, construction="courthouse")
    pairs = "2 1/2, 4 1/2, 4 1/2, 6 1/2, 6 1/2, 8 1/2, 8 1/2, 10 1/2"
    assert lengths[::2] == lengths[1::2] == inches(pairs)
    assert block == F(21, 2)


def test_three_full_rounds_of_a_forum_question() -> None:
    # quiltingboard t200383: centre 1 1/2, strips 1 1/2, three rounds make 7 1/2, not 6 1/2
    assert cut_lengths(F(3, 2), [F(3, 2)], 6)[1] == F(15, 2)


def nine_block_strips(cloth_width: F) -> list[int]:
    """Strips of each fabric of the nine-block crib quilt: centre, then the six colours."""
    lengths, _ = cut_lengths(F(5, 2), [F(5, 2)], 6)
    needs = [{F(5, 2): 9}] + [dict.fromkeys(pair, 9) for pair in zip(*[iter(lengths)] * 2)]  # noqa: B905
    return [cut_strips(need, cloth_width).strips for need in needs]


def test_strips_of_the_nine_block_crib_quilt() -> None:
    # strip-piecing text by Jo Ann Smith (annex.retroarchive.org, Q-LOG.TXT): centre 1, light
    # 2 4 6, dark 3 5 6 in the order L1 D1 L2 D2 L3 D3. Its usable width is not stated; 42 fits.
    assert nine_block_strips(F(42)) == [1, 2, 3, 4, 5, 6, 6]
    # 40 and 44 in: an integer programme of the design study, not published
    assert nine_block_strips(F(40)) == [1, 2, 3, 4, 5, 6, 7]
    assert nine_block_strips(F(44)) == [1, 2, 3, 4, 5, 5, 6]


@pytest.mark.parametrize(
    ("centre", "strip", "blocks", "width", "strips"),
    [
        # strips of light and dark found by an integer programme of the design study
        ("3 1/2", "2", 12, 40, (14, 16)),
        ("3 1/2", "2", 20, 40, (22, 27)),
        ("3 1/2", "2", 30, 40, (33, 40)),
        ("3 1/2", "2", 12, 42, (13, 16)),
        ("3 1/2", "2", 20, 42, (21, 26)),
        ("3 1/2", "2", 30, 42, (32, 39)),
        ("3", "1 3/4", 20, 40, (19, 23)),
        ("3", "1 3/4", 20, 42, (18, 22)),
    ],
)
def test_strips_of_light_and_dark(
    centre: str, strip: str, blocks: int, width: int, strips: tuple[int, int]
) -> None:
    lengths, _ = cut_lengths(inches(centre)[0], inches(strip), 6)
    halves: tuple[Counter[F], Counter[F]] = (Counter(), Counter())
    for number, length in enumerate(lengths):
        halves[number // 2 % 2][length] += blocks
    plans = [cut_strips(half, F(width)) for half in halves]
    assert tuple(plan.strips for plan in plans) == strips
    assert all(plan.is_proven for plan in plans)


def test_cutting_stock_of_an_encyclopedia() -> None:
    # 'Cutting stock problem' (EPFL GraphSearch): 13 widths from a master of 5600 mm; optimum 73
    widths = (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200)
    counts = (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20)
    plan = cut_strips(dict(zip(map(F, widths), counts, strict=True)), F(5600))
    assert (plan.strips, plan.at_least) == (73, 73)


# --- yardage -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pieces", "cloth", "strips", "length"),
    [
        # 300 rectangles 3 x 2, 40 in: 24 strips, 48 in; turned 15 strips, 45 in (bobbininquilts)
        ([("3", "2", 300)], 40, [24], "48"),
        ([("2", "3", 300)], 40, [15], "45"),
        # 63 squares 9 1/2, 42 in: 16 strips, 152 in (quiltingboard 6228687)
        ([("9 1/2", "9 1/2", 63)], 42, [16], "152"),
        # 100 squares 3 1/2, 44 in: 9 strips (harriger.com)
        ([("3 1/2", "3 1/2", 100)], 44, [9], "31 1/2"),
        # eight, then twelve 5 in squares, 42 in: 5 and 10 in (slideblast, Math of Quilting 4)
        ([("5", "5", 8)], 42, [1], "5"),
        ([("5", "5", 12)], 42, [2], "10"),
        # 52 of 4 in and 20 of 3 in, 44 in: five and two strips, 26 in (quiltingboard t131707)
        ([("4", "4", 52), ("3", "3", 20)], 44, [5, 2], "26"),
        # 24 sashes 12 1/2 x 4 1/2, 44 in: 3 from a strip, 8 strips, 36 in (quiltnotes.com)
        ([("12 1/2", "4 1/2", 24)], 44, [8], "36"),
    ],
)
def test_strips_and_length_of_equal_pieces(
    pieces: list[tuple[str, str, int]], cloth: int, strips: list[int], length: str
) -> None:
    plans = [cut_strips({inches(across)[0]: count}, F(cloth)) for across, _, count in pieces]
    assert [plan.strips for plan in plans] == strips
    depths = [inches(depth)[0] for _, depth, _ in pieces]
    total = sum(n * depth for n, depth in zip(strips, depths, strict=True))
    assert total == inches(length)[0]


@pytest.mark.parametrize(
    ("need", "yards"),
    [
        # 48 in is 1 1/3 yd, 45 in 1 1/4 yd (bobbininquilts.com); 36 in 1 yd (quiltnotes.com)
        ("48", F(4, 3)),
        ("45", F(5, 4)),
        ("36", F(1)),
    ],
)
def test_yards_that_a_shop_cuts(need: str, yards: F) -> None:
    assert shop_length(inches(need)[0] * MM_PER_INCH, "yard") == yards * YARD_MM


@pytest.mark.parametrize(
    ("side", "squares"),
    list(
        zip(
            ("2", "2 1/2", "3", "3 1/2", "4", "4 1/2", "5", "5 1/2", "6", "6 1/2"),
            (99, 56, 42, 30, 20, 16, 12, 12, 9, 6),
            strict=True,
        )
    ),
)
def test_squares_from_a_fat_quarter(side: str, squares: int) -> None:
    # an 18 x 22 in fat quarter (docsbay, 'Number of squares...')
    kind = (inches(side)[0],) * 2
    assert nest_pieces({kind: squares}, F(22)).length_mm <= 18
    assert nest_pieces({kind: squares + 1}, F(22)).length_mm > 18


def test_interfacing_for_shirts() -> None:
    # 20 in wide, a piece 18 in of length each: two per yard, 12 yd for 24 (pennyformythoughts 2017)
    assert nest_pieces({(F(20), F(18)): 24}, F(20)).length_mm / 36 == 12
    # twelve squares of 18 in: half a yard each, 6 yd (myquilter.blogspot.com 2012)
    assert nest_pieces({(F(18), F(18)): 12}, F(20)).length_mm / 36 == 6


def test_extension_of_an_emblem() -> None:
    # greenquilts 2009: an emblem of 6 in finished, strips cut 6 1/2 right, 4 1/2 left and top,
    # 2 1/2 bottom make 16 x 12 in finished
    right, left, top, bottom = (F(6), F(4), F(4), F(2))
    cut = [extension_cut_width(added, QUARTER) for added in (right, left, top, bottom)]
    assert cut == inches("6 1/2, 4 1/2, 4 1/2, 2 1/2")
    assert (6 + right + left, 6 + top + bottom) == (16, 12)


# --- the top -------------------------------------------------------------------------------------


def test_sashed_quilt() -> None:
    # 4 x 5 blocks of 12 in, 4 in sashes all round: 68 x 84 in (quiltnotes.com)
    setting = Setting(block_mm=F(12), sash_mm=F(4), has_outer_sash=True)
    assert measure_top(5, 4, setting) == (68, 84)
    # 4 x 5 blocks: 30 cornerstones, 49 sashes (susanintexas.blogspot.com 2009)
    assert count_cornerstones(5, 4, has_outer_sash=True) == 30
    assert count_sashes(5, 4, has_outer_sash=True) == 49


def test_blocks_for_a_wished_width() -> None:
    # 12 in blocks, 2 in sashes, 4 in borders, 88 in wished: 5.86, so 6, and 90 in (ifeeds.online)
    setting = Setting(block_mm=F(12), sash_mm=F(2), borders_mm=(F(4),))
    grid = choose_grid(36, setting, rows=None, columns=None, wish_mm=(F(88), F(96)))
    assert (grid.columns, grid.width_mm) == (6, 90)


def test_borders_round_a_sampler() -> None:
    # 32 1/2 x 44 unfinished; 1, 2 and 4 in finished; squares in the last (oldmvc.villageserver)
    pieces = border_pieces(
        (F(65, 2), F(44)), [F(1), F(2), F(4)], seam_allowance_mm=QUARTER, has_corner_squares=True
    )
    assert [(piece.length_mm, piece.count) for piece in pieces] == [
        (F(44), 2),
        (F(69, 2), 2),
        (F(46), 2),
        (F(77, 2), 2),
        (F(50), 2),
        (F(77, 2), 2),
        (F(9, 2), 4),
    ]


def test_border_of_a_lesson() -> None:
    # 70 x 86 with a border cut 6 1/2: 338 in of border, 82 x 98 finished (slideserve)
    pieces = border_pieces(
        (F(141, 2), F(173, 2)), [F(6)], seam_allowance_mm=QUARTER, has_corner_squares=False
    )
    assert sum(piece.length_mm * piece.count for piece in pieces) == 338
    setting = Setting(block_mm=F(2), borders_mm=(F(6),))
    assert measure_top(43, 35, setting) == (82, 98)


@pytest.mark.parametrize(
    ("block", "rows", "columns", "size"),
    [
        # 12 x 18 squares of 4 in finished (marthastewart.com 264279)
        (4, 18, 12, (48, 72)),
        # blocks of 15 in: 9, 12, 16, 20, 24 of them (crystalvisionquilting)
        (15, 3, 3, (45, 45)),
        (15, 4, 3, (45, 60)),
        (15, 4, 4, (60, 60)),
        (15, 5, 4, (60, 75)),
        (15, 6, 4, (60, 90)),
    ],
)
def test_block_to_block_sizes(block: int, rows: int, columns: int, size: tuple[int, int]) -> None:
    assert measure_top(rows, columns, Setting(block_mm=F(block))) == size


# --- backing, batting, binding -------------------------------------------------------------------


def backing(width: float, height: float, cloth: int, overage: float) -> tuple[F, int, str]:
    """Length of cloth, lengths joined, and their direction; half-inch joins."""
    plan = plan_backing(
        (F(width), F(height)),
        overage_mm=F(overage),
        cloth_width_mm=F(cloth),
        join_mm=F(1, 2),
    )
    return plan.length_mm, plan.panels, plan.run


def test_two_lengths_for_a_backing() -> None:
    # 72 x 90, 42 in: two lengths of 94 (bellaonline art180154)
    assert backing(72, 90, 42, 2) == (188, 2, "down")


def test_backing_both_ways() -> None:
    # 60 x 72, 6 in more: 4.33 or 3.67 yd by direction (zenofquilting); the lesser is taken
    length, panels, run = backing(60, 72, 42, 3)
    assert (length, panels, run) == (132, 2, "across")
    assert round(float(length / 36), 2) == 3.67
    assert count_widths(F(66), F(42), F(1, 2)) * F(78) / 36 == F(13, 3)


def test_joined_lengths_of_a_forum_backing() -> None:
    # 59 x 65 top, 135 in of 42: two lengths of 67 1/2 joined are 83 wide (quiltingboard t28279)
    assert join_widths([F(42), F(42)], F(1, 2)) == 83
    # the other way round takes less: 59 and 2 1/2 in over, twice
    assert backing(59, 65, 42, 1.25) == (123, 2, "across")


def test_join_seams_count() -> None:
    # 80 x 56 from 40 in: a forum counts two widths, 112 in (quiltingboard t290638); after the
    # join they are 79 in wide, so across 80 it takes three
    assert count_widths(F(80), F(40), F(1, 2)) == 3
    assert join_widths([F(40), F(40)], F(1, 2)) < 80
    assert backing(80, 56, 40, 0) == (160, 2, "across")


def test_backing_in_one_piece() -> None:
    # 42 x 58 in from 44 in cloth, no join; 2 yd were used (kirstyncogan.com)
    length, panels, _ = backing(42, 58, 44, 1)
    assert panels == 1
    assert length <= 72


def test_layers_of_a_charity_quilt() -> None:
    # top 63 x 87: back 73 x 97, binding at least 300 in, cut 2 1/2 (woolleyfiberquilters 2014)
    plan = plan_backing((F(63), F(87)), overage_mm=F(5), cloth_width_mm=F(42), join_mm=F(1, 2))
    assert (plan.width_mm, plan.height_mm) == (73, 97)
    size = (F(63), F(87))
    binding = plan_binding(size, cut_width_mm=F(5, 2), extra_mm=F(0), cloth_width_mm=F(40))
    assert binding.run_mm == 300


def test_binding_strips() -> None:
    # cut width is 4 x finished + 1/2 in (fmquilters.org)
    assert binding_cut_width(MM_PER_INCH / 2) == F(5, 2) * MM_PER_INCH
    # 50 x 60 in, 40 in cloth, 2 in lost to each join: 5.79, so 6 (castillejacotton 2013)
    assert count_joined_strips(F(220), F(40), F(2)) == 6
    assert ceil(F(220, 38)) == 6
    # a 64 in square and 16 in more: 272 in (quiltingboard 8276918)
    square = plan_binding(
        (F(64), F(64)), cut_width_mm=F(5, 2), extra_mm=F(16), cloth_width_mm=F(42)
    )
    assert square.run_mm == 272
    # 50 x 60 with 24 in more: 6.1 strips of 40 in, so 7 (24 in: quicktipssewing 2011)
    assert count_joined_strips(F(244), F(40), F(0)) == 7
    # 2(W + L)/40, rounded up (fourpinesquilting; quiltingboard 4780778)
    assert count_joined_strips(F(220), F(40), F(0)) == ceil(F(220, 40)) == floor(F(220, 40)) + 1


@pytest.mark.parametrize(
    ("bed", "width", "length"),
    [
        # a 12 in drop at both sides and the foot: sizes printed in a lesson (slideserve);
        # the twin also in a worked example (ciaspalette.com)
        ("twin", 63, 87),
        ("full", 78, 87),
        ("queen", 84, 92),
        ("king", 100, 92),
    ],
)
def test_quilt_for_a_bed(bed: str, width: int, length: int) -> None:
    size = quilt_for_bed(bed, 12 * MM_PER_INCH)
    assert size == (width * MM_PER_INCH, length * MM_PER_INCH)


def test_mattresses_agree_with_a_second_list() -> None:
    # countrycrossroadsquilters.com; long twin is 39 x 80, not the 36 x 80 of several hobby charts
    assert MATTRESSES["twin-xl"] == (39 * MM_PER_INCH, 80 * MM_PER_INCH)


@pytest.mark.parametrize(
    ("quilt", "package"),
    [
        # quilts and the packages sold for them (honeybegood.com 2012)
        ((39, 54), "crib"),
        ((65, 88), "twin"),
        ((80, 88), "full"),
        ((86, 93), "queen"),
        ((104, 93), "king"),
        ((100, 97), "king"),
    ],
)
def test_batting_packages(quilt: tuple[int, int], package: str) -> None:
    size = (quilt[0] * MM_PER_INCH, quilt[1] * MM_PER_INCH)
    # the chart leaves 1 in: 80 in of quilt on 81 in of batting
    assert choose_batting(size, MM_PER_INCH / 2).package == package
