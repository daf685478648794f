"""What knowing more is worth before a switch, in a sentence and as a table."""

import polars as pl

from shrinkwise.report.words import money_text
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.information import LOG_WEEKS, TRIAL_WEEKS, Information, information
from shrinkwise.scenarios.payoff import Payoff

OPEN = 0.02
"""Share of the futures that must speak against the answer for it to be open."""

HARDLY = 1.0
"""Worth so small that hardly any result would change the answer [money]."""

COLUMNS = {
    "scenario": pl.String,
    "to_know": pl.String,
    "weeks": pl.Int64,
    "value_first_year": pl.Float64,
    "lost_meanwhile": pl.Float64,
    "worth_at_most": pl.Float64,
    "stated_cost": pl.Float64,
}


def information_text(comparison: Comparison, index: int) -> str:
    """Whether to try the switch first, to wait for more logs, or neither."""
    found, currency = information(comparison, index), comparison.store.currency
    if max(found.perfect, found.trial) < HARDLY:
        return _nothing_to_learn(comparison, index)
    sure, wait = money_text(found.perfect, currency), max(found.wait_worth, 0.0)
    is_worth = money_text(wait, currency) if wait >= HARDLY else "nothing"
    return (
        f"{_trial(found, currency)} To know demand and shoppers for sure would be worth {sure} in "
        f"the first year, to wait for {LOG_WEEKS} more weeks of logs {is_worth}."
    )


def _nothing_to_learn(comparison: Comparison, index: int) -> str:
    """That no knowledge of what is open in the futures would change the answer."""
    asked = comparison.asked[index]
    better = float((Payoff.of(comparison, index).week > 0).mean())
    if asked.factors or asked.newcomers or min(better, 1 - better) < OPEN:
        return "To know more of demand and shoppers first would not change the answer."
    return (
        "With the demand held as it is, to know more of it and of the shoppers first would not "
        "change the answer: what the futures leave open is the luck of the weeks. Say with "
        "demand_factor_sd how unsure the demand after the switch is, to see what a trial is worth."
    )


def _trial(found: Information, currency: str) -> str:
    trial = f"A trial of {TRIAL_WEEKS} weeks"
    if found.trial < HARDLY:
        result = "hardly any" if found.trial > 0 else "no"
        return f"{trial} is not worth it: {result} result of it would change the answer."
    if found.trial_worth < HARDLY:
        loses, saves = (money_text(one, currency) for one in (found.trial_loss, found.trial))
        return f"{trial} is not worth it: it would lose {loses} to save {saves} on average."
    worth = money_text(found.trial_worth, currency)
    if found.trial_cost is None:
        return f"{trial} is worth up to {worth}: do it if it costs less."
    do = "do it" if found.trial_cost < found.trial_worth else "leave it"
    return (
        f"{trial} is worth up to {worth} and costs {money_text(found.trial_cost, currency)}: {do}."
    )


def information_table(comparison: Comparison) -> pl.DataFrame:
    """Rows per scenario: demand and shoppers known for sure, a trial of the switch, more weeks of
    logs. What that is worth before the decision, over the first year; what the switch loses on
    average in the weeks of the trial, or would bring in those of waiting; what it is worth after
    that, which is the most that it may cost; and the cost that the scenario states [money]."""
    rows = []
    for index, scenario in enumerate(comparison.scenarios):
        found = information(comparison, index)
        rows += [
            (scenario.name, "for sure", None, found.perfect, None, found.perfect, None),
            (
                *(scenario.name, "a trial", TRIAL_WEEKS, found.trial),
                *(found.trial_loss, found.trial_worth, found.trial_cost),
            ),
            (
                *(scenario.name, "more weeks of logs", LOG_WEEKS, found.more_weeks),
                *(found.wait_loss, found.wait_worth, None),
            ),
        ]
    return pl.DataFrame(rows, schema=COLUMNS, orient="row")
