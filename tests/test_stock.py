"""Cutting: nothing lost, nothing twice, nothing too long, and as few strips as can be."""

from collections import Counter
from fractions import Fraction as F
from itertools import product
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motiffit.quilt import stock
from motiffit.quilt.nesting import nest_pieces
from motiffit.quilt.stock import Cutting, cut_strips, first_fit

lengths = st.fractions(min_value=1, max_value=12, max_denominator=8)
demands = st.dictionaries(lengths, st.integers(1, 15), min_size=1, max_size=6)


def pieces_of(cutting: Cutting) -> Counter[F]:
    """All pieces that a cutting yields."""
    found: Counter[F] = Counter()
    for pattern in cutting.patterns:
        for length, count in pattern.pieces:
            found[length] += count * pattern.strips
    return found


@given(demand=demands, width=st.fractions(min_value=12, max_value=44, max_denominator=4))
def test_every_piece_is_cut_once_and_none_is_longer_than_the_cloth(
    demand: dict[F, int], width: F
) -> None:
    cutting = cut_strips(demand, width)
    assert pieces_of(cutting) == Counter(demand)
    for pattern in cutting.patterns:
        assert sum(length * count for length, count in pattern.pieces) <= width
    assert sum(pattern.strips for pattern in cutting.patterns) == cutting.strips
    assert cutting.at_least <= cutting.strips


def test_nothing_to_cut() -> None:
    assert cut_strips({F(3): 0}, F(40)) == Cutting(patterns=(), strips=0, at_least=0)


def test_a_piece_longer_than_the_cloth_is_a_wrong_call() -> None:
    with pytest.raises(ValueError, match="longer than the cloth"):
        cut_strips({F(41): 1}, F(40))


def test_a_case_that_first_fit_misses() -> None:
    demand = {F(5): 1, F(4): 1, F(3): 3, F(2): 1}
    # 5 + 4 leaves 3 + 3 + 3 and a 2 over; 5 + 3 + 2 and 4 + 3 + 3 use every inch
    assert sum(strips for _, strips in first_fit([5, 4, 3, 2], [1, 1, 3, 1], 10)) == 3
    cutting = cut_strips(demand, F(10))
    assert (cutting.strips, cutting.is_proven) == (2, True)


def test_a_bound_that_the_linear_programme_alone_does_not_reach() -> None:
    # pieces of 44, 33 and 12 in 132 (Fieldhouse 1990, from memory): the linear programme gives
    # 259/132, rounded up 2, yet 3 strips are needed
    awkward = cut_strips({F(44): 2, F(33): 3, F(12): 6}, F(132))
    assert (awkward.strips, awkward.at_least) == (3, 3)


def test_when_the_solver_gives_up_the_cutting_is_whole_and_the_bound_is_below_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # a solver that never finds anything: the fallback is first fit, the bound that of the prices
    monkeypatch.setattr(stock, "solve_patterns", lambda *args, **kwargs: ([], 0.0))
    widths = (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200)
    counts = (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20)
    demand = dict(zip(map(F, widths), counts, strict=True))
    cutting = cut_strips(demand, F(5600))
    assert pieces_of(cutting) == Counter(demand)
    assert cutting.strips > 73 == cutting.at_least
    assert not cutting.is_proven


def random_instance(rng: Random) -> tuple[dict[int, int], int]:
    """Lengths in eighths of an inch with counts, and the width of the cloth."""
    kinds = rng.randint(2, 5)
    demand = {length: rng.randint(1, 20) for length in rng.sample(range(45, 160), kinds)}
    return demand, rng.choice((300, 320, 336, 352))


def test_a_second_solver_agrees_on_200_instances() -> None:
    cp_model = pytest.importorskip(
        "ortools.sat.python.cp_model", reason="the second solver, ortools, is not installed"
    )
    rng = Random(20)
    for _ in range(200):
        demand, width = random_instance(rng)
        cutting = cut_strips({F(length, 8): n for length, n in demand.items()}, F(width, 8))
        assert cutting.is_proven
        assert cutting.strips == fewest_by_cp_sat(cp_model, demand, width)


def fewest_by_cp_sat(cp_model, demand: dict[int, int], width: int) -> int:  # type: ignore[no-untyped-def]
    """Fewest strips by constraint programming over all patterns, listed in another way."""
    ranges = [range(min(n, width // length) + 1) for length, n in demand.items()]
    patterns = [
        pattern
        for pattern in product(*ranges)
        if any(pattern)
        and sum(n * length for n, length in zip(pattern, demand, strict=True)) <= width
    ]
    model = cp_model.CpModel()
    times = [model.new_int_var(0, max(demand.values()), "") for _ in patterns]
    for place, needed in enumerate(demand.values()):
        model.add(sum(n * p[place] for n, p in zip(times, patterns, strict=True)) >= needed)
    model.minimize(sum(times))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


# --- rows on a narrow cloth ----------------------------------------------------------------------

squares = st.dictionaries(
    st.fractions(min_value=2, max_value=11, max_denominator=2).map(lambda side: (side, side)),
    st.integers(1, 12),
    min_size=1,
    max_size=5,
)


@given(demand=squares)
def test_rows_hold_every_square_once(demand: dict[tuple[F, F], int]) -> None:
    nesting = nest_pieces(demand, F(20))
    found: Counter[tuple[F, F]] = Counter()
    for row in nesting.rows:
        assert sum(across * count for across, _, count in row.pieces) <= 20
        assert all(down <= row.depth_mm for _, down, _ in row.pieces)
        for across, down, count in row.pieces:
            found[across, down] += count * row.rows
    assert found == Counter(demand)
    assert nesting.at_least_mm <= nesting.length_mm


def test_rows_mix_sizes_where_that_saves_cloth() -> None:
    # 9 and 5 and 5 side by side take 9 of length; rows by size alone would take 14
    nesting = nest_pieces({(F(9), F(9)): 1, (F(5), F(5)): 2}, F(20))
    assert (nesting.length_mm, nesting.is_proven) == (9, True)


def test_a_square_wider_than_the_cloth_is_a_wrong_call() -> None:
    with pytest.raises(ValueError, match="wider"):
        nest_pieces({(F(21), F(21)): 1}, F(20))
    assert nest_pieces({}, F(20)).length_mm == 0
