"""Cloth to buy: never less than is cut, never a length that the shop does not cut."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motiffit.errors import UsageError
from motiffit.quilt.backing import count_widths, plan_backing
from motiffit.quilt.beds import choose_batting
from motiffit.quilt.binding import count_joined_strips
from motiffit.quilt.cutting import Piece, plan_cutting
from motiffit.quilt.lengths import common_measure, exact_mm, format_cut, round_up_to
from motiffit.quilt.options import Fabric, PlanOptions, default_options
from motiffit.quilt.strips import join_widths
from motiffit.quilt.yardage import SHOPS, YARD_MM, buy_length, shop_length
from motiffit.units import MM_PER_INCH

INCH = MM_PER_INCH
BLUE = Fabric(name="blue", colour="#5b7089")
RED = Fabric(name="red", colour="#a03030")

shops = st.sampled_from(sorted(SHOPS))
long_lengths = st.fractions(min_value=0, max_value=20_000, max_denominator=40)


@given(need=long_lengths, shop=shops)
def test_a_shop_cuts_the_least_length_that_suffices(need: F, shop: str) -> None:
    unit, parts = SHOPS[shop]  # type: ignore[index]
    bought = shop_length(need, shop)  # type: ignore[arg-type]
    steps = sorted((part + whole) * unit for part in parts for whole in range(25))
    assert bought == next(step for step in steps if step >= need)


def test_allowances_are_added_before_rounding() -> None:
    purchase = buy_length(34 * INCH, straightening_mm=2 * INCH, shrinkage=F(0), shop="yard")
    assert (purchase.need_mm, purchase.buy_mm) == (YARD_MM, YARD_MM)
    shrunk = buy_length(34 * INCH, straightening_mm=2 * INCH, shrinkage=F(1, 10), shop="yard")
    assert shrunk.need_mm == 40 * INCH
    assert shrunk.words == "1 1/8 yd (40 1/2 in)"


def test_nothing_cut_is_nothing_bought() -> None:
    purchase = buy_length(F(0), straightening_mm=2 * INCH, shrinkage=F(3, 100), shop="10cm")
    assert purchase.buy_mm == 0


@pytest.mark.parametrize(
    ("shop", "words"),
    [("yard", "1 1/8 yd (40 1/2 in)"), ("10cm", "1.1 m"), ("25cm", "1.25 m"), ("50cm", "1.5 m")],
)
def test_words_for_the_shop(shop: str, words: str) -> None:
    purchase = buy_length(F(1010), straightening_mm=F(0), shrinkage=F(0), shop=shop)  # type: ignore[arg-type]
    assert purchase.words == words


# --- the back ------------------------------------------------------------------------------------

sizes = st.fractions(min_value=10, max_value=120, max_denominator=4)


@given(
    width=sizes,
    height=sizes,
    cloth=st.fractions(min_value=20, max_value=108, max_denominator=4),
    overage=st.fractions(min_value=0, max_value=6, max_denominator=2),
    join=st.fractions(min_value=0, max_value=1, max_denominator=4),
)
def test_joined_lengths_cover_the_quilt_and_one_fewer_does_not(
    width: F, height: F, cloth: F, overage: F, join: F
) -> None:
    back = plan_backing((width, height), overage_mm=overage, cloth_width_mm=cloth, join_mm=join)
    across, along = (
        (back.width_mm, back.height_mm) if back.run == "down" else (back.height_mm, back.width_mm)
    )
    assert (back.width_mm, back.height_mm) == (width + 2 * overage, height + 2 * overage)
    assert back.covers_mm == join_widths([cloth] * back.panels, join) >= across
    assert back.panel_mm == along
    if back.panels > 1:
        assert join_widths([cloth] * (back.panels - 1), join) < across
    other = count_widths(along, cloth, join) * across
    assert back.length_mm <= other


def test_a_split_length_is_offered_only_where_it_still_covers() -> None:
    wide = plan_backing((F(70), F(90)), overage_mm=F(4), cloth_width_mm=F(42), join_mm=F(1, 2))
    assert (wide.panels, wide.can_split) == (2, True)
    # 83 across: two lengths of 42 just do; with a second join they give 82
    tight = plan_backing((F(83), F(95)), overage_mm=F(0), cloth_width_mm=F(42), join_mm=F(1, 2))
    assert (tight.panels, tight.can_split) == (2, False)


def test_cloth_lost_in_joins_is_a_wrong_call() -> None:
    with pytest.raises(ValueError, match="join"):
        count_widths(F(80), F(1), F(1, 2))
    with pytest.raises(ValueError, match="join"):
        count_joined_strips(F(80), F(2), F(2))


@given(run=sizes, cloth=st.integers(20, 60), loss=st.integers(0, 4))
def test_joined_strips_give_the_run_and_one_fewer_does_not(run: F, cloth: int, loss: int) -> None:
    strips = count_joined_strips(run, F(cloth), F(loss))
    assert strips * cloth - (strips - 1) * loss >= run
    assert strips == 1 or (strips - 1) * cloth - (strips - 2) * loss < run


def test_batting_larger_than_any_package() -> None:
    batting = choose_batting((121 * INCH, 90 * INCH), F(0))
    assert (batting.package, batting.package_size_mm) == (None, None)
    assert choose_batting((60 * INCH, 45 * INCH), F(0)).package == "crib"


# --- the cutting list ----------------------------------------------------------------------------


def piece(fabric: Fabric, width: F, length: F, count: int, *, can_join: bool = False) -> Piece:
    """Pieces in inches."""
    return Piece(
        use="strips",
        fabric=fabric,
        width_mm=width * INCH,
        length_mm=length * INCH,
        count=count,
        can_join=can_join,
    )


@given(
    pieces=st.lists(
        st.builds(
            piece,
            st.sampled_from((BLUE, RED)),
            st.sampled_from((F(3, 2), F(2))),
            st.fractions(min_value=2, max_value=38, max_denominator=2),
            st.integers(0, 9),
        )
        | st.builds(
            piece,
            st.sampled_from((BLUE, RED)),
            st.sampled_from((F(3, 2), F(2))),
            st.fractions(min_value=36, max_value=90, max_denominator=2),
            st.integers(0, 9),
            can_join=st.just(True),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_every_piece_of_every_fabric_is_in_the_list(pieces: list[Piece]) -> None:
    wanted: Counter[tuple[str, F, F]] = Counter()
    for one in pieces:
        wanted[one.fabric.name, one.width_mm, one.length_mm] += one.count
    listed: Counter[tuple[str, F, F]] = Counter()
    for need in plan_cutting(pieces, PlanOptions()):
        for group in need.groups:
            for length, count in group.pieces:
                listed[need.fabric.name, group.width_mm, length] += count
        net = sum(group.width_mm * group.strips for group in need.groups)
        assert need.purchase.buy_mm >= need.purchase.need_mm >= need.purchase.net_mm == net
    assert listed == +wanted


def test_a_narrower_bolt_is_told() -> None:
    need = plan_cutting([piece(BLUE, F(2), F(39, 2), 40)], PlanOptions())[0]
    assert need.strips == 20
    # only one piece of 19 1/2 in fits across 38 in
    assert need.narrower.strips == 40
    short = plan_cutting([piece(BLUE, F(2), F(39), 4)], PlanOptions())[0]
    assert (short.narrower.strips, short.narrower.purchase) == (None, None)


@given(length=st.fractions(min_value=30, max_value=90, max_denominator=4), count=st.integers(1, 9))
def test_a_narrower_bolt_gives_what_can_be_joined_as_if_planned_for_it(
    length: F, count: int
) -> None:
    border = piece(BLUE, F(9, 2), length, count, can_join=True)
    need = plan_cutting([border], PlanOptions())[0]
    narrow = plan_cutting([border], PlanOptions(cloth_width_mm=38 * INCH))[0]
    assert (need.narrower.strips, need.narrower.purchase) == (narrow.strips, narrow.purchase)


def test_a_piece_longer_than_the_cloth_is_explained() -> None:
    with pytest.raises(UsageError, match=r"'blue' for strips needs pieces 41 in long"):
        plan_cutting([piece(BLUE, F(2), F(41), 1)], PlanOptions())
    with pytest.raises(UsageError, match=r"'blue' for strips needs pieces 40 in wide"):
        plan_cutting([piece(BLUE, F(40), F(90), 1, can_join=True)], PlanOptions())


# --- lengths and wishes --------------------------------------------------------------------------


@given(st.lists(st.fractions(min_value=F(1, 16), max_value=50, max_denominator=16), min_size=1))
def test_common_measure_divides_all_and_nothing_larger_does(lengths: list[F]) -> None:
    measure = common_measure(lengths)
    parts = [length / measure for length in lengths]
    assert all(part.denominator == 1 for part in parts)
    assert common_measure(parts) == 1


def test_exact_lengths_of_a_record() -> None:
    for sixtyfourths in range(1, 64 * 20):
        length = F(sixtyfourths, 64) * INCH
        assert exact_mm(float(length)) == length


def test_words_for_a_cut() -> None:
    assert format_cut(F(3, 2) * INCH + INCH / 32, "in") == "1 17/32 in"
    assert format_cut(F(100), "in") == "about 3 15/16 in"
    assert format_cut(F(1127, 10), "cm") == "11.27 cm"
    assert round_up_to(F(7, 3), F(1, 2)) == F(5, 2)


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"block_mm": F(0)}, "block must be"),
        ({"strips_mm": (F(25), F(-1))}, "strip width"),
        ({"sash_mm": F(-1)}, "sash width"),
        ({"shrinkage": F(1, 2)}, "shrinkage"),
        ({"narrower_mm": 40 * INCH}, "whole width"),
        ({"rows": 0}, "row"),
        ({"scheme": "own"}, "names"),
    ],
)
def test_wishes_that_make_no_sense(wish: dict[str, object], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        replace(PlanOptions(), **wish)  # type: ignore[arg-type]


def test_metric_wishes_are_round() -> None:
    options = default_options("cm")
    assert options.shop == "10cm"
    assert options.cloth_width_mm % 10 == 0
