"""Lines drawn at random: demand, life, costs and shoppers; the same for everyone who asks."""

from dataclasses import dataclass

import numpy as np

from shrinkwise.engine.policy import Days
from shrinkwise.engine.streams import split_demand
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store

EVERY_DAY = tuple(range(7))


@dataclass(frozen=True)
class Case:
    """A line drawn at random.

    Attributes
    ----------
    mean : float
        Units wanted on a day of the week, on average [units per day].
    dispersion : float
        Variance = mean + dispersion x mean^2 on each weekday.
    life : int
        [days]
    bake_cost : float
        Of a bake of any size [margins of a unit].
    step : int
        Every batch is a multiple of this [units].
    oldest_share : float
    dough_share : float
        Dough cost as a share of the price.
    shape : tuple of float
        Demand by weekday as a multiple of the mean.
    """

    mean: float
    dispersion: float
    life: int
    bake_cost: float
    step: int
    oldest_share: float
    dough_share: float
    shape: tuple[float, ...]

    @property
    def store(self) -> Store:
        """A store that sells nothing but the line."""
        price, wage = 4.0, 25.0
        line = Line(
            name="Some loaf",
            category="breads",
            price=price,
            dough_cost=self.dough_share * price,
            shelf_life_days=self.life,
            batch_step=self.step,
            filled=False,
        )
        minutes = 60 * self.bake_cost * line.unit_margin / wage
        labour = Labour(wage_per_hour=wage, minutes_per_bake=minutes)
        return Store(name="Corner", currency="USD", country="US", labour=labour, lines=(line,))

    def futures(self, settings: PlanSettings, n_paths: int, seed: int) -> Futures:
        rng = np.random.default_rng(seed)
        n_days = settings.settling_days + 7 * settings.weeks
        weekday = np.arange(n_days) % 7
        means = np.repeat((self.mean * np.array(self.shape))[weekday, None], n_paths, axis=1)
        size = 1 / max(self.dispersion, 1e-9)
        demand = rng.negative_binomial(size, size / (size + means))
        streams = split_demand(demand, np.full(n_paths, self.oldest_share), seed)
        days = Days(weekday, np.ones(n_days, bool), settings.settling_days)
        return Futures(streams, means, days)

    def judging(self, settings: PlanSettings) -> Judging:
        """Futures to search and others to judge on."""
        sizes = settings.polish_paths, settings.judge_paths
        return Judging(*(self.futures(settings, n, seed) for seed, n in enumerate(sizes)))


def drawn(number: int) -> Case:
    """The line of a number, the same however many are drawn."""
    rng = np.random.default_rng([20, number])
    shape = rng.lognormal(0, 0.3, 7)
    return Case(
        mean=float(np.exp(rng.uniform(0, np.log(40)))),
        dispersion=rng.uniform(0, 0.3),
        life=int(rng.integers(1, 8)),
        # one in six costs nothing
        bake_cost=max(rng.uniform(-6, 30), 0.0),
        step=int(rng.choice([1, 1, 1, 4, 6, 12])),
        oldest_share=rng.uniform(),
        dough_share=rng.uniform(0.15, 0.6),
        shape=tuple(shape / shape.mean()),
    )
