"""The files of a shelf-life study: CSV and HTML."""

from html import escape
from pathlib import Path

import polars as pl

from shrinkwise.files import write_files
from shrinkwise.planning.life_study import LifeStudy, LineStudy
from shrinkwise.report import charts, kind_tables, life_tables, reduction_tables
from shrinkwise.report.html import page, section, table_html
from shrinkwise.report.life_words import BY_THEMSELVES, not_studied, notes, worth_sentence
from shrinkwise.report.sheets import csv_text
from shrinkwise.tonight.sheet import CAUTIONS

_SHOWN = (
    "shelf_life_days",
    "is_present",
    "waste_units_week_best",
    "labour_hours_week_best",
    "bakes_week_best",
    "in_stock_pct_best",
    "days_left_best",
    "loss_week_habit",
    "loss_week_best",
    "loss_week_difference",
    "loss_week_difference_se",
    "extra_dough_cost",
)
"""What the page has room for; the file holds the rest."""


def write_life_study(study: LifeStudy, folder: Path) -> list[Path]:
    """Write the files of a study into `folder`, which is made when it is not there.

    Everything is made before the first file is written.

    Returns
    -------
    list of pathlib.Path
        The files written.

    Raises
    ------
    ShrinkwiseError
        When the folder or a file cannot be written.
    """
    return write_files(folder, life_contents(study))


def life_contents(study: LifeStudy) -> dict[str, str]:
    """shelf_life.csv, sell_through.csv, days_left.csv, batches.csv, shoppers.csv, reductions.csv
    and shelf_life.html."""
    return {
        "shelf_life.csv": csv_text(life_tables.shelf_life_table(study), decimals=4),
        "sell_through.csv": csv_text(life_tables.sell_through_table(study)),
        "days_left.csv": csv_text(life_tables.freshness_table(study)),
        "batches.csv": csv_text(life_tables.batches_table(study)),
        "shoppers.csv": csv_text(kind_tables.kinds_table(study)),
        "reductions.csv": csv_text(reduction_tables.reductions_table(study), decimals=4),
        "shelf_life.html": life_page(study),
    }


def life_page(study: LifeStudy) -> str:
    """The study as one page: what a day is worth to the store, then line by line."""
    lives = life_tables.shelf_life_table(study)
    steps = study.by_extra_days()
    sections = [
        f"<h1>{escape(study.store.name)}: what one more day on shelf is worth</h1>",
    ]
    if said := worth_sentence(study):
        sections.append(f'<p class="lead">{escape(said)}</p>')
    sections.append(f'<p class="caution">{escape(CAUTIONS[0])}</p>')
    sections += [f'<p class="note">{escape(said)}</p>' for said in not_studied(study)]
    if not steps.is_empty():
        shown = table_html(life_tables.steps_shown(steps))
        shown += f'<p class="note">{escape(BY_THEMSELVES)}</p>'
        sections.append(section("The lines that have every step, by days more or less", shown))
    kinds = kind_tables.kinds_shown(kind_tables.kinds_table(study))
    reductions = reduction_tables.reductions_shown(reduction_tables.reductions_table(study))
    sections += [_line(one, study.store.currency, lives, kinds, reductions) for one in study.lines]
    sections.append(
        f'<p class="note">Seed {study.settings.seed}, {study.settings.judge_paths} futures of '
        f"{study.settings.weeks} weeks from {study.start}.</p>"
    )
    return page("What one more day on shelf is worth", sections)


def _line(
    study: LineStudy,
    currency: str,
    lives: pl.DataFrame,
    kinds: pl.DataFrame,
    reductions: pl.DataFrame,
) -> str:
    name, life = study.line.name, study.line.shelf_life_days
    of_line = lives.filter(pl.col("product") == name)
    parts = [f'<p class="caution">{escape(said)}</p>' for said in notes(study)]
    parts += [
        table_html(of_line.select(_SHOWN)),
        charts.svg(charts.loss_by_life(of_line, name, currency)),
    ]
    if study.batches is not None and not study.batches.sell_through.is_empty():
        curve, basis = study.batches.sell_through, "From the logs, with 90% intervals."
    else:
        option = study.option(life)
        assert option is not None
        curve = option.curve(option.best)
        because = f", since {study.silence}" if study.silence else ""
        basis = f"From the model, under the best plan{because}."
    if not curve.is_empty():
        parts.append(charts.svg(charts.sell_through_curve(curve, name, life)))
        parts.append(f'<p class="note">{escape(basis)}</p>')
        parts.append(table_html(life_tables.with_intervals(curve)))
    parts.append(f'<p class="note">Who comes to the shelf. {escape(kind_tables.READ_AS)}</p>')
    parts.append(table_html(kinds.filter(pl.col("product") == name).drop("product")))
    if study.markdown:
        parts.append(table_html(reductions.filter(pl.col("product") == name).drop("product")))
    if said := reduction_tables.reduction_sentence(study, currency):
        parts.append(f'<p class="note">{escape(said)}</p>')
    return section(name, "".join(parts))
