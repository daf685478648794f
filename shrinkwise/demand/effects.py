"""The columns of the demand regression, and how far each may lie from what other lines show."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.special_days import HALF_DAYS
from shrinkwise.profile.weekdays import WEEKDAYS

Floats = NDArray[np.float64]

DAYS_PER_YEAR = 365.25
WAVES, LONG_WAVES = 4, 2
"""Waves a year, and how many of them are long: a line may have a season much of its own."""

WEEKEND = (5, 6)
LEVEL_WEEKS = (80, 40, 20, 10, 5, 2)
"""Weeks before the origin at which the level may step; it stays where it is afterwards."""

LEVEL_CHANGE = 0.01
"""Scale of the level's random walk [log units per square root of a week]."""

COMING_CHANGE = 0.013
"""The same for the weeks to come, in which more changes than the level: by it grow the errors of
weekly sums from one to thirteen weeks ahead, on the year before the last 26 weeks of those data."""

PRICE_ELASTICITY = -1.0


@dataclass(frozen=True)
class Spread:
    """Standard deviation of an effect round its mean: over stores, and what a category, a store
    and a line of a store add [log units]."""

    everywhere: float
    category: float
    store: float
    line: float


_SPREADS = {
    "weekday": Spread(1.0, 0.5, 0.5, 0.5),
    "trend": Spread(0.2, 0.1, 0.15, 0.15),
    "long wave": Spread(0.1, 0.05, 0.1, 0.2),
    "short wave": Spread(0.1, 0.05, 0.1, 0.05),
    "weekend wave": Spread(0.05, 0.03, 0.05, 0.03),
    "holiday": Spread(0.3, 0.1, 0.15, 0.08),
    "as sunday": Spread(0.5, 0.2, 0.3, 0.2),
    "closure": Spread(0.3, 0.1, 0.15, 0.08),
    "special day": Spread(0.2, 0.08, 0.1, 0.05),
    "half day": Spread(0.5, 0.2, 0.3, 0.15),
    "school": Spread(0.2, 0.05, 0.1, 0.05),
    "part of school": Spread(0.2, 0.06, 0.1, 0.05),
    "event": Spread(0.3, 0.1, 0.2, 0.2),
    "promotion": Spread(0.3, 0.2, 0.1, 0.1),
    "other promotion": Spread(0.1, 0.05, 0.05, 0.03),
    "price": Spread(0.4, 0.2, 0.2, 0.3),
}
"""By kind. Chosen on the 52 weeks before the last 26 of an open data set of 25 bakery stores;
those of events and price are an assumption."""

_LEVEL_SHARES = Spread(0.5, 0.5, 1.2, 1.0)
_LEVEL = Spread(3.0, 1.0, 1.0, 1.0)
"""Of the level itself, which the seven weekdays share."""


@dataclass(frozen=True)
class Effect:
    """A column of the regression: its name, and its kind, which says how it is held."""

    name: str
    kind: str


def effects_of(special: Iterable[str]) -> tuple[Effect, ...]:
    """The columns in order, for a calendar with these special days."""
    waves = [f"{wave}{k}" for k in range(1, WAVES + 1) for wave in ("cos", "sin")]
    weekend = [f"{WEEKDAYS[day]} {wave}" for day in WEEKEND for wave in ("cos", "sin")]
    closures = ("day before closing", "day after closing", "before two closed", "after two closed")
    round_holidays = (
        *("holiday on Sunday", "holiday eve", "holiday eve on Saturday"),
        *("day after holiday", "day after holiday at a weekend", "bridge day"),
    )
    of_kinds: list[tuple[str, Iterable[str]]] = [
        ("weekday", WEEKDAYS),
        ("trend", ["trend"]),
        ("long wave", waves[: 2 * LONG_WAVES]),
        ("short wave", waves[2 * LONG_WAVES :]),
        ("weekend wave", weekend),
        ("holiday", ["holiday"]),
        ("as sunday", ["holiday as Sunday"]),
        ("holiday", round_holidays),
        ("closure", closures),
        ("school", ["school holiday"]),
        ("part of school", [f"school holiday on {WEEKDAYS[day]}" for day in (0, *WEEKEND)]),
        ("part of school", ["school holiday in summer"]),
        ("event", ["local event"]),
        ("promotion", ["promotion"]),
        ("other promotion", ["promotion of another line"]),
        ("price", ["price"]),
        ("level", [f"level of {weeks} weeks" for weeks in LEVEL_WEEKS]),
    ]
    layout = [Effect(name, kind) for kind, names in of_kinds for name in names]
    after = [one.kind for one in layout].index("school")
    layout[after:after] = [
        Effect(name, "half day" if name in HALF_DAYS else "special day") for name in special
    ]
    return tuple(layout)


def level_steps(age: NDArray[np.integer]) -> Floats:
    """Whether a day lies after each step of the level, shape (n_days, len(LEVEL_WEEKS)).

    Parameters
    ----------
    age : array of int, shape (n_days,)
        Days before the origin; negative after it.
    """
    return (age[:, None] < 7 * np.array(LEVEL_WEEKS)).astype(np.float64)


def central(layout: tuple[Effect, ...]) -> Floats:
    """Mean of each effect before any line was seen, shape (n_effects,)."""
    return np.array([PRICE_ELASTICITY if one.kind == "price" else 0.0 for one in layout])


def covariance(layout: tuple[Effect, ...], of: str) -> Floats:
    """What one of the parts of `Spread` adds to the effects' covariance.

    Parameters
    ----------
    layout : tuple of Effect
    of : str
        Name of the part, such as "store".

    Returns
    -------
    array of float, shape (n_effects, n_effects)
        Effects vary apart, but for the weekdays, which share their level, and the level's steps,
        which are a random walk: a step gathers the change since the one before it.
    """
    variance = np.zeros(len(layout))
    steps = np.flatnonzero([one.kind == "level" for one in layout])
    for at, one in enumerate(layout):
        if one.kind != "level":
            variance[at] = getattr(_SPREADS[one.kind], of) ** 2
    gathered = -np.diff(LEVEL_WEEKS, append=0)
    variance[steps] = (LEVEL_CHANGE * getattr(_LEVEL_SHARES, of)) ** 2 * gathered
    whole = np.diag(variance)
    weekdays = np.flatnonzero([one.kind == "weekday" for one in layout])
    whole[np.ix_(weekdays, weekdays)] += getattr(_LEVEL, of) ** 2
    return whole


def weekly_change(of: str) -> float:
    """Standard deviation of the drift in a coming week, for a part of `Spread` [log units]."""
    return float(COMING_CHANGE * getattr(_LEVEL_SHARES, of))
