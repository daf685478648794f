"""What the bakes of a coming week take of what the lines share, date by date."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from shrinkwise.planning.day_use import BUSY, DayUse, Overrun, overruns_of
from shrinkwise.profile.store import Store


def week_overruns(
    store: Store, dates: Sequence[date], uses: Sequence[DayUse]
) -> tuple[tuple[date, Overrun], ...]:
    """Limits that the bakes of a date overrun: pans on a busy day, hours on average, as for the
    standing plan.

    Parameters
    ----------
    store : Store
    dates : sequence of datetime.date
        Open ones.
    uses : sequence of DayUse
        Of each line on these dates, shape (n_dates, n_paths).
    """
    if store.capacity is None or not uses or not dates:
        return ()
    pans = np.sum([use.pans for use in uses], axis=0)
    # a day without a bake needs no opening
    opening = store.labour.minutes_per_baking_day / 60 * (pans > 0)
    hours = (np.sum([use.hours for use in uses], axis=0) + opening).mean(axis=1)
    busy = np.quantile(pans, BUSY, axis=1)
    return tuple(
        (day, overrun)
        for day, *used in zip(dates, busy, hours, strict=True)
        for overrun in overruns_of(store.capacity.limits, DayUse(*used), day.weekday())
    )
