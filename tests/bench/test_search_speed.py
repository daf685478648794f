"""How long the search of a line takes, and how that grows with futures, shelf life and lines.

Run with `--benchmark-enable -s`: the ratios stand in the benchmark's `extra_info`. No time is
asserted; that lines searched side by side get the rules that they get alone is.
"""

from dataclasses import replace

import pytest
from drawn_lines import EVERY_DAY, Case, drawn
from pytest_benchmark.fixture import BenchmarkFixture
from timing import fastest

from shrinkwise.planning.judging import chosen_rule
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.progress import no_progress, on_all_cores

MANY_LINES, FEW_LINES = 16, 3
LIVES = (1, 2, 4, 7)
MORE_PATHS = 4
QUICK = PlanSettings(weeks=2, screen_paths=16, search_paths=16, judge_paths=16, finalists=2)


def seconds(case: Case, settings: PlanSettings) -> float:
    judging = case.judging(settings)
    store = case.store
    return fastest(
        lambda: chosen_rule(store.lines[0], store, judging, EVERY_DAY, settings), rounds=3
    )


def all_rules(cases: list[Case], settings: PlanSettings) -> list[Rule]:
    """Lines searched as a plan searches them."""
    judged = [(case.store, case.judging(settings)) for case in cases]

    def rule(one: int) -> Rule:
        store, judging = judged[one]
        return chosen_rule(store.lines[0], store, judging, EVERY_DAY, settings).rule

    return on_all_cores(rule, range(len(cases)), no_progress)


def test_growth_of_the_search(benchmark: BenchmarkFixture, pytestconfig: pytest.Config) -> None:
    in_full = pytestconfig.getoption("benchmark_enable")
    settings, n_lines = (PlanSettings(), MANY_LINES) if in_full else (QUICK, FEW_LINES)
    names = ("screen_paths", "search_paths", "judge_paths")
    more_paths = settings.model_copy(
        update={name: MORE_PATHS * getattr(settings, name) for name in names}
    )
    cases = [drawn(number) for number in range(n_lines)]
    # compiled before the clock starts
    alone = [all_rules([case], settings)[0] for case in cases]
    line = replace(cases[0], mean=12.0, step=1, bake_cost=8.0)
    by_life = {life: seconds(replace(line, life=life), settings) for life in LIVES}
    middle = by_life[4]
    with_more = seconds(replace(line, life=4), more_paths)
    few = cases[: max(n_lines // 4, 1)]
    of_few = fastest(lambda: all_rules(few, settings), rounds=1)
    of_all = fastest(lambda: all_rules(cases, settings), rounds=1)
    together = benchmark.pedantic(all_rules, (cases, settings), rounds=1)
    benchmark.extra_info |= {
        "seconds_per_line": middle,
        "times_with_more_paths": with_more / middle,
        "times_by_life": {life: taken / by_life[1] for life, taken in by_life.items()},
        "times_with_more_lines": of_all / of_few,
        "lines": {"few": len(few), "all": n_lines},
    }
    lives = ", ".join(f"{taken / by_life[1]:.1f}" for taken in by_life.values())
    print(
        f"\nsearch: {middle:.2f} s of a processor for a line with a life of 4 days; {lives} times "
        f"at lives of {LIVES}; {with_more / middle:.1f} times with {MORE_PATHS} times the paths; "
        f"{of_all / of_few:.1f} times with {n_lines} lines for {len(few)}"
    )
    for one, other in zip(alone, together, strict=True):
        assert (one.targets == other.targets).all()
        assert (one.least_need, one.ceiling, one.counts) == (
            other.least_need,
            other.ceiling,
            other.counts,
        )
