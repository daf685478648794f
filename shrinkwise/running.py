"""What commands share: reading the folder, fitting, the bar that tells how far it is."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from shrinkwise.errors import EvidenceError
from shrinkwise.files import write_file
from shrinkwise.records.tables import Records

if TYPE_CHECKING:
    import polars as pl

    from shrinkwise.demand.backtest import Backtest
    from shrinkwise.demand.model import DemandModel
    from shrinkwise.planning.past_weeks import PastWeeks
    from shrinkwise.shelf.model import ShelfModel


def read_folder(folder: Path, to_play: bool = False) -> Records:
    """The records of a folder; if futures are to be played on them, the loops for it and the
    charts of the answer are made ready meanwhile."""
    from shrinkwise.records.reading import read_records

    if to_play:
        Thread(target=_make_ready, daemon=True).start()

    return read_records(folder)


def _make_ready() -> None:
    from shrinkwise.engine import ready
    from shrinkwise.report import charts

    ready.make_ready()
    charts.make_ready()


def fit_models(records: Records, bar: Progress) -> tuple["DemandModel", "ShelfModel"]:
    """Demand and shelf, with a bar for each."""
    from shrinkwise.demand.model import fit_demand
    from shrinkwise.engine.ready import make_ready
    from shrinkwise.shelf.model import fit_shelf

    task = bar.add_task("Demand", total=len(records.profile.lines))
    demand = fit_demand(records, lambda: bar.advance(task))
    make_ready()
    next_task = bar.add_task("Shelf", total=len(demand.lines))
    return demand, fit_shelf(records, demand, lambda: bar.advance(next_task))


def test_back(records: Records, weeks: int, seed: int) -> tuple["Backtest", "PastWeeks"]:
    """How well past weeks were foreseen and what plans would have saved in them, with bars."""
    from shrinkwise.demand.backtest import backtest_demand
    from shrinkwise.planning.replay import replay_weeks

    with progress_bar() as bar:
        task = bar.add_task("Weeks", total=weeks)
        tested = backtest_demand(records, weeks, seed, lambda: bar.advance(task))
        next_task = bar.add_task("Plans", total=weeks)
        past = replay_weeks(records, weeks, seed, progress=lambda: bar.advance(next_task))
    return tested, past


def demand_files(records: Records, tested: "Backtest") -> dict[str, str]:
    """The files of what moves the demand and how well it is foreseen, by name."""
    from shrinkwise.demand.model import fit_demand
    from shrinkwise.report.demand_files import demand_contents
    from shrinkwise.report.demand_tables import demand_tables

    return demand_contents(demand_tables(records, fit_demand(records)), tested.scores())


def say_demand(console: Console, records: Records, start: date) -> None:
    """What the empty shelf of a week cost and what special days do to the demand, or why that
    cannot be told."""
    from shrinkwise.demand.day_effects import day_effects
    from shrinkwise.demand.model import fit_demand
    from shrinkwise.demand.together import LinesTogether
    from shrinkwise.money.unmet import unmet_week
    from shrinkwise.report.console import print_missed_sales
    from shrinkwise.report.effect_tables import AGAINST, clear_effects, store_effects
    from shrinkwise.report.terminal_table import print_table

    try:
        demand = fit_demand(records)
    except EvidenceError as error:
        console.print(f"What the empty shelf cost cannot be told. {error}", markup=False)
        return
    print_missed_sales(console, unmet_week(records, demand, start), records.profile.currency)
    clear = clear_effects(store_effects(day_effects(LinesTogether.of(records, demand))))
    if not clear.is_empty():
        print_table(console, clear, f"\nWhat special days do to the demand, {AGAINST}")


def write_findings(problems: "pl.DataFrame", out: Path | None) -> None:
    """All findings as a file, where one is wanted."""
    from shrinkwise.report.sheets import csv_text

    if out is not None:
        write_file(out, csv_text(problems))


def say_written(console: Console, files: list[Path]) -> None:
    """Which files were written, and where."""
    if files:
        names = ", ".join(file.name for file in files)
        console.print(f"Written to {files[0].parent}: {names}", markup=False)


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """A bar on the terminal, wiped away at the end."""
    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    errors = Console(stderr=True)
    # where nobody watches, a bar that is wiped away would still leave an empty line
    unseen = not errors.is_terminal
    with Progress(*columns, console=errors, transient=True, disable=unseen) as bar:
        yield bar
