"""Reconstructed bakes against the logs that they must balance, and against bakes that are known."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.effects import central, covariance, effects_of
from shrinkwise.demand.hours import HOURS, WHOLE_DAY, LineHours
from shrinkwise.demand.pooling import LinePrior
from shrinkwise.demand.reconstruction import Beliefs, Reconstructions, reconstruct
from shrinkwise.demand.unlogged import RECONSTRUCTIONS, fit_unlogged, shares
from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger, stock_ledger
from shrinkwise.records.tables import Records

Floats = NDArray[np.float64]

N = 6
DAYS = 140


def hidden(records: Records, name: str) -> tuple[LineLedger, LineLedger]:
    """The last days of a line of the sample: with its bakes, and as if nobody had logged them."""
    whole = stock_ledger(records)[name]
    cut = {
        field: getattr(whole, field)[-DAYS:]
        for field in (
            "is_open", "baked", "sold", "sold_reduced", "labelled", "disposed_last_day",
            "disposed_early", "on_hand_open", "on_hand_close", "sold_out", "unexplained",
            "bake_seen",
        )
    }  # fmt: skip
    known = replace(whole, start=whole.dates[-DAYS], **cut)
    nothing = np.zeros(DAYS, np.int64)
    return known, replace(
        known, baked=nothing, on_hand_open=nothing, on_hand_close=nothing,
        sold_out=nothing > 0, bakes_inferred=True,
    )  # fmt: skip


def whole_days(ledger: LineLedger) -> Floats:
    """The hours of the last sales are not known."""
    return np.tile(WHOLE_DAY, (len(ledger.sold), 1))


def beliefs(ledger: LineLedger, share: float, n: int = N) -> Beliefs:
    by_day = np.array([ledger.sold[ledger.weekday == day].mean() for day in range(7)])
    return Beliefs(
        means=np.repeat(1.05 * by_day[ledger.weekday][None], n, axis=0),
        dispersion=np.full(n, 0.1),
        share=np.full(n, share),
        level=np.full((n, 7), 1.3),
        spread=np.full(n, 0.15),
        credit=np.full(n, 0.7),
    )


@pytest.fixture(scope="module")
def italian(sample_records: Records) -> tuple[LineLedger, LineLedger, Reconstructions]:
    known, unknown = hidden(sample_records, "Italian loaf")
    drawn = reconstruct(
        unknown, whole_days(unknown), beliefs(unknown, 0.3), np.random.default_rng(3)
    )
    return known, unknown, drawn


def test_every_course_balances_and_outlives_no_shelf_life(
    italian: tuple[LineLedger, LineLedger, Reconstructions],
) -> None:
    _, ledger, drawn = italian
    out = ledger.sold + ledger.disposed_early + ledger.disposed_last_day
    left = drawn.on_hand[:, :-1] + drawn.baked - out
    # the first night of the cut shows units that were baked before it
    assert (left == drawn.on_hand[:, 1:])[:, 2:].all()
    assert (drawn.on_hand[:, 1:] <= drawn.baked).all()


def test_a_day_whose_batch_is_seen_again_did_not_sell_out(
    italian: tuple[LineLedger, LineLedger, Reconstructions],
) -> None:
    _, ledger, drawn = italian
    thrown = ledger.disposed_last_day > 0
    seen_again = thrown | np.append(thrown[1:], False)
    assert not drawn.sold_out[:, seen_again].any()
    empty = drawn.on_hand[:, 1:] + ledger.disposed_last_day == 0
    assert (empty | ~drawn.sold_out).all()


def test_what_was_sold_reduced_had_not_sold_out_before(sample_records: Records) -> None:
    """Kaiser rolls are reduced on day 3: units sold so were left on both nights before."""
    _, ledger = hidden(sample_records, "Kaiser rolls")
    drawn = reconstruct(ledger, whole_days(ledger), beliefs(ledger, 0.7), np.random.default_rng(3))
    reduced = np.append(ledger.sold_reduced, [0, 0]) > 0
    left = reduced[1:-1] | reduced[2:]
    assert left.sum() > DAYS / 4
    assert not drawn.sold_out[:, left].any()
    assert drawn.sold_out.any()


def test_sold_out_days_and_bakes_are_found_again(
    italian: tuple[LineLedger, LineLedger, Reconstructions],
) -> None:
    """Demand and shoppers known, about as many days are sold out, and they are mostly the same."""
    known, _, drawn = italian
    chance = drawn.sold_out.mean(axis=0)
    truth = known.sold_out
    print(f"\nsold out: {truth.sum()}, drawn {drawn.sold_out.sum(axis=1)}")
    assert drawn.sold_out.sum(axis=1).mean() == pytest.approx(truth.sum(), rel=0.25)
    assert chance[truth].mean() > 0.6
    assert chance[~truth].mean() < 0.15
    assert drawn.baked.sum(axis=1) == pytest.approx(np.full(N, known.baked.sum()), rel=0.01)


def test_reconstructions_take_other_shares_for_granted_and_keep_their_differences() -> None:
    """A made-up line of two days: 10 a day wanted, up to 13 there; half of them seek the oldest."""
    ledger = made_up_ledger(np.random.default_rng(1))
    layout = effects_of(())
    effects = np.zeros((len(ledger.sold), len(layout)))
    effects[np.arange(len(ledger.sold)), ledger.weekday] = 1
    spread = covariance(layout, "everywhere") + covariance(layout, "line")
    prior = LinePrior(central(layout), spread)
    none = LineHours(
        np.zeros((len(effects), HOURS), np.int64), ledger.weekday > 4, np.zeros((2, HOURS))
    )
    line = fit_unlogged(ledger, effects, none, prior, seed=1)
    params = np.stack([one.params for one in line.reconstructions])
    assert len(params) == RECONSTRUCTIONS
    assert shares(4).tolist() == [0.125, 0.375, 0.625, 0.875]
    assert line.params == pytest.approx(params.mean(axis=0))
    within = np.mean([one.covariance for one in line.reconstructions], axis=0)
    expected = within + (1 + 1 / RECONSTRUCTIONS) * np.cov(params, rowvar=False)
    assert line.covariance == pytest.approx(expected)
    # the true mean, 10, lies inside; taken as if never sold out it would be 9.4
    draws = np.exp(line.draws(400, np.random.default_rng(2))[:, :7]).mean(axis=1)
    low, high = np.quantile(draws, (0.05, 0.95))
    print(f"\nmean {draws.mean():.2f}, {low:.2f} to {high:.2f}; sold {ledger.sold.mean():.2f}")
    assert low < 10 < high
    # a draw belongs to the reconstruction of its number
    every = draws.reshape(-1, RECONSTRUCTIONS).mean(axis=0)
    own = np.exp(params[:, :7]).mean(axis=1)
    assert every == pytest.approx(own, rel=0.02)


def made_up_ledger(rng: np.random.Generator) -> LineLedger:
    n_days = 364
    sold, thrown, baked = np.zeros((3, n_days), np.int64)
    old = 0
    for day in range(n_days):
        baked[day] = max(0, int(rng.integers(10, 14)) - old)
        wanted = int(rng.poisson(10))
        oldest_first = int(rng.binomial(wanted, 0.5))
        sold[day] = min(wanted, old + baked[day])
        from_old = max(min(oldest_first, old), sold[day] - baked[day])
        fresh = baked[day] - (sold[day] - from_old)
        if fresh < 0:
            from_old, fresh = from_old - fresh, 0
        thrown[day], old = old - from_old, fresh
    nothing = np.zeros(n_days, np.int64)
    line = Line(name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=2)
    return LineLedger(
        line=line,
        start=date(2025, 1, 6),
        is_open=np.ones(n_days, np.bool_),
        baked=nothing,
        sold=sold,
        sold_reduced=nothing,
        labelled=nothing,
        disposed_last_day=thrown,
        disposed_early=nothing,
        on_hand_open=nothing,
        on_hand_close=nothing,
        sold_out=nothing > 0,
        unexplained=nothing,
        bake_seen=np.append(thrown[1:], 0) > 0,
        bakes_inferred=True,
    )
