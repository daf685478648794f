"""Lines of a category held to each other: random effects by hand and by another library."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import truncnorm
from statsmodels.stats.meta_analysis import combine_effects

from shrinkwise.shelf.kind_fit import KindEvidence
from shrinkwise.shelf.kind_pool import line_kinds
from shrinkwise.shelf.kind_posterior import FUSSY, MOST_UPLIFT, SWITCHING, UPLIFT, KindDraws
from shrinkwise.shelf.kinds import Estimate
from shrinkwise.shelf.share import GRID, SharePosterior, StockPosterior

PRICE = 4.0
SHARE = SharePosterior(
    np.full(len(GRID), 1 / len(GRID)),
    StockPosterior(np.array([0.5]), np.zeros((1, 1, 3), np.int64), np.ones((1, 1))),
)


def evidence(kind: int, values: np.ndarray, reduced_by: float = 0.5) -> KindEvidence:
    """A line whose draws of one kind are given and even, the price reduced by a share of it.

    Beside the uplift switching shoppers are told and fussy ones not asked for; beside these none.
    """
    drawn = np.zeros((len(values), 4))
    drawn[:, SWITCHING] = 0.2
    drawn[:, kind] = values
    draws = KindDraws(
        drawn,
        np.ones(len(values), np.int64),
        np.ones((len(values), 7)),
        np.full(len(values), 1 / len(values)),
    )
    line = SimpleNamespace(price=PRICE, reduced_price=PRICE * (1 - reduced_by))
    likelihood = SimpleNamespace(days=SimpleNamespace(ledger=SimpleNamespace(line=line)))
    fussy, reduced = (None, "not asked") if kind == FUSSY else ("not asked", None)
    return KindEvidence(likelihood, range(1, 3), SHARE, draws, fussy, reduced)  # type: ignore[arg-type]


def told(kind: int, mean: float, sd: float, reduced_by: float = 0.5) -> KindEvidence:
    """Two draws, one standard deviation below and above the mean."""
    return evidence(kind, np.array([mean - sd, mean + sd]), reduced_by)


def of_thin_line(others: list[KindEvidence], reduced_by: float = 0.5) -> Estimate:
    """Bargain shoppers of a line whose own logs leave every uplift as likely."""
    wide = evidence(UPLIFT, np.linspace(0, MOST_UPLIFT, 3001), reduced_by)
    found = line_kinds(wide, {UPLIFT: others}).bargain
    assert found.pooled
    return found


def holds(found: Estimate, mean: float, sd: float) -> None:
    """A normal prior between no uplift and the largest."""
    normal = truncnorm(-mean / sd, (MOST_UPLIFT - mean) / sd, mean, sd)
    assert found.mean == pytest.approx(normal.mean(), abs=2e-3)
    assert found.low == pytest.approx(normal.ppf(0.05), abs=2e-3)
    assert found.high == pytest.approx(normal.ppf(0.95), abs=2e-3)


def test_lines_that_differ_leave_another_line_as_wide_by_hand() -> None:
    """Uplifts of 0.2, 0.5 and 0.8, each told to 0.05, all by half the price: 0.4, 1 and 1.6 for
    the whole price, to 0.1.

    Cochran's Q is 100 (0.36 + 0 + 0.36) = 72; the variance between lines (72 - 2) / (300 - 100) =
    0.35, that of their mean 0.36 / 3 = 0.12: another line's is 0.47.
    """
    found = of_thin_line([told(UPLIFT, mean, 0.05) for mean in (0.2, 0.5, 0.8)])
    holds(found, 0.5, 0.5 * np.sqrt(0.35 + 0.36 / 3))


def test_lines_that_agree_leave_another_line_three_tenths_of_the_mean_by_hand() -> None:
    """Two uplifts of 0.6 to 0.05 by half the price are 1.2 to 0.1 for the whole of it."""
    found = of_thin_line([told(UPLIFT, 0.6, 0.05)] * 2)
    holds(found, 0.6, 0.5 * np.sqrt(0.36**2 + (0.1**2 + 0.36**2) / 2))


@pytest.mark.parametrize(
    ("means", "sds"),
    [
        ((0.3, 0.7, 1.4), (0.1, 0.05, 0.2)),
        ((0.1, 0.6, 0.5, 1.0), (0.02, 0.1, 0.15, 0.3)),
        ((0.4, 1.6), (0.3, 0.05)),
    ],
)
def test_the_spread_between_lines_is_that_of_the_method_of_moments(
    means: tuple[float, ...], sds: tuple[float, ...]
) -> None:
    """Against the one-step estimate of statsmodels (computed)."""
    others = [told(UPLIFT, mean, sd) for mean, sd in zip(means, sds, strict=True)]
    moments = combine_effects(np.array(means), np.array(sds) ** 2, method_re="dl")
    assert np.sqrt(moments.tau2) > 0.3 * moments.mean_effect_fe
    sd = np.sqrt(moments.tau2 + moments.sd_eff_w_re**2)
    holds(of_thin_line(others), moments.mean_effect_re, sd)


@pytest.mark.parametrize("reduced_by", [0.25, 0.5, 0.75])
def test_bargain_shoppers_grow_with_the_depth_of_each_lines_own_reduction(
    reduced_by: float,
) -> None:
    """0.2 at a quarter off is 0.8 for the whole price, as is 0.4 at half off."""
    others = [told(UPLIFT, 0.2, 0.02, 0.25), told(UPLIFT, 0.4, 0.04, 0.5)]
    found = of_thin_line(others, reduced_by)
    spread = 0.3 * 0.8
    holds(found, reduced_by * 0.8, reduced_by * np.sqrt(spread**2 + (spread**2 + 0.08**2) / 2))


def test_a_share_of_fussy_shoppers_knows_of_no_depth() -> None:
    """0.2 at a quarter off and at three quarters off is 0.2 of a line that is reduced by half."""
    wide = evidence(FUSSY, np.linspace(0, 0.8, 2001))
    others = [told(FUSSY, 0.2, 0.02, 0.25), told(FUSSY, 0.2, 0.02, 0.75)]
    found = line_kinds(wide, {FUSSY: others}).fussy
    sd = np.sqrt(0.06**2 + (0.06**2 + 0.02**2) / 2)
    normal = truncnorm(-0.2 / sd, 0.6 / sd, 0.2, sd)
    assert found.pooled
    assert found.mean == pytest.approx(normal.mean(), abs=1e-3)
    assert found.high == pytest.approx(normal.ppf(0.95), abs=1e-3)


def test_draws_far_from_their_category_are_held_to_it_too() -> None:
    """All 60 standard deviations of the prior and more above it, where its density is no number
    above 0: the nearest draws are all that is left, each by e to the -0.5 of the square's rise."""
    own = evidence(UPLIFT, np.array([1.2, 1.2 + 1e-4, 3.0])).draws
    assert own is not None
    held = own.held_to(UPLIFT, 0.0, 0.02)
    less = np.exp(-0.5 * ((1.2 + 1e-4) ** 2 - 1.2**2) / 0.02**2)
    assert held.weights == pytest.approx(np.array([1, less, 0]) / (1 + less))
    # what one prior rules out, no other brings back
    again = held.held_to(UPLIFT, 3.0, 0.02)
    assert again.weights[2] == 0
    assert again.weights.sum() == pytest.approx(1)


def test_a_line_whose_own_logs_tell_is_not_held_to_others() -> None:
    sharp = evidence(UPLIFT, np.linspace(1.0, 1.2, 201))
    found = line_kinds(sharp, {UPLIFT: [told(UPLIFT, 0.2, 0.02)] * 2}).bargain
    assert not found.pooled
    assert found.mean == pytest.approx(1.1)
