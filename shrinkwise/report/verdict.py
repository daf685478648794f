"""The answer to a switch of lines, in sentences."""

from collections.abc import Iterable

from shrinkwise.report.words import interval_text, money_text
from shrinkwise.scenarios.compare import StoreCase


def verdict(scenario: StoreCase, now: StoreCase, currency: str) -> str:
    """Whether the week comes out better, and by how much."""
    change = float((scenario.money.result - now.money.result).mean())
    if change == 0:
        return "The week comes out the same"
    word = "better" if change > 0 else "worse"
    return f"The week comes out {word} by {money_text(abs(change), currency)}"


def confidence(scenario: StoreCase, now: StoreCase, currency: str) -> str:
    """How sure the verdict is."""
    change = scenario.money.result - now.money.result
    return (
        f"In nine of ten futures {interval_text(change, currency)}; better in "
        f"{100 * (change > 0).mean():.0f} of 100. Each line under its own best plan, the demand "
        "held as it is."
    )


def sold_shorter(scenario: StoreCase, changed: Iterable[str]) -> list[str]:
    """A sentence for each changed line that is best taken off before its code is used up."""
    cases = [scenario.lines[name] for name in changed if name in scenario.lines]
    return [
        f"{case.line.name} is best sold for {case.line.shelf_life_days} of its "
        f"{case.coded_life_days} days."
        for case in cases
        if case.line.shelf_life_days != case.coded_life_days
    ]
