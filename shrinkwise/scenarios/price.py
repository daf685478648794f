"""What a new price of a line does to its demand, where the scenario does not say it."""

from dataclasses import replace

from shrinkwise.demand.elasticity import price_answers
from shrinkwise.demand.factor import PriceFactor
from shrinkwise.demand.together import LinesTogether
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.scenario import Scenario


def with_price_factors(scenarios: tuple[Scenario, ...], footing: Footing) -> tuple[Scenario, ...]:
    """The scenarios, with a demand factor for every line that has another price and no stated one.

    It is (new price / old price) to the power of the elasticity that the records tell. The draws
    of the elasticity are those of the path, the same in every scenario.

    Parameters
    ----------
    scenarios : tuple of Scenario
    footing : Footing

    Raises
    ------
    ValueError
        When there is nothing to draw another demand from.
    """
    asked = [_dearer_or_cheaper(scenario, footing) for scenario in scenarios]
    if not any(asked):
        return scenarios
    if footing.source is None:
        raise ValueError("a new price without a demand factor needs a source to draw futures from")
    answers = price_answers(LinesTogether.of(footing.source.records, footing.source.demand))
    return tuple(
        replace(
            scenario,
            factors=scenario.factors
            | {name: PriceFactor.of(answers.of(name), ratio) for name, ratio in by_line.items()},
        )
        for scenario, by_line in zip(scenarios, asked, strict=True)
    )


def _dearer_or_cheaper(scenario: Scenario, footing: Footing) -> dict[str, float]:
    """New price over old price, by line."""
    return {
        name: line.price / footing.store.line(name).price
        for name, line in scenario.lines.items()
        if name in footing.futures
        and name not in scenario.factors
        and line.price != footing.store.line(name).price
    }
