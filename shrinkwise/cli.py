"""The command line: each command reads, calls one function of the house and prints or writes."""

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from shrinkwise import running
from shrinkwise.errors import ShrinkwiseError
from shrinkwise.files import require_folder
from shrinkwise.records.tables import Records

DONE, DONE_WITH_FINDINGS, NOT_POSSIBLE = 0, 1, 2

app = typer.Typer(
    help="From an in-store bakery's logs to a bake plan.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="markdown",
)
_UNSEEN_WIDTH = 120
console = Console(soft_wrap=True, width=None if sys.stdout.isatty() else _UNSEEN_WIDTH)

RecordsFolder = Annotated[
    Path, typer.Argument(metavar="RECORDS", help="Folder with store.toml and the logs.")
]
OutFolder = Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the files.")]
PerhapsOut = Annotated[Path | None, typer.Option("--out", metavar="DIR", help="For the files.")]
Seed = Annotated[
    int, typer.Option(min=0, max=2**31 - 1, help="The same seed gives the same figures.")
]


def main() -> None:
    """Run the command line; what a user can mend is said without a traceback."""
    try:
        app()
    except ShrinkwiseError as error:
        Console(stderr=True, soft_wrap=True).print(f"Not possible: {error}", markup=False)
        sys.exit(NOT_POSSIBLE)


@app.command(epilog="Example: `shrinkwise sample my_store --seed 1`")
def sample(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to write to.")],
    seed: Seed = 1,
    messy: Annotated[
        bool, typer.Option("--messy", help="As real exports look, with 30 defects.")
    ] = False,
) -> None:
    """Write the records of an invented store: two years of logs of 16 lines."""
    from shrinkwise.sample.logs import write_sample
    from shrinkwise.sample.messy import write_messy_sample

    (write_messy_sample if messy else write_sample)(folder, seed)
    then = f"check {folder}" if messy else f"plan {folder} --out out"
    console.print(f"Written to {folder}. Next: shrinkwise {then}", markup=False)


@app.command(epilog="Example: `shrinkwise check sample_data --out problems.csv`")
def check(
    records: RecordsFolder,
    suggest: Annotated[
        bool, typer.Option("--suggest", help="Print lines for store.toml that would help.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE.csv", help="File for all findings.")
    ] = None,
) -> None:
    """Read the logs and say what is used, what is not and why, and what can be answered."""
    from shrinkwise.records.reading import NothingUsableError, read_records
    from shrinkwise.records.suggesting import toml_block
    from shrinkwise.report.console import print_check, print_findings, print_toml

    try:
        read = read_records(records)
    except NothingUsableError as error:
        running.write_findings(error.problems, out)
        if suggest:
            print_toml(console, toml_block(error.suggestions, error.profile))
        else:
            print_findings(console, error.problems)
        raise
    running.write_findings(read.problems, out)
    if suggest:
        print_toml(console, toml_block(read.suggestions, read.profile))
    else:
        print_check(console, read)
        if out is not None:
            console.print(f"Written to {out}", markup=False)
        _finish(read)


@app.command(epilog="Example: `shrinkwise review sample_data --week 2026-W40`")
def review(
    records: RecordsFolder,
    week: Annotated[
        str | None, typer.Option(help="Such as 2026-W40; the last whole week if left out.")
    ] = None,
) -> None:
    """What a week cost: sales, shrink, labour and the empty shelf, against the weeks before."""
    from shrinkwise.money.review import review_week
    from shrinkwise.report.console import print_assumed, print_review

    read = running.read_folder(records)
    of_week = review_week(read, week)
    print_review(console, of_week)
    running.say_demand(console, read, of_week.start)
    print_assumed(console, read.profile)
    _finish(read)


@app.command("shelf-life", epilog="Example: `shrinkwise shelf-life sample_data --out out`")
def shelf_life(records: RecordsFolder, out: PerhapsOut = None, seed: Seed = 1) -> None:
    """Sell-through by day on shelf, and the week under each shelf life with its best plan."""
    if out is not None:
        require_folder(out)
    read = running.read_folder(records, to_play=True)
    # imported while the loops are made ready
    from shrinkwise.planning.life_study import study_shelf_life
    from shrinkwise.planning.settings import PlanSettings
    from shrinkwise.report.life_console import print_shelf_life
    from shrinkwise.report.life_files import write_life_study

    with running.progress_bar() as bar:
        demand, shelf = running.fit_models(read, bar)
        task = bar.add_task("Shelf lives", total=len(demand.lines))
        settings = PlanSettings(seed=seed)
        study = study_shelf_life(read, demand, shelf, settings, lambda: bar.advance(task))
    files = [] if out is None else write_life_study(study, out)
    print_shelf_life(console, study)
    running.say_written(console, files)
    _finish(read)


@app.command(epilog="Example: `shrinkwise plan sample_data --out out`")
def plan(
    records: RecordsFolder,
    out: OutFolder,
    seed: Seed = 1,
    effort: Annotated[int, typer.Option(min=1, max=50, help="Search so many times as hard.")] = 1,
    week: Annotated[
        str | None, typer.Option(help="A week to plan as it will be, such as 2026-W49.")
    ] = None,
) -> None:
    """The best bake days and top-up targets of every line, against what the store does now."""
    require_folder(out)
    read = running.read_folder(records, to_play=True)
    # imported while the loops are made ready
    from shrinkwise.planning.plan import plan_bakes
    from shrinkwise.planning.settings import PlanSettings
    from shrinkwise.planning.week import first_day, plan_week
    from shrinkwise.report.console import print_plan
    from shrinkwise.report.plan_files import write_plan
    from shrinkwise.tonight.sheet import pan_up_sheet

    first = None if week is None else first_day(read, week)
    with running.progress_bar() as bar:
        demand, shelf = running.fit_models(read, bar)
        task = bar.add_task("Plans", total=len(demand.lines))
        settings = PlanSettings(seed=seed).with_effort(effort)
        made = plan_bakes(
            read, demand, shelf, settings=settings, progress=lambda: bar.advance(task)
        )
        of_week = None if first is None else plan_week(read, demand, shelf, made, first)
    sheet = pan_up_sheet(made, demand, of_week)
    files = write_plan(made, sheet, out, of_week)
    print_plan(console, made, sheet, of_week)
    running.say_written(console, files)
    _finish(read)


@app.command(
    epilog="Example: `shrinkwise compare sample_data "
    "sample_data/scenarios/longer_life_dough.toml --out out`"
)
def compare(
    records: RecordsFolder,
    scenarios: Annotated[
        list[Path], typer.Argument(metavar="SCENARIO.toml...", help="Scenario files.")
    ],
    out: OutFolder,
    seed: Seed = 1,
) -> None:
    """Weigh switches of lines: each scenario under its own best plan, on the same futures."""
    require_folder(out)
    read = running.read_folder(records, to_play=True)
    # imported while the loops are made ready
    from shrinkwise.report.comparison_files import write_comparison
    from shrinkwise.report.console import print_comparison
    from shrinkwise.scenarios.compare import compare_lines, lines_to_plan
    from shrinkwise.scenarios.scenario import read_scenario
    from shrinkwise.scenarios.study import PARTS, study_switches

    offered = [read_scenario(path, read.profile) for path in scenarios]
    with running.progress_bar() as bar:
        demand, shelf = running.fit_models(read, bar)
        lines = [line for line in read.profile.lines if line.name in demand.lines]
        touched = [lines_to_plan(lines, scenario, read.profile) for scenario in offered]
        plans = sum(map(len, [lines, *touched]))
        task = bar.add_task("Plans", total=plans)
        comparison = compare_lines(
            read, demand, shelf, offered, seed, progress=lambda: bar.advance(task)
        )
        studied = bar.add_task("Break-evens", total=PARTS * len(offered))
        studies = study_switches(comparison, lambda: bar.advance(studied))
    files = write_comparison(comparison, studies, out)
    print_comparison(console, comparison, studies)
    running.say_written(console, files)
    _finish(read)


@app.command(epilog="Example: `shrinkwise backtest sample_data --weeks 26 --out out`")
def backtest(
    records: RecordsFolder,
    out: OutFolder,
    weeks: Annotated[int, typer.Option(min=1, max=520, help="Past weeks to predict.")] = 26,
    seed: Seed = 1,
) -> None:
    """How well past weeks would have been foreseen, and what a plan would have saved in them."""
    from shrinkwise.report.backtest_tables import write_backtest
    from shrinkwise.report.console import print_backtest

    require_folder(out)
    read = running.read_folder(records, to_play=True)
    tested, past = running.test_back(read, weeks, seed)
    files = write_backtest(tested, past, running.demand_files(read, tested), out)
    print_backtest(console, tested, past)
    running.say_written(console, files)
    _finish(read)


@app.command(epilog="Example: `shrinkwise dashboard sample_data`")
def dashboard(
    records: RecordsFolder,
    port: Annotated[int, typer.Option(min=1024, max=65535, help="Port on this machine.")] = 8501,
) -> None:
    """Open the dashboard, on this machine only."""
    from shrinkwise.dashboard.launch import require_free, serve

    running.read_folder(records)
    require_free(port)
    console.print(f"The dashboard is at http://127.0.0.1:{port} (Ctrl-C ends it).", markup=False)
    serve(records, port)


def _finish(records: Records) -> None:
    from shrinkwise.report.words import look_text

    if not records.want_a_look.is_empty():
        check = f"`shrinkwise check {records.folder}` says which and why."
        console.print(f"{look_text(records)} {check}", markup=False)
        raise typer.Exit(DONE_WITH_FINDINGS)
