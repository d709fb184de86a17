"""The spread of current sharing against quadrature over SciPy's normal distribution."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from percell.physics.spread import (
    WIDEST,
    allowance_share,
    mismatch_at_allowance,
    mismatch_share,
    worst_cell_share,
    worst_cell_share_spreads,
)

DRAWS = 1_000_000


def several(parallel, deviations, **changed):
    asked = {
        "parallel": parallel,
        "group_current_a": 20.0,
        "cell_resistance_ohm": 0.02,
        "resistance_deviations": deviations,
        "contact_resistance_ohm": 0.0,
        "contact_deviation": 0.0,
        "source_voltage_deviation_v": 0.0,
        "levels": (0.5, 0.95, 0.99),
        "draws": 20_000,
        "seed": 1,
    }
    return worst_cell_share_spreads(**asked | changed)


def spread(parallel, deviation, **changed):
    (got,) = several(parallel, [deviation], **changed)
    return got


LIMIT = 3.0  # deviations that a value beyond them counts as
BEYOND = norm.sf(LIMIT)  # so much probability stands at each of the two ends


def more_than(resistance, deviation):
    """Return the probability that a cell's resistance, 1 on average, is above a value."""
    low, high = 1.0 - LIMIT * deviation, 1.0 + LIMIT * deviation
    inside = norm.sf(resistance, loc=1.0, scale=deviation)
    return np.where(resistance < low, 1.0, np.where(resistance < high, inside, 0.0))


def above_of_two(share, deviation):
    """Return the probability that the better of two cells carries more than a share: closed form.

    It does when the other's resistance is more than share/(1 − share) times its own.
    """
    low, high = 1.0 - LIMIT * deviation, 1.0 + LIMIT * deviation
    ratio = share / (1.0 - share)
    if low >= high / ratio:  # no two cells are that far apart
        return 0.0
    between = quad(
        lambda r: norm.pdf(r, loc=1.0, scale=deviation) * more_than(ratio * r, deviation),
        low,
        high / ratio,
    )[0]
    return 2.0 * (between + BEYOND * float(more_than(ratio * low, deviation)))


def above_of_many(parallel, share, deviation, nodes):
    """Return the same for any group, by Gauss-Legendre quadrature over all cells but the worst-case cell.

    Points with the probability beyond three deviations stand at the two ends. The worst-case cell has the
    least resistance, and its conductance is more than share/(1 − share) times the others' together:
    an upper limit to its resistance, of which the distribution function is taken. Each of the cells
    may be it; those that share the lower end share that place.
    """
    points, weights = np.polynomial.legendre.leggauss(nodes)
    resistances = 1.0 + LIMIT * deviation * np.concatenate(([-1.0], points, [1.0]))
    weights = np.concatenate(([BEYOND], LIMIT * weights * norm.pdf(LIMIT * points), [BEYOND]))
    others = np.meshgrid(*[resistances] * (parallel - 1), indexing="ij")
    weight = np.prod(np.meshgrid(*[weights] * (parallel - 1), indexing="ij"), axis=0)
    limit = (1.0 - share) / (share * sum(1.0 / other for other in others))
    low = resistances[0]
    at_low = sum(other == low for other in others)
    below = np.minimum(np.min(others, axis=0), limit)
    inside = np.maximum(norm.cdf(below, loc=1.0, scale=deviation) - BEYOND, 0.0)
    return parallel * np.sum(weight * (inside + BEYOND * (low < limit) / (1 + at_low)))


NODES = {2: 300, 3: 300, 4: 70}
SOURCE = "SciPy norm, quadrature; method of JCGM 101:2008"


@pytest.mark.parametrize("deviation", [0.1, 0.2, 0.3])
@pytest.mark.parametrize("parallel", [2, 3, 4])
@pytest.mark.parametrize("source", [SOURCE])
def test_probability_above_the_allowance(source, parallel, deviation):
    """A million draws give the probability of quadrature, within five standard errors."""
    got = spread(parallel, deviation, draws=DRAWS)
    expected = above_of_many(
        parallel, allowance_share(parallel=parallel), deviation, NODES[parallel]
    )
    # 2e-4: what the nodes leave open where the integrand has a kink
    assert got.above_allowance == pytest.approx(
        expected, abs=5 * got.above_allowance_error + 2e-4
    ), source


@pytest.mark.parametrize("parallel", [2, 3, 4])
@pytest.mark.parametrize("source", [SOURCE])
def test_percentile_of_the_share(source, parallel):
    """By quadrature the share at level 0.99 is passed by one group in a hundred."""
    share = spread(parallel, 0.1, draws=DRAWS).share_at[2]
    # five standard errors of a hundredth among a million, and the nodes' 2e-4
    assert above_of_many(parallel, share, 0.1, NODES[parallel]) == pytest.approx(
        0.01, abs=5 * (0.01 * 0.99 / DRAWS) ** 0.5 + 2e-4
    ), source


# the quadrature's own values, to the digits at which finer nodes no longer change them
@pytest.mark.parametrize(
    ("source", "parallel", "deviation", "percent"),
    [
        (SOURCE, 2, 0.1, 0.0),
        (SOURCE, 3, 0.1, 3.7),
        (SOURCE, 4, 0.1, 24.1),
        (SOURCE, 2, 0.2, 2.5),
        (SOURCE, 3, 0.2, 36.7),
        (SOURCE, 4, 0.2, 72.9),
    ],
)
def test_printed_probability(source, parallel, deviation, percent):
    """The sharing allowance holds for two like cells and less and less for more of them."""
    got = spread(parallel, deviation, draws=DRAWS)
    assert 100 * got.above_allowance == pytest.approx(percent, abs=0.15), source


@pytest.mark.parametrize("deviation", [0.15, 0.2, 0.3])
@pytest.mark.parametrize("share", [0.55, 0.6, 2 / 3])
def test_two_cells_closed_form(share, deviation):
    """For two cells the quadrature of the other tests is the closed form's."""
    assert above_of_many(2, share, deviation, NODES[2]) == pytest.approx(
        above_of_two(share, deviation), abs=1e-4
    )


@pytest.mark.parametrize("deviation", [0.1, 0.2])
def test_two_cells_draws(deviation):
    """Draws of two cells agree with the closed form at every level."""
    got = spread(2, deviation, draws=DRAWS, levels=(0.5, 0.9, 0.99, 0.999))
    for level, share in zip((0.5, 0.9, 0.99, 0.999), got.share_at, strict=True):
        error = (level * (1 - level) / DRAWS) ** 0.5
        assert above_of_two(share, deviation) == pytest.approx(1 - level, abs=5 * error)


def test_two_cells_at_ten_percent_never_pass_the_allowance():
    """1.3 over 0.7 is below 2: within three deviations, no pair can share two to one."""
    assert spread(2, 0.1, draws=DRAWS).above_allowance == 0.0
    assert spread(2, 1 / 9 - 1e-6).above_allowance == 0.0  # (1 + 3/9)/(1 − 3/9) is 2


def test_same_seed_same_answer_other_seed_other_answer():
    """A spread can be asked again and is the same; another seed moves it."""
    assert spread(4, 0.1, seed=3) == spread(4, 0.1, seed=3)
    assert spread(4, 0.1, seed=3).share_at != spread(4, 0.1, seed=4).share_at


def test_no_resistance_reaches_zero_at_the_widest_deviation():
    """At the widest deviation the share stays below that of the two ends, 1.9 and 0.1."""
    got = spread(2, WIDEST, draws=DRAWS, levels=(0.0, 1.0))
    assert got.share_at[0] >= 0.5
    assert 0.9 < got.share_at[1] <= 1.9 / 2.0 + 1e-12


@pytest.mark.parametrize("name", ["resistance_deviations", "contact_deviation"])
@pytest.mark.parametrize("value", [-1e-9, WIDEST + 1e-9, float("nan")])
def test_deviation_outside_its_bounds_is_refused(name, value):
    """A relative deviation below 0 or above 0.3 could make a resistance nothing, so none is taken."""
    with pytest.raises(ValueError, match="relative deviation"):
        spread(2, 0.1, **{name: [0.1, value] if name.endswith("s") else value})


@pytest.mark.parametrize(
    "scattered", [{}, {"contact_resistance_ohm": 0.01, "contact_deviation": 0.2}]
)
@pytest.mark.parametrize("voltage_v", [0.0, 0.02])
def test_several_deviations_at_once_are_each_by_itself(scattered, voltage_v):
    """Groups drawn once and scaled to each deviation are those that are drawn for it alone."""
    others = scattered | {"source_voltage_deviation_v": voltage_v}
    deviations = [0.05, 0.2, 0.3]
    at_once = several(8, deviations, **others)
    assert at_once == [spread(8, one, **others) for one in deviations]


def test_some_deviations_of_nothing_are_refused():
    """Without a deviation nothing is drawn, so it cannot go with those for which something is."""
    with pytest.raises(ValueError, match="all must be 0 or none"):
        several(2, [0.0, 0.1])


def test_even_contacts_soften_a_spread_of_cells():
    """Contacts alike on every cell bring the shares together; scattered contacts drive them apart."""
    bare = spread(4, 0.1).share_at
    even = spread(4, 0.1, contact_resistance_ohm=0.02).share_at
    scattered = spread(4, 0.1, contact_resistance_ohm=0.02, contact_deviation=0.3).share_at
    assert all(a < b < c for a, b, c in zip(even, bare, scattered, strict=True))


@pytest.mark.parametrize(
    ("cell_ohm", "deviation", "contact_ohm", "contact_deviation", "together"),
    [
        pytest.param(1e-9, 0.0, 0.02, 0.2, 0.2, id="contacts alone"),
        pytest.param(0.02, 0.3, 0.01, 0.0, 0.2, id="half as much again, even"),
        pytest.param(0.04, 0.0, 0.02, 0.3, 0.1, id="a third of the path"),
    ],
)
def test_two_cells_with_contacts(cell_ohm, deviation, contact_ohm, contact_deviation, together):
    """Where only cells or only contacts scatter, two paths scatter as part of their whole resistance."""
    got = spread(
        2,
        deviation,
        cell_resistance_ohm=cell_ohm,
        contact_resistance_ohm=contact_ohm,
        contact_deviation=contact_deviation,
        draws=DRAWS,
    )
    for level, share in zip((0.5, 0.95, 0.99), got.share_at, strict=True):
        error = (level * (1 - level) / DRAWS) ** 0.5
        assert above_of_two(share, together) == pytest.approx(1 - level, abs=5 * error + 1e-6)


def test_two_cells_apart_in_voltage():
    """Like cells share by half their difference over r: its median is 0.674·√2 deviations."""
    got = spread(2, 0.0, source_voltage_deviation_v=0.01, draws=DRAWS, levels=(0.5,))
    apart_v = norm.ppf(0.75) * 2**0.5 * 0.01
    assert got.share_at[0] == pytest.approx(0.5 + apart_v / (2 * 0.02) / 20.0, rel=1e-4)


def test_few_draws_by_hand():
    """Of three draws the levels 0, a half and 1 are all three, so their mean is the mean."""
    got = spread(3, 0.2, draws=3, levels=(0.0, 0.5, 1.0))
    assert got.share_at == tuple(sorted(got.share_at))
    assert len(set(got.share_at)) == 3
    assert got.mean_share == pytest.approx(np.mean(got.share_at), rel=1e-12)


def test_standard_error_of_the_probability():
    """A share p of n draws has the standard error √(p·(1 − p)/n)."""
    got = spread(4, 0.2)
    part = got.above_allowance
    assert 0.6 < part < 0.8
    assert got.above_allowance_error == pytest.approx((part * (1 - part) / 20_000) ** 0.5)


def test_spread_of_voltages_matters_less_at_more_current():
    """Cells apart in voltage share a small load worse than a large one; above 1 some are charged."""
    small, large = (
        spread(2, 0.1, source_voltage_deviation_v=0.02, group_current_a=amps).share_at
        for amps in (0.5, 50.0)
    )
    assert all(a > b for a, b in zip(small, large, strict=True))
    assert small[2] > 1.0


@pytest.mark.parametrize("current_a", [0.1, 100.0])
def test_without_spread_of_voltages_the_load_does_not_matter(current_a):
    """Equal voltages share by resistance alone, at any current and any mean resistance."""
    got = spread(3, 0.1, group_current_a=current_a, cell_resistance_ohm=0.5)
    assert got.share_at == pytest.approx(spread(3, 0.1).share_at, rel=1e-12)


def test_one_cell_carries_all():
    """A single cell's share is 1, which its allowance does not pass."""
    got = spread(1, 0.3)
    assert got.share_at == (1.0, 1.0, 1.0)
    assert got.above_allowance == 0.0


def test_worst_case_cell_of_many_groups_at_once():
    """Each row of an array is a group of its own."""
    got = worst_cell_share(
        group_current_a=1.0,
        cell_source_voltage_v=np.zeros((2, 2)),
        path_resistance_ohm=np.array([[1.0, 3.0], [1.0, 1.0]]),
    )
    np.testing.assert_allclose(got, [0.75, 0.5])


@pytest.mark.parametrize("parallel", [2, 3, 4, 20])
def test_mismatch_at_the_allowance(parallel):
    """Just below, at and just above the mismatch, the share is below, at and above the allowance."""
    at, allowed = mismatch_at_allowance(parallel=parallel), allowance_share(parallel=parallel)
    assert mismatch_share(parallel=parallel, mismatch=at * (1 - 1e-9)) < allowed
    assert mismatch_share(parallel=parallel, mismatch=at) == pytest.approx(allowed, rel=1e-12)
    assert mismatch_share(parallel=parallel, mismatch=at * (1 + 1e-9)) > allowed


@pytest.mark.parametrize("mismatch", [0.0, 0.2, 9.0])
def test_mismatch_share_is_the_circuit_s(mismatch):
    """The formula is what the circuit of one good cell and its weaker fellows gives."""
    paths = np.array([0.02, *[0.02 * (1 + mismatch)] * 3])
    got = worst_cell_share(
        group_current_a=20.0, cell_source_voltage_v=np.full(4, 3.7), path_resistance_ohm=paths
    )
    assert mismatch_share(parallel=4, mismatch=mismatch) == pytest.approx(float(got), rel=1e-12)
