"""How long `shrinkwise plan` takes on the sample store: cold, when its loops compile, and warm.

Run with `--benchmark-enable -s`, which takes a minute. No time is asserted; that both runs write
the same bytes is.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

MEASURED = r"""
import json, re, sys, time
from pathlib import Path
from shrinkwise.__main__ import program
try:
    program()
except SystemExit as ended:
    # of this process alone: what getrusage tells begins with the peak of the one that started it
    megabytes = int(re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())[1]) / 1024
    print(json.dumps([ended.code, time.process_time(), megabytes]))
"""


def planned(records: Path, out: Path, cache: Path) -> tuple[float, float, float]:
    """Seconds by the clock and of the processors, and peak megabytes of a plan."""
    command = [sys.executable, "-c", MEASURED, "plan", str(records), "--out", str(out)]
    environment = os.environ | {"NUMBA_CACHE_DIR": str(cache)}
    begun = perf_counter()
    said = subprocess.check_output(command, text=True, env=environment)
    seconds = perf_counter() - begun
    code, of_processors, megabytes = json.loads(said.splitlines()[-1])
    assert code == 0
    return seconds, of_processors, megabytes


def test_a_plan_cold_and_warm(
    benchmark: BenchmarkFixture, sample_folder: Path, tmp_path: Path, pytestconfig: pytest.Config
) -> None:
    if not pytestconfig.getoption("benchmark_enable"):
        pytest.skip("plans the sample store twice: run with --benchmark-enable")
    cache = tmp_path / "compiled"
    cold = planned(sample_folder, tmp_path / "cold", cache)
    warm = benchmark.pedantic(planned, (sample_folder, tmp_path / "warm", cache), rounds=1)
    for name, (seconds, of_processors, megabytes) in {"cold": cold, "warm": warm}.items():
        benchmark.extra_info[name] = {
            "seconds": seconds, "processor_seconds": of_processors, "megabytes": megabytes
        }  # fmt: skip
        print(
            f"\nplan, {name}: {seconds:.1f} s, {of_processors:.1f} s of the processors, "
            f"{megabytes:.0f} MB"
        )
    for path in (tmp_path / "cold").iterdir():
        assert path.read_bytes() == (tmp_path / "warm" / path.name).read_bytes(), path.name
