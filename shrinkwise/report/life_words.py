"""What a shelf-life study found, in sentences."""

import polars as pl

from shrinkwise.planning.life_study import LifeStudy, LineStudy
from shrinkwise.report.words import count_text, money_text
from shrinkwise.shelf.real_life import RealLife

BY_THEMSELVES = (
    "Lines are taken by themselves: what opening a baking day costs, which all lines share, is not "
    "in these figures."
)
"""Said of weekly losses that are sums over lines."""


def not_studied(study: LifeStudy) -> list[str]:
    """Which lines are left out and why, a sentence each."""
    return [f"No study of {name}: {reason}." for name, reason in study.left_out.items()]


def silences(study: LifeStudy) -> list[str]:
    """Why the logs do not show how some lines leave the shelf, a sentence for each reason."""
    reasons = {line.line.name: line.silence for line in study.lines if line.silence}
    return [
        f"The curves of {', '.join(n for n, why in reasons.items() if why == reason)} are from the "
        f"model alone, since {reason}."
        for reason in sorted(set(reasons.values()))
    ]


def unplayed_lives(study: LineStudy) -> list[str]:
    """Shelf lives of a line that were to be studied and cannot be, a sentence for all of them."""
    name, there = study.line.name, [option.line.shelf_life_days for option in study.options]
    lives = [str(life) for life in study.line.lives_to_study if life not in there]
    if not lives:
        return []
    return [
        f"{name} is not studied at {' and '.join(lives)} days: its shelf would hold more units "
        "than can be played."
    ]


def worth_title(study: LifeStudy) -> str:
    """What one more day brings the store where that is more than noise; else what is asked."""
    steps = study.by_extra_days()
    day = None if steps.is_empty() else steps.filter(pl.col("extra_days") == 1).row(0, named=True)
    if day is None or day["saving_week"] <= 2 * day["saving_week_se"]:
        return "What one more day on shelf is worth"
    return f"One more day on shelf: {money_text(day['saving_week'], study.store.currency)} a week"


def worth_sentence(study: LifeStudy) -> str:
    """What one more day is worth to all lines that were studied at every step; else nothing."""
    steps = study.by_extra_days()
    if steps.is_empty():
        return ""
    day = steps.filter(pl.col("extra_days") == 1).row(0, named=True)
    currency = study.store.currency
    lines = day["lines"]
    who = "the one line that has every step" if lines == 1 else f"all {lines} lines"
    said = (
        f"One more day for {who} saves "
        f"{money_text(day['saving_week'], currency)} a week (in nine of ten futures "
        f"{money_text(day['saving_week_low'], currency)} to "
        f"{money_text(day['saving_week_high'], currency)}; standard error "
        f"{day['saving_week_se']:.2f}), each life under its own best plan"
    )
    if day["extra_dough_cost"] is None or day["extra_dough_cost"] <= 0:
        return f"{said}."
    return (
        f"{said}; it pays as long as the dough of a unit costs no more than "
        f"{money_text(day['extra_dough_cost'], currency)} above the present one (standard error "
        f"{day['extra_dough_cost_se']:.3f})."
    )


def notes(study: LineStudy) -> list[str]:
    """What is to be noted of a line: other days on which its units leave than its code says, and
    lives that are not studied."""
    return [*life_sentences(study.line.name, study.real), *unplayed_lives(study)]


def life_sentences(name: str, real: RealLife) -> list[str]:
    """How a line's real life differs from its code."""
    said = []
    coded = count_text(real.coded_days, "day")
    if real.quality_from_day is not None:
        said.append(
            f"{name} is coded for {coded}, but disposals for quality start on day "
            f"{real.quality_from_day} ({count_text(real.quality_units, 'unit')}): its real life "
            "is shorter than its code."
        )
    elif real.disposes_early:
        said.append(
            f"{name} is coded for {coded}, but {count_text(real.early_units, 'unit')} of "
            f"{real.baked} baked were disposed of before their last day."
        )
    if real.sells_after_code:
        after = max(real.left_after_code, real.sold_after_code)
        said.append(
            f"{name} is coded for {coded}, but about {count_text(after, 'unit')} of {real.baked} "
            "baked stood on the shelf after that: check the code, and what is sold on the last "
            "day; the maker's date code is never exceeded."
        )
    return said
