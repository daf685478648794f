"""How long it takes to fit the demand of many lines and to draw their paths.

Run with `--benchmark-enable -s`; without it a few lines of a few months stand for all. Processor
seconds, since the machine may do other things, too.
"""

from dataclasses import replace
from datetime import timedelta

import polars as pl
from pytest_benchmark.fixture import BenchmarkFixture
from timing import fastest

from shrinkwise.demand.model import fit_demand
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import Records

LINES, YEARS, BRIEF_LINES = 40, 2, 4
DAYS, N_PATHS = 91, 200
LOGS = ("sales", "bakes", "disposals", "markdowns")


def many_lines(records: Records, n_lines: int, years: float) -> Records:
    """The sample's lines over and over under other names, and the last part of their history."""
    since = records.last_date - timedelta(days=round(365 * years))
    lines = records.profile.lines
    named = [(lines[at % len(lines)], f"Line {at}") for at in range(n_lines)]
    logs = {}
    for log in LOGS:
        table = getattr(records, log).filter(pl.col("date") > since)
        logs[log] = pl.concat(
            [
                table.filter(pl.col("product") == line.name).with_columns(product=pl.lit(name))
                for line, name in named
            ]
        ).sort("date")
    store: Store = records.profile
    copies = tuple(
        line.model_copy(update={"name": name, "introduced": None}) for line, name in named
    )
    return replace(records, profile=store.model_copy(update={"lines": copies}), **logs)


def test_fit_and_paths(benchmark: BenchmarkFixture, sample_records: Records) -> None:
    in_full = benchmark.enabled
    asked = [(LINES, YEARS), (LINES, 1), (LINES // 2, YEARS), (LINES // 4, YEARS)]
    if not in_full:
        asked = [(BRIEF_LINES, 0.5)]
    seconds = {}
    for n_lines, years in asked:
        records = many_lines(sample_records, n_lines, years)

        def fit_and_draw(records: Records = records, n_lines: int = n_lines) -> int:
            demand = fit_demand(records)
            paths = demand.paths(records.last_date + timedelta(days=1), DAYS, N_PATHS, seed=1)
            assert len(paths.units) == n_lines
            return len(paths.units)

        if (n_lines, years) == asked[0]:
            benchmark.pedantic(fit_and_draw, rounds=3 if in_full else 1)
        seconds[f"{n_lines} lines, {years:g} years"] = fastest(fit_and_draw, 2 if in_full else 1)
    benchmark.extra_info["processor_seconds"] = seconds
    for what, of_it in seconds.items():
        print(f"\ndemand of {what}, and {N_PATHS} paths of {DAYS} days: {of_it:.2f} s")
