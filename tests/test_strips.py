"""Blocks: strips and centre add up exactly, whatever the sizes."""

from fractions import Fraction as F
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motiffit.errors import UsageError
from motiffit.quilt.fabrics import assign_fabrics
from motiffit.quilt.fitting import (
    Fit,
    block_with_strips,
    choose_strip,
    count_half_rounds,
    fit_block,
    nearest_fits,
)
from motiffit.quilt.options import Fabric
from motiffit.quilt.strips import (
    CONSTRUCTIONS,
    SIDES,
    Block,
    Construction,
    Frame,
    build_block,
    join_widths,
    order_of_sides,
)
from motiffit.quilt.turning import turn_blocks
from motiffit.units import MM_PER_INCH

INCH = MM_PER_INCH
QUARTER = INCH / 4

lengths = st.fractions(min_value=F(1, 8), max_value=20, max_denominator=16)
constructions = st.sampled_from(CONSTRUCTIONS)
sides = st.sampled_from(SIDES)


def nine_inch_block(centre: int) -> Block:
    """A centre in a 9 in block with 1 in strips."""
    half_rounds = count_half_rounds(centre * INCH, 9 * INCH, [INCH])
    assert half_rounds is not None
    return build_block(centre * INCH, [INCH], half_rounds, seam_allowance_mm=QUARTER)


# Common practice, no source: 1 in strips, quarter-inch seams, centres 3 to 9 in in a 9 in block.


@pytest.mark.parametrize("centre", range(3, 10))
def test_common_practice_cut_size(centre: int) -> None:
    block = nine_inch_block(centre)
    assert block.cut_centre_mm == (centre + F(1, 2)) * INCH
    assert block.cut_width_mm == block.cut_height_mm == F(19, 2) * INCH


@pytest.mark.parametrize("centre", range(4, 10))
def test_an_inch_more_of_centre_drops_two_strips(centre: int) -> None:
    assert len(nine_inch_block(centre - 1).strips) == len(nine_inch_block(centre).strips) + 2


@pytest.mark.parametrize("centre", range(3, 9))
def test_last_strip_is_as_long_as_the_cut_block(centre: int) -> None:
    assert nine_inch_block(centre).strips[-1].cut_length_mm == F(19, 2) * INCH


def test_middle_of_a_cut_centre() -> None:
    assert nine_inch_block(4).cut_centre_mm / 2 == F(9, 4) * INCH


def test_centre_as_large_as_the_block_needs_no_strip() -> None:
    block = nine_inch_block(9)
    assert block.strips == ()
    assert block.is_centred


@pytest.mark.parametrize(("centre", "is_centred"), [(3, True), (4, False), (5, True), (8, False)])
def test_odd_half_rounds_put_the_centre_off_the_middle(centre: int, is_centred: bool) -> None:
    block = nine_inch_block(centre)
    assert block.is_centred == is_centred
    # first strip on top, then clockwise: the odd half round lies at the top and the right
    beyond = block.width_mm - block.centre_place.left_mm - block.centre_mm
    assert block.centre_place.top_mm - block.centre_place.left_mm == (0 if is_centred else INCH)
    assert beyond - block.centre_place.left_mm == (0 if is_centred else INCH)


def area(frame: Frame) -> F:
    """Area of a rectangle."""
    return frame.width_mm * frame.height_mm


def overlap(one: Frame, other: Frame) -> bool:
    """Whether two rectangles share more than an edge."""
    return (
        one.left_mm < other.left_mm + other.width_mm
        and other.left_mm < one.left_mm + one.width_mm
        and one.top_mm < other.top_mm + other.height_mm
        and other.top_mm < one.top_mm + one.height_mm
    )


@given(
    centre=lengths,
    strips=st.lists(lengths, min_size=1, max_size=3),
    rounds=st.integers(0, 4),
    construction=constructions,
    first_side=sides,
    is_clockwise=st.booleans(),
)
def test_strips_and_centre_fill_the_block_exactly(
    centre: F,
    strips: list[F],
    rounds: int,
    construction: str,
    first_side: str,
    is_clockwise: bool,
) -> None:
    block = build_block(
        centre,
        strips,
        rounds if construction == "log-cabin" else 2 * rounds,
        seam_allowance_mm=F(1, 4),
        construction=construction,  # type: ignore[arg-type]
        first_side=first_side,  # type: ignore[arg-type]
        is_clockwise=is_clockwise,
    )
    frames = [block.centre_place, *(strip.place for strip in block.strips)]
    assert sum(area(frame) for frame in frames) == block.width_mm * block.height_mm
    assert not any(overlap(one, other) for one, other in combinations(frames, 2))
    assert block.width_mm == block.height_mm
    assert min(frame.left_mm for frame in frames) == min(frame.top_mm for frame in frames) == 0


@given(
    centre=lengths,
    strips=st.lists(lengths, min_size=1, max_size=3),
    half_rounds=st.integers(1, 6),
    allowance=st.fractions(min_value=0, max_value=1, max_denominator=8),
    take_up=st.fractions(min_value=0, max_value=F(1, 8), max_denominator=64),
)
def test_sewing_the_cut_pieces_gives_the_cut_block(
    centre: F, strips: list[F], half_rounds: int, allowance: F, take_up: F
) -> None:
    # the sewing is done here anew, piece by piece: each seam takes two allowances and its take-up
    block = build_block(
        centre, strips, half_rounds, seam_allowance_mm=allowance, seam_take_up_mm=take_up
    )
    width = height = centre + 2 * allowance
    for strip in block.strips:
        is_across = strip.side in ("top", "bottom")
        assert strip.cut_length_mm == (width if is_across else height)
        sewn = join_widths([height if is_across else width, strip.cut_width_mm], allowance)
        if is_across:
            height = sewn - take_up
        else:
            width = sewn - take_up
    assert (width, height) == (block.cut_width_mm, block.cut_height_mm)


def test_take_up_that_is_not_allowed_for_is_told() -> None:
    block = build_block(3 * INCH, [INCH], 6, seam_allowance_mm=QUARTER, seam_take_up_mm=INCH / 32)
    assert block.shrink_mm == 6 * INCH / 32
    assert block.strips[0].cut_width_mm == F(3, 2) * INCH + INCH / 32


@pytest.mark.parametrize(
    ("construction", "first_side", "is_clockwise", "order"),
    [
        ("log-cabin", "top", True, "top right bottom left"),
        ("log-cabin", "left", False, "left bottom right top"),
        ("courthouse", "top", True, "top bottom right left"),
        ("courthouse", "right", True, "right left bottom top"),
    ],
)
def test_order_of_sides(construction: str, first_side: str, is_clockwise: bool, order: str) -> None:
    found = order_of_sides(
        construction,  # type: ignore[arg-type]
        first_side=first_side,  # type: ignore[arg-type]
        is_clockwise=is_clockwise,
    )
    assert " ".join(found) == order


def test_wrong_calls() -> None:
    with pytest.raises(ValueError, match="strip width"):
        build_block(INCH, [], 2, seam_allowance_mm=QUARTER)
    with pytest.raises(ValueError, match="wider than nothing"):
        build_block(F(0), [INCH], 2, seam_allowance_mm=QUARTER)
    with pytest.raises(ValueError, match="wider than nothing"):
        build_block(INCH, [F(0)], 2, seam_allowance_mm=QUARTER)


# --- what goes together --------------------------------------------------------------------------


@given(
    centre=lengths,
    strips=st.lists(lengths, min_size=1, max_size=3),
    rounds=st.integers(0, 5),
    construction=constructions,
)
def test_counting_half_rounds_undoes_building(
    centre: F, strips: list[F], rounds: int, construction: str
) -> None:
    half_rounds = rounds if construction == "log-cabin" else 2 * rounds
    block = build_block(
        centre,
        strips,
        half_rounds,
        seam_allowance_mm=F(0),
        construction=construction,  # type: ignore[arg-type]
    )
    found = count_half_rounds(centre, block.width_mm, strips, construction)  # type: ignore[arg-type]
    assert found == half_rounds


def test_impossible_strips_are_explained_with_the_nearest_that_work() -> None:
    centres = [3 * INCH, 4 * INCH, 6 * INCH]
    with pytest.raises(UsageError) as caught:
        fit_block(centres, 9 * INCH, [F(3, 2) * INCH], "log-cabin", "in")
    text = str(caught.value)
    assert "4 in" in text
    assert "a block of 9 in with strips of 1 in" in text


def test_a_block_smaller_than_its_centre_is_explained() -> None:
    with pytest.raises(UsageError, match="must be 6 in or more"):
        fit_block([3 * INCH, 6 * INCH], 5 * INCH, [INCH], "log-cabin", "in")


@given(
    centres=st.lists(st.integers(4, 20), min_size=1, max_size=4),
    block=st.integers(21, 30),
    strip=st.integers(1, 8),
    construction=constructions,
)
def test_every_offer_works_for_every_centre(
    centres: list[int], block: int, strip: int, construction: str
) -> None:
    sizes = [F(size, 2) * INCH for size in centres]
    wish = Fit(block_mm=F(block, 2) * INCH, strips_mm=(F(strip, 4) * INCH,))
    for fit in nearest_fits(sizes, wish, construction, "in"):  # type: ignore[arg-type]
        for size in sizes:
            count = count_half_rounds(size, fit.block_mm, fit.strips_mm, construction)  # type: ignore[arg-type]
            assert count is not None


def test_the_strip_chosen_is_the_usual_one_where_it_suits() -> None:
    sizes = [3 * INCH, 4 * INCH, 9 * INCH]
    assert choose_strip(sizes, 9 * INCH, "log-cabin", "in") == INCH
    assert choose_strip(sizes, 9 * INCH, "courthouse", "in") == INCH / 2
    assert choose_strip([F(80), F(120)], F(200), "log-cabin", "cm") == 20
    assert choose_strip([9 * INCH], 9 * INCH, "log-cabin", "in") is None
    # a pile sized in inches, planned in centimetres
    assert choose_strip(sizes, 9 * INCH, "log-cabin", "cm") == INCH


# --- fabrics and turning -------------------------------------------------------------------------

CLOTHS = tuple(Fabric(name=name, colour="#000000") for name in "abcd")


def names(centre: int, scheme: str, count: int = 4) -> str:
    """Fabrics of a nine inch block's strips in sewing order, as a word."""
    block = nine_inch_block(centre)
    return "".join(cloth.name for cloth in assign_fabrics(block, scheme, CLOTHS[:count]))  # type: ignore[arg-type]


def test_fabric_schemes() -> None:
    assert names(5, "one") == "aaaaaaaa"
    assert names(5, "halves") == "aabbaabb"
    # sides: top right bottom left; from the outside, rounds match in blocks of any centre
    assert names(5, "sides") == "abcdabcd"
    assert names(5, "rounds") == "bbbbaaaa"
    assert names(6, "rounds") == "bbaaaa"
    assert names(3, "rounds", 2) == "bbbbbbbbaaaa"
    assert names(5, "own", 3) == "abcabcab"


def light_corner(side: str) -> str:
    """Where the first two strips meet."""
    corners = {"top": "top right", "right": "bottom right"}
    return corners.get(side, {"bottom": "bottom left", "left": "top left"}.get(side, ""))


def test_barn_raising_is_its_own_mirror_image() -> None:
    rows, columns = 6, 4
    turned = turn_blocks(rows, columns, "barn")
    mirror = {"right": "left", "left": "right", "top": "top", "bottom": "bottom"}
    flip = {"right": "right", "left": "left", "top": "bottom", "bottom": "top"}
    for row in range(rows):
        for column in range(columns):
            here = light_corner(turned[row * columns + column]).split()
            across = light_corner(turned[row * columns + columns - 1 - column]).split()
            below = light_corner(turned[(rows - 1 - row) * columns + column]).split()
            assert [mirror[word] for word in here] == across
            assert [flip[word] for word in here] == below


def test_furrows_and_pinwheel() -> None:
    assert turn_blocks(2, 2, "furrows") == ("top", "bottom", "bottom", "top")
    assert set(turn_blocks(2, 2, "pinwheel")) == set(SIDES)
    assert set(turn_blocks(3, 3, "same", first_side="left")) == {"left"}


@pytest.mark.parametrize(
    ("centres", "strips", "construction", "block"),
    [
        ([3, 9], [1], "log-cabin", 11),
        ([3, 9], [1], "courthouse", 11),
        ([4, 7], [F(3, 2)], "log-cabin", 10),
        ([3, 4], [1, 2], "log-cabin", 7),  # 3 + 1 + 2 + 1 and 4 + 1 + 2
        ([5], [], "log-cabin", 7),  # the usual strip of an inch
        ([3, F(31, 10)], [1], "log-cabin", None),
    ],
)
def test_the_block_in_which_every_centre_gets_a_round(
    centres: list[F], strips: list[F], construction: Construction, block: F | None
) -> None:
    found = block_with_strips(
        [centre * INCH for centre in centres],
        [strip * INCH for strip in strips],
        construction,
        "in",
    )
    assert found == (None if block is None else block * INCH)
