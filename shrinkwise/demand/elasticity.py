"""How strongly the demand answers the price, and what it rests on."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.day_effects import change_pct, usual_ratio
from shrinkwise.demand.factor import Elasticity
from shrinkwise.demand.together import WIDTH, LinesTogether, Sums

Floats = NDArray[np.float64]

LEAST_CHANGE = 0.02
"""Change of the log price from which it is one: roundings at the till lie below."""

ASSUMED_OFF = 0.2
"""Share of the price that a promotion takes off where the records hold none."""

OWN_LOGS, OTHERS, ASSUMPTION = "own logs", "other lines", "assumption"
ALL_LINES = "All lines"


@dataclass(frozen=True)
class PriceAnswers:
    """What a price does to the demand of each line.

    Attributes
    ----------
    together : LinesTogether
    price_changes, promotion_days, cheaper_days : array of int, shape (n_lines,)
        Lasting changes of the price, days of promotions, and those of them on which the price was
        lower, in the records.
    off : float
        Share of the price that a promotion takes off: the median of those of the records.
    sums : Sums
        The elasticity, and the log of what a promotion at that price does.
    assumed : Sums
        The same before any day of the records was heard.
    """

    together: LinesTogether
    price_changes: NDArray[np.int64]
    promotion_days: NDArray[np.int64]
    cheaper_days: NDArray[np.int64]
    off: float
    sums: Sums
    assumed: Sums

    def of(self, product: str) -> Elasticity:
        """A line's elasticity."""
        at = self.together.names.index(product)
        covariance = self.sums.covariance[0]
        # rounding may leave a covariance just short of positive
        root = np.linalg.cholesky(covariance + 1e-9 * np.diag(np.diag(covariance)))
        return Elasticity(
            mean=float(self.sums.mean[0, at]),
            loadings=tuple(float(value) for value in root[at]),
            from_logs_pct=self._from_logs_pct(np.arange(len(covariance)) == at),
            rests_on=_rests_on(self._priced, [at]),
            price_changes=int(self.price_changes[at]),
            promotion_days=int(self.cheaper_days[at]),
        )

    def table(self) -> pl.DataFrame:
        """Elasticity and lift of a promotion of every line, every category and all lines.

        Those of several lines are weighed by their present demand, with 90% intervals that hold
        what the lines share.

        Returns
        -------
        polars.DataFrame
            of (line, category or all), name, elasticity, elasticity_low, elasticity_high,
            from_logs_pct (by how much the records cut its variance), promotion_off_pct, lift_pct,
            lift_low_pct, lift_high_pct, price_changes, promotion_days, rests_on (of the
            elasticity), lift_rests_on.
        """
        names, categories = self.together.names, self.together.categories
        groups = [("line", name, [at]) for at, name in enumerate(names)]
        for category in dict.fromkeys(categories):
            held = [at for at, one in enumerate(categories) if one == category]
            groups.append(("category", category, held))
        groups.append(("all", ALL_LINES, list(range(len(names)))))
        return pl.DataFrame([self._row(*group) for group in groups])

    def _row(self, of: str, name: str, lines: list[int]) -> dict[str, object]:
        weights = np.zeros(len(self.together.names))
        weights[lines] = self.together.demand[lines]
        share = weights / weights.sum()
        middle = float(share @ self.sums.mean[0])
        spread = WIDTH * float(np.sqrt(share @ self.sums.covariance[0] @ share))
        lift, low, high = change_pct(*self.sums.of_lines(1, weights))
        return {
            "of": of,
            "name": name,
            "elasticity": middle,
            "elasticity_low": middle - spread,
            "elasticity_high": middle + spread,
            "from_logs_pct": self._from_logs_pct(share),
            "promotion_off_pct": 100 * self.off,
            "lift_pct": lift,
            "lift_low_pct": low,
            "lift_high_pct": high,
            "price_changes": int(self.price_changes[lines].sum()),
            "promotion_days": int(self.promotion_days[lines].sum()),
            "rests_on": _rests_on(self._priced, lines),
            "lift_rests_on": _rests_on(self.promotion_days, lines),
        }

    def _from_logs_pct(self, share: Floats) -> float:
        """By how much the records cut the variance of a mean elasticity of lines [%]."""
        after, before = (
            float(share @ sums.covariance[0] @ share) for sums in (self.sums, self.assumed)
        )
        return 100 * max(1 - after / before, 0.0)

    @property
    def _priced(self) -> NDArray[np.int64]:
        return self.price_changes + self.cheaper_days


def price_answers(together: LinesTogether) -> PriceAnswers:
    """Elasticity and promotion lift as the regression holds them: normal, pooled over lines.

    A promotion does two things to the demand: it lowers the price, and it is seen. Its lift is
    both.

    Parameters
    ----------
    together : LinesTogether
    """
    price, promotion = together.column("price"), together.column("promotion")
    changes, promoted_days, cheaper_days = [], [], []
    lower: list[float] = []
    for days in together.days:
        ratio = days.effects[days.usable, price]
        promoted = days.effects[days.usable, promotion] > 0
        changes.append(_steps(ratio[~promoted]))
        promoted_days.append(int(promoted.sum()))
        off = (usual_ratio(ratio, promoted) - ratio)[promoted]
        cheaper_days.append(int((off >= LEAST_CHANGE).sum()))
        lower += off[off >= LEAST_CHANGE].tolist()
    share_off = 1 - float(np.exp(-np.median(lower))) if lower else ASSUMED_OFF
    n_lines, n = together.params.shape
    asked = np.zeros((2, n_lines, n))
    asked[0, :, price] = 1.0
    asked[1, :, price], asked[1, :, promotion] = np.log1p(-share_off), 1.0
    return PriceAnswers(
        together=together,
        price_changes=np.array(changes),
        promotion_days=np.array(promoted_days),
        cheaper_days=np.array(cheaper_days),
        off=share_off,
        sums=together.sums(asked),
        assumed=together.sums_before(asked),
    )


def _rests_on(seen: NDArray[np.int64], lines: list[int]) -> str:
    if seen[lines].any():
        return OWN_LOGS
    return OTHERS if seen.any() else ASSUMPTION


def _steps(ratio: Floats) -> int:
    """How often a price changed for good: to a level that is not the last one's."""
    steps, level = 0, None
    for value in ratio:
        if level is None:
            level = value
        elif abs(value - level) >= LEAST_CHANGE:
            steps, level = steps + 1, value
    return steps
