"""Cumulative incidence and Kaplan-Meier against the literature and against other software."""

import lifelines
import numpy as np
import pytest
from numpy.typing import NDArray
from statsmodels.duration.survfunc import CumIncidenceRight, SurvfuncRight

from shrinkwise.shelf.incidence import cumulative_incidence, units_at_risk

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# J. M. Satagopan et al., A note on competing risks in survival data analysis, British Journal of
# Cancer 91, 2004, doi 10.1038/sj.bjc.6602102, Table 2: month, patients at risk, events of
# interest, competing events.
SATAGOPAN = [
    (10, 304, 1, 0),
    (16, 302, 1, 0),
    (18, 301, 0, 1),
    (23, 300, 1, 0),
    (26, 298, 0, 1),
    (27, 297, 1, 0),
]
# The same Table 2 as printed [%]; the steps of the incidence are rounded before they are added.
PRINTED_STILL_THERE = [99.7, 99.3, 99.0, 98.7, 98.3, 98.0]
PRINTED_EVENT = {0: 0.3, 1: 0.6, 3: 0.9, 5: 1.2}
# Computed from the table's counts without rounding on the way [%].
EXACT_STILL_THERE = [99.671053, 99.341016, 99.010979, 98.680943, 98.349799, 98.018655]
EXACT_EVENT = [0.328947, 0.658984, 0.658984, 0.989021, 0.989021, 1.320165]
EXACT_COMPETING = [0.0, 0.0, 0.330037, 0.330037, 0.661181, 0.661181]

# Weeks of remission under 6-mercaptopurine, + still in remission: E. J. Freireich et al., Blood
# 21(6), 1963, as listed in D. R. Cox, D. Oakes, Analysis of Survival Data, Chapman & Hall 1984.
FREIREICH = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
# Kaplan-Meier of these: week, patients at risk, relapses, share still in remission.
KAPLAN_MEIER = [
    (6, 21, 3, 0.8571),
    (7, 17, 1, 0.8067),
    (10, 15, 1, 0.7529),
    (13, 12, 1, 0.6902),
    (16, 11, 1, 0.6275),
    (22, 7, 1, 0.5378),
    (23, 6, 1, 0.4482),
]


def satagopan() -> tuple[Floats, Floats]:
    """Events of interest and competing ones, shape (2, n_times), and patients at risk."""
    table = np.array(SATAGOPAN, np.float64)
    return table[:, 2:].T, table[:, 1]


def freireich() -> tuple[Ints, Ints]:
    """Weeks, and 1 for a relapse."""
    patients = FREIREICH.split()
    weeks = np.array([int(one.rstrip("+")) for one in patients])
    return weeks, np.array([int(not one.endswith("+")) for one in patients])


def counted(times: Ints, way: Ints, n_ways: int) -> tuple[Floats, Floats]:
    """Units that left by ways 1, 2, ... and units lost sight of (way 0), for times 1, 2, ..."""
    ends = np.zeros((n_ways + 1, int(times.max())))
    np.add.at(ends, (way, times - 1), 1.0)
    return ends[1:], ends[0]


def drawn_lives(seed: int) -> tuple[Ints, Ints]:
    """300 units with ties: days to the end, and the way, 0 where it was not seen."""
    rng = np.random.default_rng(seed)
    return rng.integers(1, 8, 300), rng.choice(4, 300, p=[0.2, 0.4, 0.25, 0.15])


def test_the_table_of_competing_risks_exactly() -> None:
    found = cumulative_incidence(*satagopan())
    assert 100 * found.by_way[0] == pytest.approx(EXACT_EVENT, abs=1e-4)
    assert 100 * found.by_way[1] == pytest.approx(EXACT_COMPETING, abs=1e-4)
    assert 100 * found.still_there == pytest.approx(EXACT_STILL_THERE, abs=1e-4)


def test_the_table_of_competing_risks_as_it_is_printed() -> None:
    found = cumulative_incidence(*satagopan())
    assert 100 * found.still_there == pytest.approx(PRINTED_STILL_THERE, abs=0.05)
    for row, printed in PRINTED_EVENT.items():
        assert 100 * found.by_way[0, row] == pytest.approx(printed, abs=0.15)


def test_one_minus_kaplan_meier_overstates_where_ways_compete() -> None:
    """The point of the same paper: competing events taken for lost sight of."""
    left, at_risk = satagopan()
    alone = cumulative_incidence(left[:1], at_risk)
    both = cumulative_incidence(left, at_risk)
    assert 1 - alone.still_there[-1] == pytest.approx(alone.by_way[0, -1])
    assert alone.by_way[0, -1] > both.by_way[0, -1] + 2e-5
    days, way = drawn_lives(seed=1)
    left, lost = counted(days, way, 3)
    of_each = [
        cumulative_incidence(left[[k]], units_at_risk(left, lost)).by_way[0, -1] for k in range(3)
    ]
    assert (
        sum(of_each) > 1 > cumulative_incidence(left, units_at_risk(left, lost)).by_way[:, -2].sum()
    )


def test_kaplan_meier_of_the_remission_times() -> None:
    weeks, relapsed = freireich()
    left, lost = counted(weeks, relapsed, 1)
    at_risk = units_at_risk(left, lost)
    found = cumulative_incidence(left, at_risk)
    for week, patients, relapses, remain in KAPLAN_MEIER:
        assert at_risk[week - 1] == patients
        assert left[0, week - 1] == relapses
        assert found.still_there[week - 1] == pytest.approx(remain, abs=5e-5)
    # 25 weeks and more: nobody relapses any more
    assert found.still_there[-1] == found.still_there[22]


def test_statsmodels_and_lifelines_agree_on_the_remission_times() -> None:
    weeks, relapsed = freireich()
    left, lost = counted(weeks, relapsed, 1)
    remain = cumulative_incidence(left, units_at_risk(left, lost)).still_there
    first = SurvfuncRight(weeks, relapsed)
    assert remain[first.surv_times.astype(int) - 1] == pytest.approx(first.surv_prob, abs=1e-12)
    second = lifelines.KaplanMeierFitter().fit(weeks, relapsed)
    assert remain == pytest.approx(second.predict(np.arange(1, 36)).to_numpy(), abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_statsmodels_and_lifelines_agree_on_competing_ways(seed: int) -> None:
    days, way = drawn_lives(seed)
    left, lost = counted(days, way, 3)
    found = cumulative_incidence(left, units_at_risk(left, lost)).by_way
    first = CumIncidenceRight(days, way)
    at = first.times.astype(int) - 1
    for one in range(3):
        assert found[one, at] == pytest.approx(first.cinc[one], abs=1e-12)
    # lifelines would shift tied times at random: it is told apart times in the same order
    order = np.lexsort((way == 0, days))
    apart = days[order] + np.arange(300) / 1000
    for one in range(3):
        fitted = lifelines.AalenJohansenFitter(calculate_variance=False)
        fitted.fit(apart, way[order], event_of_interest=one + 1)
        curve = fitted.cumulative_density_.iloc[:, 0]
        second = [curve[curve.index < day + 1].iloc[-1] for day in range(1, 8)]
        # ties spread over a day are a finer grid: equal in the total, near in each way
        assert found[one] == pytest.approx(second, abs=2e-3)
    everything = 1 - cumulative_incidence(left, units_at_risk(left, lost)).still_there
    second_all = lifelines.KaplanMeierFitter().fit(days, way > 0)
    assert everything == pytest.approx(1 - second_all.predict(np.arange(1, 8)), abs=1e-12)


def test_lifelines_agrees_exactly_without_ties() -> None:
    rng = np.random.default_rng(3)
    days, way = rng.permutation(200) + 1, rng.choice(3, 200, p=[0.3, 0.4, 0.3])
    left, lost = counted(days, way, 2)
    found = cumulative_incidence(left, units_at_risk(left, lost)).by_way
    for one in range(2):
        fitted = lifelines.AalenJohansenFitter(calculate_variance=False)
        fitted.fit(days, way, event_of_interest=one + 1)
        curve = fitted.cumulative_density_.iloc[:, 0]
        assert found[one] == pytest.approx(curve.loc[1:].to_numpy(), abs=1e-12)
