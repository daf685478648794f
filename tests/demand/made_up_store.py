"""A store of three lines whose effects are stated: its days, fitted together."""

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.calendar import Calendar
from shrinkwise.demand.fitting import fit_together, groupings
from shrinkwise.demand.line import LineDays
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.together import LinesTogether, told
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store

FIRST, N_DAYS = date(2025, 1, 6), 420
DATES = [FIRST + timedelta(days=day) for day in range(N_DAYS)]
MEANS = {"Rye loaf": 30.0, "White loaf": 60.0, "Buns": 20.0}
CATEGORIES = ("breads", "breads", "rolls")
ELASTICITY, SEEN, OFF = -1.5, 0.15, 0.2
EVENT, HOLIDAY, EVE, SCHOOL = 0.3, -0.25, 0.2, -0.1
LIFT = SEEN + ELASTICITY * np.log(1 - OFF)
"""Log of what a promotion does: it is seen, and a fifth is off the price."""

WEEK = np.array([0.9, 0.8, 0.9, 1.0, 1.2, 1.4, 0.8])
HOLIDAYS = frozenset(DATES[day] for day in (40, 101, 150, 222, 290, 345, 400))
EVENTS = frozenset((None, DATES[day]) for day in (60, 61, 200, 201, 310, 311))
SCHOOL_DAYS = frozenset(DATES[170:212])
PROMOTED = frozenset(
    (name, DATES[first + day])
    for name, starts in {"Rye loaf": (80, 260, 380), "White loaf": (120, 320)}.items()
    for first in starts
    for day in range(6)
)
PRICE_CHANGES = {"Rye loaf": ((175, 0.8),), "White loaf": ((250, 0.85), (110, 0.7)), "Buns": ()}
"""Days before which a price was such a share of the present one, the latest first."""


def calendar() -> Calendar:
    lines = tuple(
        Line(name=name, category=category, price=4.0, dough_cost=1.0, shelf_life_days=3)
        for name, category in zip(MEANS, CATEGORIES, strict=True)
    )
    nothing: frozenset[date] = frozenset()
    return Calendar(
        store=Store(name="Made up", currency="USD", country="US", lines=lines),
        origin=DATES[-1], holidays=HOLIDAYS, special={}, closed=nothing, shut=nothing,
        school=SCHOOL_DAYS, events=EVENTS, promoted=PROMOTED, promotions={}, sunday_step={},
    )  # fmt: skip


def log_price(name: str, prices: bool = True) -> NDArray[np.float64]:
    """Log of each day's price over the present one."""
    ratio = np.zeros(N_DAYS)
    if not prices:
        return ratio
    for day, share in PRICE_CHANGES[name]:
        ratio[:day] = np.log(share)
    on = np.array([(name, day) in PROMOTED for day in DATES])
    return ratio + np.where(on, np.log(1 - OFF), 0.0)


def log_effects(name: str, prices: bool = True) -> NDArray[np.float64]:
    """What is true of a line's special days."""

    def on(days: frozenset[date], after: int = 0) -> NDArray[np.bool_]:
        return np.array([day + timedelta(days=after) in days for day in DATES])

    holiday = on(HOLIDAYS)
    told = HOLIDAY * holiday + EVE * (on(HOLIDAYS, 1) & ~holiday) + SCHOOL * on(SCHOOL_DAYS)
    told = told + EVENT * np.array([(None, day) in EVENTS for day in DATES])
    if prices:
        promoted = np.array([(name, day) in PROMOTED for day in DATES])
        told = told + SEEN * promoted + ELASTICITY * log_price(name)
    return np.asarray(told)


def fitted_store(seed: int, prices: bool = True) -> LinesTogether:
    """Draw the store's days and fit them; without prices, nothing was ever on promotion and no
    price was ever another."""
    rng = np.random.default_rng(seed)
    told_by = calendar()
    if not prices:
        told_by = Calendar(**(vars(told_by) | {"promoted": frozenset()}))
    weekday = np.array([day.weekday() for day in DATES])
    every, none = np.ones(N_DAYS, np.bool_), np.zeros(N_DAYS, np.bool_)
    days = []
    for name, mean in MEANS.items():
        rate = mean * WEEK[weekday] * np.exp(log_effects(name, prices))
        units = rng.poisson(rate * rng.gamma(1 / 0.06, 0.06, N_DAYS))
        effects = told_by.effects(name, DATES, log_price(name, prices))
        days.append(LineDays(units, none, every, effects, np.ones(N_DAYS)))
    layout = told_by.layout
    groups, own = groupings(layout, CATEGORIES, ["Made up"] * len(MEANS))
    fits = [one for one in fit_together(days, layout, groups, own) if one is not None]
    lines = dict(zip(MEANS, (one.line for one in fits), strict=True))
    return LinesTogether(
        model=DemandModel(lines, {}, told_by, {}, "", 0.0),
        names=tuple(MEANS),
        categories=CATEGORIES,
        days=tuple(days),
        demand=np.array(list(MEANS.values())),
        params=np.stack([one.line.params[:-1] for one in fits]),
        information=np.stack([told(one.line, one.prior) for one in fits]),
    )
