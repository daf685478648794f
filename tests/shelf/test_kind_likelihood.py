"""How well guesses of the kinds explain the sales, day by day and at once."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import nbinom

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.kind_odds import SoldDays, kind_odds
from shrinkwise.records.tables import Records
from shrinkwise.shelf.dated import early_by_age
from shrinkwise.shelf.depth import relative_depth
from shrinkwise.shelf.kind_days import KindDays
from shrinkwise.shelf.kind_likelihood import (
    ALPHAS,
    LEVEL_SPREAD,
    LEVELS,
    SLIP,
    Guess,
    KindLikelihood,
)
from shrinkwise.shelf.kind_posterior import OLDEST, KindDraws
from shrinkwise.shelf.share import StockPosterior, no_evidence

NO_STOCK = StockPosterior(np.full(1, 0.5), np.zeros((1, 1, 1), np.int16), np.ones((1, 1)))


@pytest.fixture(scope="module")
def likelihood(sample_records: Records, sample_demand: DemandModel) -> KindLikelihood:
    ledger = sample_demand.ledgers["Bagels"]
    early = early_by_age(sample_records, ledger)
    depth = relative_depth(sample_records, sample_demand.calendar, ledger)
    return KindLikelihood.fitted(KindDays.of(ledger, sample_demand, early, depth, 0.66))


@pytest.mark.parametrize(
    "guess",
    [Guess(0.6), Guess(0.5, 0.2, 0.1, 0.3, 1), Guess(0.3, 0.4, 0.0, 0.0, 2)],
    ids=["plain", "all kinds", "fussy until day 2"],
)
def test_days_that_tell_no_kind_apart_are_not_left_out(
    likelihood: KindLikelihood, guess: Guess
) -> None:
    """Against every day by itself, mixed over the rates by hand."""
    days = likelihood.days
    kept = days.usable & (days.sold_reduced <= days.reduced_there)
    there = np.minimum(days.reduced_there, days.there)
    full = days.sold - days.sold_reduced
    sold = SoldDays(full, days.sold_reduced, np.maximum(days.there - there, full), there)
    sold = SoldDays(*(one[kept] for one in sold))
    assert len(sold.full) > 300
    rates = np.exp(np.linspace(np.log(0.1), np.log(1000), 400))
    shares = guess.oldest, guess.fussy, guess.switching
    bargains = guess.uplift * (days.depth * days.expected)[kept]
    odds = kind_odds(sold, days.young(guess.until_day)[kept], rates, shares, bargains)
    mean = days.expected[kept][:, None, None] * np.exp(LEVELS)[:, None]
    log_mix = (np.log(rates / mean) - rates / mean) / likelihood.alpha
    mix = np.exp(log_mix - logsumexp(log_mix, axis=2, keepdims=True))
    chance = (mix * odds[:, None, :]).sum(axis=2)
    nothing = 1 / ((sold.full_there + 1) * (sold.reduced_there + 1))
    fits = np.zeros((7, len(LEVELS))) - 0.5 * (LEVELS / LEVEL_SPREAD) ** 2
    by_day = np.log((1 - SLIP) * chance + SLIP * nothing[:, None])
    np.add.at(fits, days.weekday[kept], by_day)
    found, level = likelihood.of(guess)
    # the rates of the likelihood stand further apart
    assert found == pytest.approx(logsumexp(fits, axis=1).sum(), abs=0.05)
    likely = np.exp(fits - logsumexp(fits, axis=1, keepdims=True))
    assert level == pytest.approx(likely @ np.exp(LEVELS), abs=1e-3)


def test_fussy_shoppers_are_put_off_from_the_unit_beyond_the_last(
    likelihood: KindLikelihood,
) -> None:
    """scipy's negative binomial: somebody goes without where more than the young units is wanted,
    if there are others."""
    days, oldest = likelihood.days, 0.66
    mean = np.maximum((1 - oldest) * days.expected, 1e-6)
    for until in (1, 2):
        young = days.young(until)
        size = 1 / days.alpha
        beyond = nbinom.sf(young, size, size / (size + mean))
        right = np.where(days.there > young, beyond, 0.0)
        np.testing.assert_allclose(days.short_of_young(until, oldest), right, atol=1e-9)
        assert (right > 0).any()


def test_a_share_by_itself_is_that_of_the_draws(likelihood: KindLikelihood) -> None:
    """Each draw stands at the nearest step of the grid, so that nothing is shifted on average."""
    values = np.zeros((400, 4))
    values[:, OLDEST] = np.linspace(0.1, 0.9, 400)
    even = np.full(400, 1 / 400)
    draws = KindDraws(values, np.ones(400, np.int64), np.ones((400, 7)), even)
    share = draws.share(no_evidence(NO_STOCK))
    assert share.mean == pytest.approx(0.5, abs=1e-6)
    one = replace(draws, values=values[:1] + 0.0045, weights=even[:1] * 400)
    assert one.share(no_evidence(NO_STOCK)).mean == pytest.approx(0.1025, abs=1e-9)


def test_tuning_never_makes_a_guess_less_likely(likelihood: KindLikelihood) -> None:
    guess = Guess(0.6, 0.1, 0.05, 0.1, 1)
    tuned = likelihood.tuned(guess)
    assert tuned.alpha in ALPHAS
    assert tuned.of(guess)[0] > likelihood.of(guess)[0] - 1
