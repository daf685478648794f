"""Days on which a line was on sale, and lines that have ended."""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.profile.reading import PROFILE_FILE
from shrinkwise.records.findings import DOUBT, finding
from shrinkwise.records.ledger import LineLedger

DAYS_AWAY = 28
"""Days in a row without a bake or a sale of a line, after which it is taken for ended or for out
of its season (common practice, no source)."""

_OPEN_SHARE = 0.5
"""Share of these days on which the store must have been open: while it is shut, no line ends."""


def on_sale(ledger: LineLedger) -> NDArray[np.bool_]:
    """Days but those on which the line had ended or was out of its season, shape (n_days,).

    A day without a bake or a sale is still one on sale, as long as there are not so many in a row.

    Parameters
    ----------
    ledger : LineLedger
    """
    n_days = len(ledger.sold)
    there = np.ones(n_days, np.bool_)
    seen = np.flatnonzero((ledger.baked > 0) | (ledger.sold > 0))
    for last, back in pairwise([*seen, n_days]):
        away = slice(last + 1, back)
        if back - last > DAYS_AWAY and ledger.is_open[away].mean() >= _OPEN_SHARE:
            there[away] = False
    return there


def last_seen(ledger: LineLedger) -> date | None:
    """The day on which a line that has ended was last baked or sold; None where it goes on.

    Parameters
    ----------
    ledger : LineLedger
    """
    there = on_sale(ledger)
    if there[-1]:
        return None
    return ledger.start + timedelta(days=int(np.flatnonzero(there)[-1]))


def ended_text(last: date) -> str:
    """That a line was last baked or sold on a day, as a part of a sentence."""
    return f"neither baked nor sold since {last}"


def ended_lines(ledgers: dict[str, LineLedger]) -> Iterator[pl.DataFrame]:
    """A doubt for each line that stands in store.toml and has ended."""
    for name, ledger in ledgers.items():
        if (last := last_seen(ledger)) is not None:
            yield finding(
                DOUBT,
                PROFILE_FILE,
                f"is {ended_text(last)}, so that it is in no plan",
                "Take it out of store.toml; if it comes back in its season, leave it: it is new "
                "again as soon as it is baked or sold.",
                column="product",
                value=name,
            )
