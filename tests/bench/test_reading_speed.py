"""What reading a year of tickets costs beside a bare read-and-aggregate of the same file.

Run with `--benchmark-enable -s` for the five million rows of a whole year; without it a small
file shows that both give the same figures. No time is asserted.
"""

import json
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

YEAR_ROWS, FEW_ROWS = 5_000_000, 20_000
LINES = 40
ROUNDS = 3

STORE = 'name = "Tickets"\ncurrency = "USD"\ncountry = "US"\n'
LINE = """
[[lines]]
name = "Line number {number}"
category = "breads"
price = 9.0
dough_cost = 1.0
shelf_life_days = 3
"""

MEASURED = r"""
import json, re, sys, time
from pathlib import Path
import polars as pl
{imports}
begun = time.perf_counter()
table = {read}
seconds = time.perf_counter() - begun
# of this process alone: what getrusage tells begins with the peak of the one that started it
megabytes = int(re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())[1]) / 1024
units, money = int(table["units"].sum()), round(float(table["net_sales"].sum()), 2)
print(json.dumps([seconds, megabytes, table.height, units, money]))
"""
SUMMED = '.group_by("date", "product", "hour").agg(pl.col("units", "net_sales").sum())'
BARE = {
    "read_csv": f"pl.read_csv(sys.argv[1] + '/sales.csv', try_parse_dates=True){SUMMED}",
    "scan_csv": f"pl.scan_csv(sys.argv[1] + '/sales.csv', try_parse_dates=True){SUMMED}.collect()",
}
OURS = "read_records(sys.argv[1]).sales"
IMPORT = "from shrinkwise.records.reading import read_records"


def write_tickets(folder: Path, rows: int) -> None:
    rng = np.random.default_rng(1)
    number = rng.integers(0, LINES, rows)
    units = rng.choice([1, 1, 1, 2, 3], rows)
    day = np.sort(rng.integers(0, 365, rows))
    days = pl.Series([date(2025, 1, 1) + timedelta(days=k) for k in range(365)])
    names = pl.Series([f"Line number {k}" for k in range(LINES)])
    prices = rng.integers(150, 900, LINES) / 100
    pl.DataFrame(
        {
            "date": days.gather(day),
            "product": names.gather(number),
            "units": units,
            "net_sales": np.round(prices[number] * units, 2),
            "hour": rng.integers(7, 21, rows),
        }
    ).write_csv(folder / "sales.csv", float_precision=2)
    (folder / "disposals.csv").write_text("date,product,units\n", encoding="utf-8")
    lines = "".join(LINE.format(number=k) for k in range(LINES))
    (folder / "store.toml").write_text(STORE + lines, encoding="utf-8")


def measured(folder: Path, read: str, imports: str = "") -> list[float]:
    """Seconds, peak megabytes of the process, rows, units and money; the fastest of its rounds."""
    code = MEASURED.format(read=read, imports=imports)
    runs = [
        json.loads(subprocess.check_output([sys.executable, "-c", code, str(folder)], text=True))
        for _ in range(ROUNDS)
    ]
    return min(runs)


def test_reading_against_a_bare_read(
    benchmark: BenchmarkFixture, tmp_path: Path, pytestconfig: pytest.Config
) -> None:
    whole_year = pytestconfig.getoption("benchmark_enable")
    write_tickets(tmp_path, YEAR_ROWS if whole_year else FEW_ROWS)
    ours = benchmark.pedantic(measured, (tmp_path, OURS, IMPORT), rounds=1)
    for name, read in BARE.items():
        bare = measured(tmp_path, read)
        time, memory = ours[0] / bare[0], ours[1] / bare[1]
        benchmark.extra_info[name] = {"times_the_time": time, "times_the_memory": memory}
        print(
            f"\nreading: {ours[0]:.2f} s, {ours[1]:.0f} MB; {name} and group_by: "
            f"{bare[0]:.2f} s, {bare[1]:.0f} MB; {time:.2f} times the time, "
            f"{memory:.2f} times the memory"
        )
        assert ours[2:] == bare[2:]
