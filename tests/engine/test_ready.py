"""What is made ready is what is used: nothing is left for the compiler to do in a plan."""

import subprocess
import sys
from pathlib import Path

SCRIPT = """
import sys
from numba.core.dispatcher import Dispatcher
import shrinkwise
from shrinkwise.engine import ready
from shrinkwise.planning.settings import PlanSettings

def compiled():
    return {
        (name, function, str(kind))
        for name, module in list(sys.modules.items()) if name.startswith("shrinkwise.engine.")
        for function, loop in vars(module).items() if isinstance(loop, Dispatcher)
        for kind in loop.signatures
    }

ready.make_ready()
before = compiled()
assert len(before) >= 8, before
records = shrinkwise.read_records(sys.argv[1])
demand = shrinkwise.fit_demand(records)
shelf = shrinkwise.fit_shelf(records, demand)
brief = PlanSettings(search_paths=30, judge_paths=60, weeks=4, finalists=2)
shrinkwise.plan_bakes(records, demand, shelf, settings=brief)
late = compiled() - before
assert not late, late
"""


def test_a_plan_compiles_nothing_that_was_not_made_ready(small_folder: Path) -> None:
    # a process of its own: other tests have compiled for whatever they needed
    ended = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(small_folder)], capture_output=True, text=True
    )
    assert ended.returncode == 0, ended.stderr
