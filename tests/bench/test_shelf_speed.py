"""How long the shelf of 40 lines and two years takes; printed, never asserted.

Run with `--benchmark-enable -s`.
"""

from dataclasses import replace
from time import process_time

from pytest_benchmark.fixture import BenchmarkFixture

from shrinkwise.demand.model import DemandModel
from shrinkwise.progress import no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.shelf.batches import line_batches
from shrinkwise.shelf.model import fit_shelf

LINES = 40


def test_forty_lines_of_two_years(
    benchmark: BenchmarkFixture, sample_records: Records, sample_demand: DemandModel
) -> None:
    """The sample's lines over and over, until there are 40; shares, batches and curves."""
    names = list(sample_demand.lines)
    again = [names[one % len(names)] for one in range(LINES)]

    def shelf() -> int:
        curves = []
        for first in range(0, LINES, len(names)):
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

    # compiled before the clock starts
    shelf()
    assert benchmark(shelf) == LINES
    begun = process_time()
    shelf()
    spent = process_time() - begun
    benchmark.extra_info["processor_seconds"] = spent
    print(f"\nshelf of {LINES} lines and two years: {spent:.1f} s of processor time")
