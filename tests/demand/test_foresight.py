"""What was foreseen against what came: exact laws, and the sample store's last year."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from scipy import stats

from shrinkwise.demand.foresight import BINS, Foresight, cut_moments, foresee
from shrinkwise.demand.level_breaks import level_breaks
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.same_weekday import SameWeekday
from shrinkwise.demand.scoring import mean_pit
from shrinkwise.demand.together import LinesTogether
from shrinkwise.records.tables import Records


@pytest.fixture(scope="module")
def together(sample_records: Records, sample_demand: DemandModel) -> LinesTogether:
    return LinesTogether.of(sample_records, sample_demand)


@pytest.fixture(scope="module")
def foresight(together: LinesTogether) -> Foresight:
    return foresee(together)


def test_counts_that_come_as_predicted_are_even() -> None:
    """Czado, Gneiting & Held 2009, Biometrics 65, section 2.1: under the predicted law the mean
    of F(u | x) is u, whatever the law. Binomial(3, 1/2): 1, 3, 3, 1 of eight counts."""
    counts = np.repeat([0, 1, 2, 3], [1, 3, 3, 1])
    law = stats.binom(3, 0.5)
    assert mean_pit(law.cdf(counts - 1), law.cdf(counts), 10) == pytest.approx(np.full(10, 0.1))


def test_one_count_is_spread_over_its_own_step() -> None:
    """Their equation 2: F(u | x) = (u - P(x - 1)) / (P(x) - P(x - 1)) between the two. A step
    from 0.25 to 0.75: none, half of a quarter's worth in each part between, none."""
    found = mean_pit(np.array([0.25]), np.array([0.75]), 4)
    assert found == pytest.approx([0, 0.5, 0.5, 0])
    two = mean_pit(np.array([0.25, 0.9]), np.array([0.75, 1.0]), 4)
    assert two == pytest.approx([0, 0.25, 0.25, 0.5])


@pytest.mark.parametrize(("wide", "shape"), [(0.3, "ends"), (3.0, "middle")])
def test_a_wrong_spread_shows_at_the_ends_or_in_the_middle(wide: float, shape: str) -> None:
    """Their figure 1: U-shaped where the prediction is too narrow, a hump where too wide."""
    rng = np.random.default_rng(1)
    size, told = 5.0, 5.0 / wide
    counts = rng.negative_binomial(size, size / (size + 40), 20_000)
    law = stats.nbinom(told, told / (told + 40))
    found = mean_pit(law.cdf(counts - 1), law.cdf(counts), 10)
    ends, middle = found[[0, -1]].mean(), found[4:6].mean()
    assert (ends > 1.3 * middle) if shape == "ends" else (middle > 1.3 * ends)


@pytest.mark.parametrize("most", [1, 2, 7, 40])
def test_moments_of_the_sale_of_what_was_there(most: int) -> None:
    """Against the sums over the law, as scipy has it."""
    mean, alpha = 9.0, 0.2
    law = stats.nbinom(1 / alpha, 1 / (1 + alpha * mean))
    units = np.arange(2000)
    sale = np.minimum(units, most)
    first, second = cut_moments(np.array([float(most)]), np.log([mean]), np.log(np.array([alpha])))
    assert first[0] == pytest.approx((law.pmf(units) * sale).sum(), rel=1e-9)
    assert second[0] == pytest.approx((law.pmf(units) * sale**2).sum(), rel=1e-9)


def test_the_samples_days_fall_evenly(foresight: Foresight, together: LinesTogether) -> None:
    """16 lines, 364 days: the noise of a share is some 0.4 points."""
    print(f"\n{foresight.line_days} days: {foresight.pit.round(3)}")
    assert len(foresight.pit) == BINS
    assert foresight.pit.sum() == pytest.approx(1)
    assert np.abs(foresight.pit - 0.1).max() < 0.015
    assert level_breaks(foresight.weeks).is_empty()
    assert foresight.line_days > 5000
    assert foresight.left_out == ()


def test_a_model_that_is_too_sure_is_found_out(together: LinesTogether) -> None:
    lines = {
        name: replace(line, params=np.append(line.params[:-1], line.params[-1] - 3))
        for name, line in together.model.lines.items()
    }
    sure = replace(together, model=replace(together.model, lines=lines))
    pit = foresee(sure).pit
    assert pit[[0, -1]].min() > 0.115


def test_weeks_hold_what_was_sold(
    foresight: Foresight, together: LinesTogether, sample_records: Records
) -> None:
    last = foresight.weeks.row(-1, named=True)
    end = together.model.calendar.origin
    assert last["week_start"] == end - timedelta(days=6)
    sold = sample_records.sales.filter(pl.col("date") >= last["week_start"])["units"].sum()
    assert last["sold_units"] == sold
    assert foresight.weeks.height == 52
    error = foresight.weeks["sold_units"] / foresight.weeks["expected_units"] - 1
    assert abs(error.to_numpy().mean()) < 0.02
    # the sample's level does not drift, so that the doubt of a drift is not needed
    assert foresight.in_80_pct >= 80
    width = foresight.weeks["high_units"] - foresight.weeks["low_units"]
    assert (width / foresight.weeks["expected_units"]).to_numpy().mean() < 0.2


def test_a_line_without_a_bakes_log_is_left_out(together: LinesTogether) -> None:
    name = together.names[0]
    ledgers = together.model.ledgers

    def unlogged(*names: str) -> LinesTogether:
        life = {"shelf_life_days": 2}
        hidden = {
            one: replace(
                ledgers[one], line=ledgers[one].line.model_copy(update=life), bakes_inferred=True
            )
            for one in names
        }
        return replace(together, model=replace(together.model, ledgers=ledgers | hidden))

    assert foresee(unlogged(name)).left_out == (name,)
    found = foresee(unlogged(*together.names))
    assert (found.line_days, found.weeks.height, len(found.pit)) == (0, 0, 0)
    assert found.left_out == together.names
    assert level_breaks(found.weeks).is_empty()


def test_a_line_that_goes_by_its_last_days_is_not_looked_at(together: LinesTogether) -> None:
    name = together.names[3]
    one, line = together.days[3], together.model.lines[name]
    recent = SameWeekday.of(one.sold, one.usable, one.weekday)
    lines = together.model.lines | {name: replace(line, recent=recent)}
    found = foresee(replace(together, model=replace(together.model, lines=lines)))
    assert found.by_same_weekday == (name,)
    assert found.left_out == ()
    assert found.line_days < foresee(together).line_days


def test_what_is_foreseen_of_a_week_hears_no_line_of_that_week(together: LinesTogether) -> None:
    """All lines sell half as much again in the last week: what is foreseen of it stays."""
    days = []
    for one in together.days:
        sold = one.sold.copy()
        sold[-7:] = sold[-7:] * 3 // 2
        days.append(replace(one, sold=sold, floor=one.floor & (np.arange(len(sold)) < 0)))
    ledgers = {
        name: replace(ledger, baked=ledger.baked + 1000)
        for name, ledger in together.model.ledgers.items()
    }
    model = replace(together.model, ledgers=ledgers)
    usual = foresee(replace(together, days=tuple(days[:]), model=model)).weeks
    told = [replace(one, floor=one.floor & False) for one in together.days]
    as_it_was = foresee(replace(together, days=tuple(told), model=model)).weeks
    assert usual["expected_units"][-1] == pytest.approx(as_it_was["expected_units"][-1])
    assert usual["sold_units"][-1] > 1.4 * as_it_was["sold_units"][-1]


def test_what_other_lines_tell_of_that_time_is_not_heard(
    foresight: Foresight, together: LinesTogether
) -> None:
    """They know the level of later weeks; what they know of holidays is no secret of the week."""

    def told(kinds: tuple[str, ...]) -> pl.DataFrame:
        more = 0.3 * together.columns(kinds)
        priors = {
            name: replace(prior, mean=prior.mean + more)
            for name, prior in together.model.priors.items()
        }
        return foresee(replace(together, model=replace(together.model, priors=priors))).weeks

    assert told(("level", "trend", "weekday", "long wave")).equals(foresight.weeks)
    assert not told(("holiday", "closure")).equals(foresight.weeks)


def weeks(off: list[float]) -> pl.DataFrame:
    """Weeks that come out so many standard deviations, of 10 units each, above 100 expected."""
    first = date(2026, 1, 5)
    wide = 10 * stats.norm.ppf(0.9)
    return pl.DataFrame(
        {
            "week_start": [first + timedelta(days=7 * at) for at in range(len(off))],
            "sold_units": [100 + 10 * one for one in off],
            "expected_units": 100.0,
            "low_units": 100 - wide,
            "high_units": 100 + wide,
        }
    )


def test_the_sums_of_a_run_by_hand() -> None:
    """Slack 0.5, limit 5: after two weeks of 0, weeks of 2 add 1.5 each and pass 5 with the
    fourth; one of -1 in between takes 1.5 off, and one more of 2 is needed."""
    found = level_breaks(weeks([0, 0, 2, 2, 2, 2, 0]))
    assert found.rows() == [(date(2026, 1, 19), date(2026, 2, 9), pytest.approx(20))]
    assert level_breaks(weeks([0, 0, 2, 2, 2, -1, 2])).is_empty()
    found = level_breaks(weeks([0, 0, -2, -2, -2, 1, -2, -2]))
    assert found.rows() == [(date(2026, 1, 19), date(2026, 2, 23), pytest.approx(-15))]


def test_runs_without_a_cause_are_as_rare_as_printed() -> None:
    """Montgomery, Introduction to Statistical Quality Control, 6th ed. 2009, table 9.3 (from
    memory): average run length of 465 weeks with nothing amiss, of 10.4 after a shift of one
    deviation."""
    rng = np.random.default_rng(1)
    noise = rng.normal(size=20_000)
    quiet = level_breaks(weeks(list(noise))).height
    assert len(noise) / quiet == pytest.approx(465, rel=0.35)
    shifted = level_breaks(weeks(list(noise[:5000] + 1))).height
    assert 5000 / shifted == pytest.approx(10.4, rel=0.1)


def test_a_jump_of_all_lines_is_found_with_its_week(together: LinesTogether) -> None:
    """A third more in the last twenty weeks."""
    days, ledgers = [], {}
    for name, one in zip(together.names, together.days, strict=True):
        sold = one.sold.copy()
        sold[-140:] = sold[-140:] * 4 // 3
        days.append(replace(one, sold=sold))
        ledger = together.model.ledgers[name]
        ledgers[name] = replace(ledger, sold=sold, baked=ledger.baked * 2)
    model = replace(together.model, ledgers=ledgers)
    found = level_breaks(foresee(replace(together, days=tuple(days), model=model)).weeks)
    print(found)
    assert found["since"][0] == together.model.calendar.origin - timedelta(days=139)
    assert found["change_pct"][0] > 3
