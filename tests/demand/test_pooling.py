"""What other lines say of a line, against the same asked in one large system, and on days."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.censored import CensoredNegativeBinomial
from shrinkwise.demand.model import fit_demand
from shrinkwise.demand.pooling import Grouping, joint_covariance, pooled_priors
from shrinkwise.records.tables import Records
from shrinkwise.sample.truth import TRUTH, mean_demand

Floats = NDArray[np.float64]
N_LINES, N = 5, 3


def covariance(rng: np.random.Generator, scale: float) -> Floats:
    root = scale * rng.normal(size=(N, N + 2))
    return root @ root.T


def test_a_prior_is_what_all_other_lines_say() -> None:
    """The joint normal of all lines' effects, conditioned on the others' days: computed."""
    rng = np.random.default_rng(1)
    mean = rng.normal(size=N)
    groups = [
        Grouping(np.array([0, 0, 1, 1, 1]), covariance(rng, 0.4)),
        Grouping(np.zeros(N_LINES, np.int64), covariance(rng, 0.7)),
    ]
    own = covariance(rng, 0.3)
    information = np.stack([covariance(rng, 2.0) for _ in range(N_LINES)])
    likely = rng.normal(size=(N_LINES, N))
    pull = np.einsum("lij,lj->li", information, likely)
    joint = np.kron(np.eye(N_LINES), own)
    for one in groups:
        same = one.group[:, None] == one.group[None, :]
        joint += np.kron(same, one.covariance)
    for line, prior in enumerate(pooled_priors(information, pull, mean, groups, own)):
        others = [at for at in range(N_LINES) if at != line]
        heard = np.zeros_like(joint)
        toward = np.zeros(N_LINES * N)
        for at in others:
            block = slice(at * N, at * N + N)
            heard[block, block] = information[at]
            toward[block] = pull[at] - information[at] @ mean
        posterior = np.linalg.inv(np.linalg.inv(joint) + heard)
        block = slice(line * N, line * N + N)
        assert prior.covariance == pytest.approx(posterior[block, block], rel=1e-6)
        assert prior.mean == pytest.approx(mean + (posterior @ toward)[block], rel=1e-6)


def test_lines_are_wrong_together_as_the_joint_normal_has_it() -> None:
    """Covariances of sums of effects over all lines, from the one large system: computed."""
    rng = np.random.default_rng(4)
    groups = [
        Grouping(np.array([0, 0, 1, 1, 1]), covariance(rng, 0.4)),
        Grouping(np.zeros(N_LINES, np.int64), covariance(rng, 0.7)),
    ]
    own = covariance(rng, 0.3)
    information = np.stack([covariance(rng, 2.0) for _ in range(N_LINES)])
    joint = np.kron(np.eye(N_LINES), own)
    heard = np.zeros_like(joint)
    for one in groups:
        joint += np.kron(one.group[:, None] == one.group[None, :], one.covariance)
    for at, known in enumerate(information):
        heard[at * N : at * N + N, at * N : at * N + N] = known
    posterior = np.linalg.inv(np.linalg.inv(joint) + heard).reshape(N_LINES, N, N_LINES, N)
    asked = rng.normal(size=(2, N_LINES, N))
    expected = np.einsum("kli,limj,kmj->klm", asked, posterior, asked)
    found = joint_covariance(information, groups, own, asked)
    assert found == pytest.approx(expected, rel=1e-6)
    # lines of different categories too
    assert abs(found[:, 0, 3]).max() > 1e-4


@pytest.mark.parametrize("log_mean", [5.3, 7.0, 9.0])
def test_the_top_is_found_from_afar(log_mean: float) -> None:
    """Up to 8,000 a day, sought from one a day: the first full step would lead past all sense."""
    rng = np.random.default_rng(2)
    X = np.column_stack([np.ones(300), rng.normal(size=300), np.arange(300) < 150])
    true = np.array([log_mean, 0.2, -0.4])
    y = rng.poisson(np.exp(X @ true) * rng.gamma(20, 1 / 20, 300))
    model = CensoredNegativeBinomial(
        y,
        X,
        np.zeros(300, np.bool_),
        np.array([0.0, 0, 0, -2.5]),
        np.diag([0.1, 4.0, 4.0, 1.5]),
    )
    far, _ = model.fitted()
    near, _ = model.fitted(start=np.append(true, -3.0))
    assert far == pytest.approx(near, abs=1e-5)
    assert far[:3] == pytest.approx(true, abs=0.1)


def test_three_weeks_of_a_line_are_sensible_by_what_the_others_show(
    sample_records: Records,
) -> None:
    """Its week is flat in no category: the shape comes from the others, the level from its days."""
    name = "Burger buns"
    last = sample_records.last_date
    young = (pl.col("product") != name) | (pl.col("date") > last - timedelta(days=21))
    cut = {
        table: getattr(sample_records, table).filter(young)
        for table in ("sales", "bakes", "disposals", "markdowns", "counts")
    }
    model = fit_demand(replace(sample_records, **cut))
    dates = [date(2026, 10, 5) + timedelta(days=day) for day in range(28)]
    fitted, truth = model.expected(name, dates), mean_demand(TRUTH.line(name), dates)
    print(f"\nmean {fitted.mean():.1f}, true {truth.mean():.1f}")
    assert fitted.mean() == pytest.approx(truth.mean(), rel=0.2)
    # better than the mean of its three weeks by weekday
    ledger = model.ledgers[name]
    naive = np.array([ledger.sold[ledger.weekday == day.weekday()].mean() for day in dates])
    assert np.abs(np.log(fitted / truth)).mean() < np.abs(np.log(naive / truth)).mean()
