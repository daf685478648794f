"""How long the shelf of 40 lines and two years takes; printed, never asserted.

Run with `--benchmark-enable -s`; without it a few lines are gone through once.
"""

from dataclasses import replace
from time import process_time

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shrinkwise.demand.model import DemandModel
from shrinkwise.progress import no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.shelf.batches import line_batches
from shrinkwise.shelf.model import fit_shelf

ALL_LINES, FEW_LINES = 40, 3


def test_many_lines_of_two_years(
    benchmark: BenchmarkFixture,
    pytestconfig: pytest.Config,
    sample_records: Records,
    sample_demand: DemandModel,
) -> None:
    """The sample's lines over and over, until there are 40; shares, batches and curves."""
    in_full = pytestconfig.getoption("benchmark_enable")
    n_lines = ALL_LINES if in_full else FEW_LINES
    names = list(sample_demand.lines)
    again = [names[one % len(names)] for one in range(n_lines)]

    def shelf() -> int:
        curves = []
        for first in range(0, n_lines, len(names)):
            part = again[first : first + len(names)]
            of_part = replace(
                sample_demand, lines={name: sample_demand.lines[name] for name in part}
            )
            fitted = fit_shelf(sample_records, of_part)

            def curve(name: str, fitted: object = fitted) -> int:
                posterior = fitted.lines[name]  # type: ignore[attr-defined]
                ledger = sample_demand.ledgers[name]
                return line_batches(sample_records, ledger, posterior, 1).sell_through.height

            curves += on_all_cores(curve, part, no_progress)
        return len(curves)

    if in_full:
        # compiled before the clock starts
        shelf()
    begun = process_time()
    assert benchmark.pedantic(shelf, rounds=1) == n_lines
    spent = process_time() - begun
    benchmark.extra_info["processor_seconds"] = spent
    print(f"\nshelf of {n_lines} lines and two years: {spent:.1f} s of processor time")
