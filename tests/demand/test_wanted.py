"""What was wanted on sold-out days: exact laws, and the sample store's own truth."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

from shrinkwise.demand.chances import FURTHEST, beyond
from shrinkwise.demand.line import LineDemand, Reconstruction
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.wanted import BAKES_UNKNOWN, PastDemand, past_demand
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records
from shrinkwise.sample.logs import play_store

WEEKS = 26
N = 400


@pytest.fixture(scope="module")
def past(sample_records: Records, sample_demand: DemandModel) -> PastDemand:
    start = sample_records.last_date + timedelta(days=1 - 7 * WEEKS)
    return past_demand(sample_records, sample_demand, start, 7 * WEEKS, N, seed=1)


def draws(units: int, mean: float, alpha: float, n: int = 40_000) -> np.ndarray:
    each = np.ones(n)
    rng = np.random.default_rng(1)
    return beyond(units * each, np.log(mean) * each, np.log(alpha) * each, rng)


@pytest.mark.parametrize(
    ("units", "mean", "alpha"), [(0, 3.0, 0.5), (10, 8.0, 0.05), (30, 20.0, 0.1), (5, 0.4, 2.0)]
)
def test_what_lies_beyond_has_the_tail_of_the_law(units: int, mean: float, alpha: float) -> None:
    """P(D = units + k) / P(D >= units), as scipy has it."""
    law = stats.nbinom(1 / alpha, 1 / (1 + alpha * mean))
    more = draws(units, mean, alpha)
    for k in range(6):
        chance = law.pmf(units + k) / law.sf(units - 1)
        error = np.sqrt(chance * (1 - chance) / len(more))
        assert np.mean(more == k) == pytest.approx(chance, abs=4.5 * error)


def test_where_both_chances_underflow_a_draw_stays_near_the_floor() -> None:
    """3,000 sold where 5 are expected: a slip of the pen, on which no more is heaped."""
    more = draws(3000, 5.0, 0.05, 1000)
    assert 0 <= more.mean() < 40
    assert more.max() < 400 < FURTHEST


def test_unmet_demand_of_the_sample_is_its_truth(
    past: PastDemand, sample_demand: DemandModel
) -> None:
    """Nine of ten line-weeks in which a line was sold out, and the store's half year."""
    books = play_store(1)
    inside: list[bool] = []
    total, truth = np.zeros((WEEKS, N)), np.zeros(WEEKS)
    for name, wanted in past.units.items():
        out = sample_demand.ledgers[name].sold_out[-7 * WEEKS :]
        missed = (wanted - past.sold[name][:, None]).reshape(WEEKS, 7, N).sum(axis=1)
        # on days that the logs do not show to be sold out, nothing can be known of it
        really = np.where(out, books[name].unmet[-7 * WEEKS :], 0).reshape(WEEKS, 7).sum(axis=1)
        low, high = np.quantile(missed, (0.05, 0.95), axis=1)
        some = out.reshape(WEEKS, 7).any(axis=1)
        inside += ((low <= really) & (really <= high))[some].tolist()
        total, truth = total + missed, truth + really
    low, high = np.quantile(total, (0.05, 0.95), axis=1)
    of_store = np.mean((low <= truth) & (truth <= high))
    print(
        f"\n{len(inside)} line-weeks, {np.mean(inside):.1%} inside; {of_store:.1%} of the store's "
        f"weeks; {truth.sum():.0f} missed, {total.mean(axis=1).sum():.0f} estimated"
    )
    assert len(inside) > 200
    assert 0.86 <= np.mean(inside) <= 0.98
    assert of_store >= 0.75
    assert total.mean(axis=1).sum() == pytest.approx(truth.sum(), rel=0.12)


def test_other_days_are_as_they_were_sold(past: PastDemand, sample_demand: DemandModel) -> None:
    for name, wanted in past.units.items():
        left = ~sample_demand.ledgers[name].sold_out[-7 * WEEKS :]
        assert (wanted[left] == past.sold[name][left][:, None]).all()
        assert (wanted >= past.sold[name][:, None]).all()


def test_a_shock_shows_in_what_the_other_lines_sold(
    sample_records: Records, sample_demand: DemandModel
) -> None:
    """French bread sold out on a day on which all others sold half as much again: its unmet
    demand is higher than on the same day as it was, if lines share a shock."""
    name = "French bread"
    day = sample_records.last_date

    lifted = {
        other: replace(ledger, sold=np.append(ledger.sold[:-1], ledger.sold[-1] * 3 // 2))
        if other != name
        else ledger
        for other, ledger in sample_demand.ledgers.items()
    }
    assert sample_demand.ledgers[name].sold_out[-1]

    def wanted(shock: float, ledgers: dict[str, LineLedger]) -> float:
        model = replace(sample_demand, shock=shock, ledgers=ledgers)
        return float(past_demand(sample_records, model, day, 1, 2000, 1).units[name].mean())

    assert wanted(0.05, lifted) > wanted(0.05, sample_demand.ledgers) + 1
    assert wanted(0.0, lifted) == wanted(0.0, sample_demand.ledgers)


def test_each_course_keeps_to_its_reconstruction(
    sample_records: Records, sample_demand: DemandModel
) -> None:
    """A line without a bakes log: odd courses have it sold out on its last day, even ones not."""
    name = "White loaf"
    line, ledger = sample_demand.lines[name], sample_demand.ledgers[name]
    told = [
        replace(ledger, bakes_inferred=True, sold_out=np.append(ledger.sold_out[:-1], out))
        for out in (False, True)
    ]
    courses = tuple(Reconstruction(one, line.params, line.covariance) for one in told)
    model = replace(
        sample_demand,
        lines=sample_demand.lines | {name: LineDemand(line.params, line.covariance, courses)},
        ledgers=sample_demand.ledgers | {name: told[0]},
    )
    past = past_demand(sample_records, model, sample_records.last_date, 1, 200, 1)
    more = past.units[name][0] - past.sold[name][0]
    assert not more[::2].any()
    assert more[1::2].any()
    assert past.cannot_tell == {}
    unknown = replace(model, lines=sample_demand.lines)
    past = past_demand(sample_records, unknown, sample_records.last_date, 1, 200, 1)
    assert past.cannot_tell == {name: BAKES_UNKNOWN}
