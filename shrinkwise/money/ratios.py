"""Retail ratios. Every name says its base, since the same data give several shrinks."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shrinkwise.money.week import Money


def share_pct(part: ArrayLike, base: ArrayLike) -> NDArray[np.float64]:
    """`part` in percent of `base` [%]; NaN where the base is zero."""
    part, base = np.asarray(part, np.float64), np.asarray(base, np.float64)
    return np.divide(100 * part, base, out=np.full_like(base + part, np.nan), where=base != 0)


def shrink_at_retail(money: Money) -> NDArray[np.float64]:
    """Markdown plus the disposed at their full price [money]."""
    return money.markdown + money.disposed_at_retail


def shrink_at_cost(money: Money) -> NDArray[np.float64]:
    """Markdown plus the disposed at their dough cost [money]."""
    return money.markdown + money.disposed_at_cost


def shrink_at_retail_pct_of_net_sales(money: Money) -> float:
    """Shrink at retail in percent of net sales [%], over all that `money` holds.

    The share of the totals, not the mean of shares: a week with few sales counts for little.
    """
    return float(share_pct(shrink_at_retail(money).sum(), money.net_sales.sum()))
