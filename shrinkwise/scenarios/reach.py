"""Where what a switch brings changes its sign, within what is looked at of a term."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from shrinkwise.demand.paths import INTERVAL

Floats = NDArray[np.float64]

MONEY_STEP, FACTOR_STEP = 1e-6, 2e-3
"""To which money and a demand factor are found."""


@dataclass(frozen=True)
class Reach:
    """Between which values of a term a root is looked for, and how closely.

    Attributes
    ----------
    low, high, step : float
    is_share : bool
        The higher it is, the less a switch brings: it pays up to the root, which is the upper
        end where it pays there, too. It is looked at in whole steps, so that the same futures
        serve for every plan and quantile, and taken as straight between two of them.
    """

    low: float
    high: float
    step: float = MONEY_STEP
    is_share: bool = False

    def root(self, of: Callable[[float], float]) -> float | None:
        """Where a function changes its sign, or None where it does not."""
        at_low, at_high = of(self.low), of(self.high)
        if self.is_share:
            return self._root_of_share(of, at_low, at_high)
        if at_low * at_high > 0:
            return None
        return float(brentq(of, self.low, self.high, xtol=self.step))

    def _root_of_share(
        self, of: Callable[[float], float], at_low: float, at_high: float
    ) -> float | None:
        if at_low <= 0:
            return None
        if at_high > 0:
            return self.high
        low, high = self.low, self.high
        while high - low > self.step:
            middle = low + self.step * ((high - low) // self.step // 2)
            brought = of(middle)
            if brought > 0:
                low, at_low = middle, brought
            else:
                high, at_high = middle, brought
        return low + (high - low) * at_low / (at_low - at_high)

    def interval(self, brought: Callable[[float], Floats]) -> tuple[float | None, float | None]:
        """Where the 5% and the 95% quantile of what a switch brings change their signs,
        ascending."""
        low, high = (self.root(partial(_of_quantile, brought, q)) for q in INTERVAL)
        return (low, high) if low is None or high is None else (min(low, high), max(low, high))


def quantile(q: float, brought: Floats) -> float:
    """Of what a switch brings over the futures [money per week]."""
    return float(np.quantile(brought, q))


def _of_quantile(brought: Callable[[float], Floats], q: float, x: float) -> float:
    return quantile(q, brought(x))
