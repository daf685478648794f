"""The answer to a switch of lines, in sentences."""

from shrinkwise.demand.factor import UNCHANGED
from shrinkwise.report.freezer import freezer_notes
from shrinkwise.report.information import information_text
from shrinkwise.report.price_words import price_sentences
from shrinkwise.report.words import count_text, interval_text, money_text
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.payoff import Payoff

CHECK_LABELS = "Check allergens and labels before a line is switched."


def verdict(comparison: Comparison, index: int) -> str:
    """Whether the week comes out better, and by how much."""
    return _verdict(Payoff.of(comparison, index), comparison.store.currency)


def _verdict(payoff: Payoff, currency: str) -> str:
    change = float(payoff.week.mean())
    if change == 0:
        return "The week comes out the same"
    word = "better" if change > 0 else "worse"
    return f"The week comes out {word} by {money_text(abs(change), currency)}"


def confidence(comparison: Comparison, index: int) -> str:
    """How sure the verdict is, and on what it rests."""
    payoff, asked = Payoff.of(comparison, index), comparison.asked[index]
    demand = "the demand held as it is"
    if asked.newcomers or any(factor != UNCHANGED for factor in asked.factors.values()):
        demand = "with its own demand"
    return (
        f"In nine of ten futures {interval_text(payoff.week, comparison.store.currency)}; better "
        f"in {100 * (payoff.week > 0).mean():.0f} of 100. Each line under its own best plan, "
        f"{demand}."
    )


def bad_week(comparison: Comparison, index: int) -> str:
    """What the switch brings in the bad week in ten."""
    payoff, currency = Payoff.of(comparison, index), comparison.store.currency
    worst, share = payoff.bad_week, 100 * float((payoff.by_week < 0).mean())
    less = "or less" if worst >= 0 else "or worse"
    return (
        f"Single weeks differ more: the bad week in ten brings {money_text(worst, currency)} "
        f"{less}, and {share:.0f} of 100 weeks come out worse than without the switch."
    )


def year(comparison: Comparison, index: int) -> str:
    """What the first year brings, the one-off costs taken off, and when they are earned back."""
    payoff, currency = Payoff.of(comparison, index), comparison.store.currency
    comes = money_text(float(payoff.first_year.mean()), currency)
    text = (
        f"The first year brings {comes} (in nine of ten futures "
        f"{interval_text(payoff.first_year, currency)})"
    )
    if payoff.one_off_cost == 0:
        return f"{text}."
    weeks = payoff.payback_weeks[0]
    back = "is never earned back" if weeks is None else f"is earned back in {_weeks(weeks)}"
    cost = money_text(payoff.one_off_cost, currency)
    return (
        f"{text}, the one-off cost of {cost} taken off; that {back}. Chance that the switch pays "
        f"within the year: {payoff.chance_pct:.0f} of 100."
    )


def _weeks(weeks: float) -> str:
    return count_text(int(-(-weeks // 1)), "week")


def unchanged_habit(comparison: Comparison, index: int) -> str:
    """What the switch brings when the store goes on baking as now."""
    payoff = Payoff.of(comparison, index, under_habit=True)
    currency = comparison.store.currency
    said = _verdict(payoff, currency)
    return (
        f"If nobody changes the habit: {said[:1].lower()}{said[1:]} (in nine of ten futures "
        f"{interval_text(payoff.week, currency)})."
    )


def how_sure(comparison: Comparison, index: int) -> tuple[str, ...]:
    """How sure the answer is, from all sides: over the futures, in single weeks, over a year,
    when nobody changes the habit, and whether it is worth to know more first."""
    sides = (confidence, bad_week, year, unchanged_habit, information_text)
    return tuple(side(comparison, index) for side in sides)


def notes(comparison: Comparison, index: int) -> list[str]:
    """What is to be known of a changed or a new line: that it is not weighed at all, what its new
    price does to its demand, that it is best sold for fewer days than it may be, or too slow for
    its case."""
    return [
        *_not_weighed(comparison, index),
        *price_sentences(comparison.asked[index], comparison.store),
        *_sold_shorter(comparison, index),
        *freezer_notes(comparison, index),
    ]


def _not_weighed(comparison: Comparison, index: int) -> list[str]:
    """A sentence for each changed line without a demand."""
    source = comparison.footing.source
    reasons = {} if source is None else source.demand.too_thin
    touched = [name for name in comparison.asked[index].touched if name in reasons]
    return [f"{name} is not weighed: {reasons[name]}." for name in touched]


def _sold_shorter(comparison: Comparison, index: int) -> list[str]:
    """A sentence for each changed line that is best taken off before its code is used up."""
    lines = comparison.scenarios[index].lines
    cases = [lines[name] for name in comparison.asked[index].touched if name in lines]
    return [
        f"{case.line.name} is best sold for {case.line.shelf_life_days} of its "
        f"{case.coded.shelf_life_days} days."
        for case in cases
        if case.line.shelf_life_days != case.coded.shelf_life_days
    ]
