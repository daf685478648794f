"""What a manager needs to decide on a switch, in the words of one page."""

from dataclasses import dataclass

from shrinkwise.profile.line import Line
from shrinkwise.report.comparison_tables import result_parts_table
from shrinkwise.report.study_words import study_sentences
from shrinkwise.report.verdict import CHECK_LABELS, how_sure, notes, verdict
from shrinkwise.report.words import count_text, money_text
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.fussy import Fussiness
from shrinkwise.scenarios.new_line import Newcomer
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.study import Study
from shrinkwise.tonight.sheet import CAUTIONS

SURE, UNSURE = 90.0, 50.0
"""Chance of paying within the year from which a switch is advised, and from which it is leaned
to [% of futures]; against it below what is left to 100."""

FIGURES = 3

MOST_LINES_NAMED = 4


@dataclass(frozen=True)
class Decision:
    """One page's words, a paragraph each."""

    question: str
    answer: str
    how_sure: tuple[str, ...]
    figures: tuple[str, ...]
    what_would_change_it: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def sections(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Every section after the question with its heading, in order."""
        return (
            ("Answer", (self.answer,)),
            ("How sure", self.how_sure),
            ("Three figures behind it", self.figures),
            ("What would change it", self.what_would_change_it),
            ("Before it is signed", self.cautions),
        )


def decision(comparison: Comparison, index: int, study: Study | None) -> Decision:
    """The words of a scenario's page."""
    return Decision(
        question=_question(comparison, index),
        answer=_answer(comparison, index),
        how_sure=how_sure(comparison, index),
        figures=_figures(comparison, index),
        what_would_change_it=tuple(study_sentences(study, comparison.store.currency)),
        cautions=_cautions(comparison, index),
    )


def _question(comparison: Comparison, index: int) -> str:
    asked, store = comparison.asked[index], comparison.store
    changes = []
    names = list(asked.lines)
    for name in names[:MOST_LINES_NAMED]:
        said = _changed(store.line(name), asked.lines[name], store.currency)
        if name in asked.factors:
            factor = asked.factors[name]
            doubt = f", give or take {100 * factor.sd:.0f}" if factor.sd else ""
            said.append(f"demand {100 * factor.mean:.0f}% of now{doubt}")
        said += _fussy(asked.fussy.get(name))
        changes.append(f"{name} ({', '.join(said) or 'as it is'})")
    if len(names) > MOST_LINES_NAMED:
        changes.append(f"and {count_text(len(names) - MOST_LINES_NAMED, 'more line')}")
    changes += [_added(one, store.currency) for one in asked.newcomers.values()]
    if asked.labour is not None:
        wage = money_text(asked.labour.wage_per_hour, store.currency)
        changes.append(f"with other labour (wage {wage} an hour)")
    if not changes:
        return f"{asked.name}: nothing changes."
    return f"Should the store switch to “{asked.name}”? It changes {', '.join(changes)}."


def _added(new: Newcomer, currency: str) -> str:
    line, factor = new.line, new.factor
    doubt = f", give or take {100 * factor.sd:.0f}" if factor.sd else ""
    of = new.lenders[0] if len(new.lenders) == 1 else f"the mean of {', '.join(new.lenders)}"
    place = f", in place of {new.replaces}" if new.replaces else ""
    said = [
        f"price {currency} {line.price:.2f}",
        f"dough cost {currency} {line.dough_cost:.2f}",
        f"shelf life {count_text(line.shelf_life_days, 'day')}",
        f"demand {100 * factor.mean:.0f}% of {of}{doubt}",
        *_fussy(new.fussy),
    ]
    return f"{line.name}, which is new{place} ({', '.join(said)})"


def _fussy(one: Fussiness | None) -> list[str]:
    """'20% of its shoppers take none after day 2', where that is stated of any."""
    if one is None or one.pct == 0:
        return []
    return [f"{one.pct:g}% of its shoppers take none after day {one.until_day}"]


def _changed(now: Line, then: Line, currency: str) -> list[str]:
    """'dough cost USD 1.12, now USD 0.95' for every setting that is another."""
    said = []
    for field in Line.model_fields:
        was, will = getattr(now, field), getattr(then, field)
        if was != will and field != "shelf_life_study":
            unit = f"{currency} " if field in ("price", "dough_cost", "reduced_price") else ""
            words = field.replace("_", " ")
            said.append(f"{words} {_said(will, unit)}, now {_said(was, unit)}")
    return said


def _said(value: object, unit: str) -> str:
    if value is None:
        return "none"
    return f"{unit}{value:.2f}" if isinstance(value, float) else f"{unit}{value}"


def _answer(comparison: Comparison, index: int) -> str:
    payoff = Payoff.of(comparison, index)
    said = f"{verdict(comparison, index)} under its own best plan"
    if not payoff.first_year.any():
        return f"It makes no difference. {said}."
    chance = payoff.chance_pct
    if chance >= SURE:
        word = "Yes, switch."
    elif chance >= UNSURE:
        word = "Leaning to yes, but not sure."
    elif chance > 100 - SURE:
        word = "Leaning to no, but not sure."
    else:
        word = "No, stay with what is sold today."
    return f"{word} {said}; it pays within a year in {chance:.0f} of 100 futures."


def _figures(comparison: Comparison, index: int) -> tuple[str, ...]:
    """The three parts of the result that change most, with the units and hours behind them."""
    then, now = comparison.scenarios[index], comparison.now
    currency = comparison.store.currency
    waste = float((then.best.waste_units - now.best.waste_units).mean())
    hours = float((then.best.money.labour_hours - now.best.money.labour_hours).mean())
    behind = {
        "Disposal cost": f"{abs(waste):.1f} units {'more' if waste > 0 else 'fewer'} thrown",
        "Dough": f"{abs(waste):.1f} units {'more' if waste > 0 else 'fewer'} thrown",
        "Labour": f"{abs(hours):.1f} hours {'more' if hours > 0 else 'fewer'}",
    }
    parts = result_parts_table(then, now)
    largest = sorted(parts.iter_rows(), key=lambda row: -abs(row[1]))[:FIGURES]
    return tuple(
        f"{part}: {money_text(abs(change), currency)} a week "
        f"{'to the good' if change >= 0 else 'to the bad'}"
        + (f" ({behind[part]})" if part in behind else "")
        + "."
        for part, change in largest
    )


def _cautions(comparison: Comparison, index: int) -> tuple[str, ...]:
    asked, then, now = comparison.asked[index], comparison.scenarios[index], comparison.now
    hours = float((then.best.money.labour_hours - now.best.money.labour_hours).mean())
    staff = (
        f"Staff time: {abs(hours):.1f} hours a week {'more' if hours > 0 else 'fewer'}, if the "
        "store bakes by the plan of the new line."
    )
    filled = [name for name, line in asked.touched.items() if line.filled is not False]
    held = f" Filled: {', '.join(filled[:MOST_LINES_NAMED])}." if filled else ""
    return (CHECK_LABELS, f"{CAUTIONS[0]}{held}", staff, *notes(comparison, index))
