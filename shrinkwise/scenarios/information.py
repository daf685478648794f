"""What it is worth to know more before a switch: for sure, from a trial, from more weeks."""

from collections.abc import Iterator
from dataclasses import dataclass
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.planning.futures import Futures
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.line_case import LineCase
from shrinkwise.scenarios.payoff import Payoff

Floats = NDArray[np.float64]

TRIAL_WEEKS, LOG_WEEKS = 4, 8
"""Of a trial in the store, and of more logs without one."""


@dataclass(frozen=True)
class Information:
    """What knowing more is worth before the decision, in the first year.

    Attributes
    ----------
    perfect : float
        To know demand and shoppers of the lines that change for sure [money].
    trial : float
        To see the switched lines for four weeks in the store [money].
    more_weeks : float
        To see today's lines for eight weeks more [money].
    trial_loss, wait_loss : float
        What the switch loses on average in the weeks of the trial, and brings on average in the
        weeks of waiting; 0 where it does not [money].
    trial_cost : float or None
        What a trial costs beside, as the scenario states it [money].
    """

    perfect: float
    trial: float
    more_weeks: float
    trial_loss: float
    wait_loss: float
    trial_cost: float | None

    @property
    def trial_worth(self) -> float:
        """What a trial may cost at most; 0 or less: it is not worth it [money]."""
        return self.trial - self.trial_loss

    @property
    def wait_worth(self) -> float:
        """What eight more weeks of logs are worth after what the wait costs [money]."""
        return self.more_weeks - self.wait_loss


def information(comparison: Comparison, index: int) -> Information:
    """What knowing more is worth before a scenario is decided on.

    Preposterior analysis (H. Raiffa, R. Schlaifer, Applied Statistical Decision Theory, Harvard
    University, 1961): each future is one case of what is true; the data that a trial or more
    weeks would show in it are drawn, and the gain is expected given these data. The expectation
    is a regression of the gain on the data, after one of the gain on what is true, which takes
    the luck of the weeks out of it (M. Strong, J. E. Oakley, A. Brennan, P. Breeze,
    Medical Decision Making 35(5), 2015, doi 10.1177/0272989X15575286), line by line, since lines
    are learned apart.

    Data are the sales of the weeks and, where the records tell it at all, the oldest-first share.
    A week of sales scatters round its mean as the weeks of another future do, so that the luck in
    the data is not that in the gain. Each week is taken to tell as much of the share as a week of
    the records did. What a future's own weeks owe to luck can be known by nobody beforehand and
    is not in the value of knowing for sure.
    """
    payoff = Payoff.of(comparison, index)
    week = float(payoff.week.mean())
    known: dict[str, Floats | float] = {"perfect": 0.0, "trial": 0.0, "more_weeks": 0.0}
    for difference, data in _lines(comparison, index):
        for_sure = expected_given(difference, data.pop("perfect"))
        known["perfect"] = known["perfect"] + for_sure
        for name, columns in data.items():
            known[name] = known[name] + expected_given(for_sure, columns)
    worth = {
        name: value_of(payoff.yearly(week + np.zeros_like(payoff.week) + moved))
        for name, moved in known.items()
    }
    return Information(
        # the regressions scatter, and no data tell more than all there is
        perfect=max(worth.values()),
        trial=worth["trial"],
        more_weeks=worth["more_weeks"],
        trial_loss=TRIAL_WEEKS * max(-week, 0.0),
        wait_loss=LOG_WEEKS * max(week, 0.0),
        trial_cost=comparison.asked[index].trial_cost,
    )


def value_of(expected: Floats) -> float:
    """Value of knowing what makes the gain of a decision be expected so: it is taken where that
    is above 0, and not by the mean alone [money].

    Parameters
    ----------
    expected : array of float, shape (n_paths,)
        Gain given what is known on each path [money].
    """
    return float(np.maximum(expected, 0).mean() - max(expected.mean(), 0.0))


def expected_given(gain: Floats, data: list[Floats]) -> Floats:
    """How the expected gain moves with data, shape (n_paths,), mean 0 [as `gain`].

    Least squares on each of the data and its square. What is fitted to luck is taken off: the
    spread of the expectation is shrunk to the share of the variance that is explained without
    bias (adjusted R squared).

    Parameters
    ----------
    gain : array of float, shape (n_paths,)
    data : list of array of float, shape (n_paths,)
    """
    centred = gain - gain.mean()
    columns = []
    for one in data:
        spread = one.std()
        if spread > 0:
            standard = (one - one.mean()) / spread
            columns += [standard, standard**2 - 1]
    if not columns or not centred.any():
        return np.zeros_like(centred)
    design = np.stack([np.ones_like(centred), *columns], axis=1)
    weights, _, rank, _ = np.linalg.lstsq(design, centred)
    fitted = design @ weights
    free = len(centred) - int(rank)
    if free < 1:
        return np.zeros_like(centred)
    explained = float(fitted.var() / centred.var())
    adjusted = 1 - (1 - explained) * (len(centred) - 1) / free
    return np.asarray(fitted * np.sqrt(max(adjusted, 0.0) / explained)) if explained else fitted


def _lines(comparison: Comparison, index: int) -> Iterator[tuple[Floats, dict[str, list[Floats]]]]:
    """Of each line that changes, comes or ends: what it adds to the difference on every path
    [money per week], and what would be known of it."""
    before, after = comparison.now.lines, comparison.scenarios[index].lines
    footing = comparison.footing.with_newcomers(comparison.asked[index].newcomers)
    for name in dict.fromkeys([*before, *after]):
        now, then = before.get(name), after.get(name)
        if now is then:
            continue
        sides = [
            sign * case.outcome.money.result
            for sign, case in ((1, then), (-1, now))
            if case is not None
        ]
        yield np.sum(sides, axis=0), _data(footing, name, now, then)


def _data(
    footing: Footing, name: str, now: LineCase | None, then: LineCase | None
) -> dict[str, list[Floats]]:
    cases = [case for case in (now, then) if case is not None]
    share = _share(cases[0].futures)
    return {
        "perfect": [*(_level(case.futures) for case in cases), share],
        "trial": [] if then is None else _seen(footing, name, then.futures, TRIAL_WEEKS),
        "more_weeks": [] if now is None else _seen(footing, name, now.futures, LOG_WEEKS),
    }


def _seen(footing: Footing, name: str, futures: Futures, weeks: int) -> list[Floats]:
    """Sales of so many weeks, and what they tell of the share."""
    days = slice(futures.days.first_day, futures.days.first_day + 7 * weeks)
    means = futures.means[days].sum(axis=0) + 0.5
    units = futures.streams[:, days].sum(axis=(0, 1)) + 0.5
    scatter = np.roll(np.log(units / means), 1)
    found = [np.log(means) + scatter]
    told = footing.weeks_of_share(name)
    if told > 0:
        share = _share(futures)
        rng = np.random.default_rng([footing.settings.seed, crc32(f"trial of {name}".encode())])
        noise = share.std() * np.sqrt(told / weeks) * rng.standard_normal(len(share))
        found.append(share + noise)
    return found


def _level(futures: Futures) -> Floats:
    return np.asarray(np.log(futures.means[futures.days.first_day :].sum(axis=0) + 0.5))


def _share(futures: Futures) -> Floats:
    units = futures.streams.sum(axis=1, dtype=np.int64)
    return np.asarray(units[0] / np.maximum(units.sum(axis=0), 1))
