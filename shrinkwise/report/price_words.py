"""What a new price is taken to do to the demand, in sentences."""

import numpy as np

from shrinkwise.demand.elasticity import ASSUMPTION, OWN_LOGS
from shrinkwise.demand.factor import Elasticity, PriceFactor
from shrinkwise.demand.together import WIDTH
from shrinkwise.profile.store import Store
from shrinkwise.report.words import count_text
from shrinkwise.scenarios.scenario import Scenario

MOST_LINES = 4
"""Lines of which each gets a sentence of its own."""


def price_sentences(asked: Scenario, store: Store) -> list[str]:
    """A sentence for each line whose price moves its demand, with the elasticity and what it rests
    on; beyond a few lines one for the rest."""
    moved = {name: one for name, one in asked.factors.items() if isinstance(one, PriceFactor)}
    said = [
        _sentence(name, asked.lines[name].price, factor, store.currency)
        for name, factor in list(moved.items())[:MOST_LINES]
    ]
    rest = list(moved.values())[MOST_LINES:]
    if rest:
        shares = sorted(100 * _factor(one, one.elasticity.mean) for one in rest)
        lines = count_text(len(rest), "more line")
        said.append(
            f"The same for {lines}: demand {shares[0]:.0f}% to {shares[-1]:.0f}% of now, by the "
            "elasticity of each."
        )
    return said


def _sentence(name: str, price: float, factor: PriceFactor, currency: str) -> str:
    one = factor.elasticity
    ends = one.mean - WIDTH * one.sd, one.mean + WIDTH * one.sd
    low, high = sorted(100 * _factor(factor, end) for end in ends)
    return (
        f"No demand factor is stated for {name}: at {currency} {price:.2f} its demand is taken as "
        f"{100 * _factor(factor, one.mean):.0f}% of now (in nine of ten futures {low:.0f}% to "
        f"{high:.0f}%), by a price elasticity of {one.mean:.2f} ({ends[0]:.2f} to {ends[1]:.2f}) "
        f"{_rests_on(one)}."
    )


def _factor(factor: PriceFactor, elasticity: float) -> float:
    return float(np.power(factor.price_ratio, elasticity))


def _rests_on(one: Elasticity) -> str:
    if one.rests_on == ASSUMPTION:
        return "that is an assumption, since the logs hold no other price of any line"
    share = f"{one.from_logs_pct:.0f}% of which the logs tell, the rest being an assumption"
    if one.rests_on != OWN_LOGS:
        return f"from other lines, since its own logs hold no other price ({share})"
    seen = [
        count_text(n, thing)
        for n, thing in (
            (one.price_changes, "price change"),
            (one.promotion_days, "promotion day"),
        )
        if n
    ]
    return f"from {' and '.join(seen)} of the line and from other lines ({share})"
