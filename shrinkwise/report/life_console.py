"""A shelf-life study on the terminal."""

from rich.console import Console
from rich.markup import escape

from shrinkwise.planning.life_study import LifeStudy
from shrinkwise.report import life_tables
from shrinkwise.report.console import print_assumed
from shrinkwise.report.kind_tables import READ_AS, kinds_shown, silent_kinds, told_kinds
from shrinkwise.report.life_words import (
    BY_THEMSELVES,
    not_studied,
    notes,
    silences,
    worth_sentence,
)
from shrinkwise.report.reduction_tables import reduction_sentences
from shrinkwise.report.terminal_table import print_table
from shrinkwise.tonight.sheet import CAUTIONS


def print_shelf_life(console: Console, study: LifeStudy) -> None:
    """Loss and waste by shelf life, the store's total, and sell-through."""
    lives = life_tables.shelf_life_table(study).select(
        "product",
        "shelf_life_days",
        "is_present",
        "waste_units_week_habit",
        "waste_units_week_best",
        "loss_week_habit",
        "loss_week_best",
        "loss_week_difference",
        "loss_week_difference_se",
        "extra_dough_cost",
        "days_left_best",
    )
    title = "A week by shelf life: under the present habit, and the best plan"
    print_table(console, lives, title, keys=2)
    sell_through = life_tables.sell_through_by_day(study)
    print_table(
        console,
        sell_through,
        "\nSold by the close of a day on shelf [% of units baked]: from the store's logs where "
        "they speak, and from the fitted model",
        keys=3,
    )
    of_lines = (said for line in study.lines for said in notes(line))
    for sentence in [*not_studied(study), *silences(study), *of_lines]:
        console.print(escape(sentence))
    told = kinds_shown(told_kinds(study))
    print_table(console, told, f"\nWho comes to the shelf. {READ_AS}", keys=2)
    for sentence in silent_kinds(study):
        console.print(sentence, markup=False)
    for sentence in reduction_sentences(study):
        console.print(escape(sentence))
    steps = study.by_extra_days()
    if not steps.is_empty():
        print_table(
            console,
            life_tables.steps_shown(steps),
            "\nAll lines that have every step: a week by days more or less",
        )
        console.print(BY_THEMSELVES)
        console.print(worth_sentence(study))
    console.print(f"! {CAUTIONS[0]}")
    print_assumed(console, study.store)
