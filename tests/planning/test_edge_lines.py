"""Lines at the edge of what can be planned: eleven days old, one day on sale, an oven too small,
more units than a shelf can hold here."""

import re
import sys
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from shrinkwise.cli import main
from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.engine.policy import largest_level
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.planning.outcome import demerits
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import judging_futures
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records
from shrinkwise.report.words import doubts
from shrinkwise.shelf.model import ShelfModel, fit_shelf

QUICK = PlanSettings(weeks=4, search_paths=64, judge_paths=128, finalists=2)
ALL_DAYS = 60
PRICE, DOUGH, WAGE, MINUTES = 4.0, 1.2, 24.0, 0.5
"""The minutes are of a unit baked, and of one disposed of; nothing else takes any."""

STORE = f"""
name = "Corner"
currency = "USD"
country = "US"
[labour]
wage_per_hour = {WAGE}
minutes_per_bake = 0
minutes_per_pan = 0
minutes_per_unit = {MINUTES}
minutes_per_disposed_unit = {MINUTES}
"""


@dataclass(frozen=True)
class Kind:
    """A line of the store and what is logged of it: the same batch every day, much of it sold."""

    name: str
    mean: float
    batch: int
    life: int = 3
    days: int = ALL_DAYS
    settings: str = ""

    @property
    def block(self) -> str:
        return (
            f'[[lines]]\nname = "{self.name}"\ncategory = "rolls"\nprice = {PRICE}\n'
            f"dough_cost = {DOUGH}\nfilled = false\nshelf_life_days = {self.life}\n"
            f"{self.settings}\n"
        )


KINDS = (
    Kind("Young rolls", 12, 14, days=11),
    Kind("Old rolls", 12, 14),
    Kind("Newest rolls", 12, 14, days=6),
    Kind("Daily rolls", 14, 18, life=1),
    Kind("Small oven", 20, 8, settings="max_batch = 8"),
    Kind("Crowd rolls", 6000, 7500, life=7),
)


def write_records(folder: Path, kinds: tuple[Kind, ...]) -> None:
    rng = np.random.default_rng(1)
    sales, bakes = ["date,product,units,net_sales"], ["date,product,units"]
    disposals = ["date,product,units"]
    for kind in kinds:
        for day in range(ALL_DAYS - kind.days, ALL_DAYS):
            today = date(2026, 7, 1) + timedelta(days=day)
            sold = min(int(rng.poisson(kind.mean)), kind.batch)
            sales.append(f"{today},{kind.name},{sold},{PRICE * sold:.2f}")
            bakes.append(f"{today},{kind.name},{kind.batch}")
            if sold < kind.batch and day + kind.life <= ALL_DAYS:
                last = today + timedelta(days=kind.life - 1)
                disposals.append(f"{last},{kind.name},{kind.batch - sold}")
    (folder / "store.toml").write_text(STORE + "".join(kind.block for kind in kinds), "utf-8")
    for name, rows in (("sales", sales), ("bakes", bakes), ("disposals", disposals)):
        (folder / f"{name}.csv").write_text("\n".join([*rows, ""]), "utf-8")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("edge")
    write_records(made, KINDS)
    return made


@pytest.fixture(scope="module")
def records(folder: Path) -> Records:
    return read_records(folder)


@pytest.fixture(scope="module")
def demand(records: Records) -> DemandModel:
    return fit_demand(records)


@pytest.fixture(scope="module")
def shelf(records: Records, demand: DemandModel) -> ShelfModel:
    return fit_shelf(records, demand)


@pytest.fixture(scope="module")
def plan(records: Records, demand: DemandModel, shelf: ShelfModel) -> BakePlan:
    return plan_bakes(records, demand, shelf, settings=QUICK)


def of(plan: BakePlan, name: str) -> LinePlan:
    return next(line for line in plan.lines if line.line.name == name)


def test_eleven_days_are_planned_on_and_six_are_not(plan: BakePlan) -> None:
    assert [line.line.name for line in plan.lines] == [
        "Young rolls", "Old rolls", "Daily rolls", "Small oven",
    ]  # fmt: skip
    assert (
        "No plan for Newest rolls: 6 days on sale in the records; 7 are the least to plan on."
        in (doubts(plan))
    )


def test_eleven_days_tell_less_of_the_demand_than_sixty(
    plan: BakePlan, records: Records, demand: DemandModel, shelf: ShelfModel
) -> None:
    futures = judging_futures(records, demand, shelf, QUICK)
    spread = {name: found.judge.means.std(axis=1).mean() for name, found in futures.items()}
    assert spread["Young rolls"] > 1.2 * spread["Old rolls"]
    young, old = (of(plan, name).plan for name in ("Young rolls", "Old rolls"))
    wanted = [
        one.quantities.sold_full + one.quantities.sold_reduced + one.quantities.unmet
        for one in (young, old)
    ]
    assert wanted[0].std() / wanted[0].mean() > 1.1 * wanted[1].std() / wanted[1].mean()
    assert 7 < young.quantities.baked.mean() / 7 < 20


def test_a_line_of_one_day_is_the_newsvendor_s_on_its_own_futures(
    plan: BakePlan, records: Records, demand: DemandModel, shelf: ShelfModel
) -> None:
    """Arrow, Harris, Marschak, Econometrica 19(3), 1951 (from memory): bake the fractile under /
    (under + over) of the demand. Under: the margin less a unit's labour; over: dough and the
    labour of a unit that is baked and disposed of."""
    line, rule = of(plan, "Daily rolls").line, of(plan, "Daily rolls").rule
    labour = WAGE * MINUTES / 60
    under, over = PRICE - DOUGH - labour, DOUGH + 2 * labour
    futures = judging_futures(records, demand, shelf, QUICK)["Daily rolls"].search
    wanted = futures.streams.sum(axis=0)[futures.days.first_day :]
    weekday = futures.days.weekday[futures.days.first_day :]
    is_open = futures.days.is_open[futures.days.first_day :]
    by_weekday = [wanted[is_open & (weekday == day)] for day in range(7)]
    share = under / (under + over)
    fractile = [np.quantile(units, share, method="inverted_cdf") for units in by_weekday]
    closed = Rule(np.array(fractile, np.int16), counts="nothing")
    losses = demerits(
        line, records.profile.labour, futures, policy_of([rule, closed], futures, line)
    )
    # a fractile that falls between two draws leaves several best targets: compare the money too
    assert losses[0] == pytest.approx(losses[1], rel=1e-12)
    assert np.abs(rule.targets - fractile).max() <= 1


def test_an_oven_smaller_than_the_demand_is_filled_every_day(plan: BakePlan) -> None:
    found = of(plan, "Small oven")
    assert found.rule.bake_days == tuple(range(7))
    flows = found.plan.flows
    most = 8 * 7 * QUICK.weeks * QUICK.judge_paths
    assert 0.99 * most < flows.baked.sum() <= most
    assert found.plan.quantities.disposed.mean() < 1


def test_more_units_than_can_be_played_are_not_planned(plan: BakePlan) -> None:
    most = largest_level(7, 1)
    told = rf"No plan for Crowd rolls: it has [\d,]+ units on the shelf on a day, and {most:,} are"
    assert any(re.match(told, text) for text in doubts(plan))


def run_plan(
    folder: Path, out: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> tuple[int | str | None, str]:
    """Exit code of the command, and all that it said on one line."""
    monkeypatch.setattr(sys, "argv", ["shrinkwise", "plan", str(folder), "--out", str(out)])
    with pytest.raises(SystemExit) as ended:
        main()
    said = capsys.readouterr()
    return ended.value.code, " ".join((said.out + said.err).split())


def test_the_command_plans_the_others_and_says_why_not_these(
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, said = run_plan(folder, tmp_path / "out", monkeypatch, capsys)
    assert code == 0
    assert "No plan for Crowd rolls" in said
    assert "No plan for Newest rolls" in said


def test_the_command_says_that_the_only_line_is_too_large(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write_records(tmp_path, KINDS[-1:])
    code, said = run_plan(tmp_path, tmp_path / "out", monkeypatch, capsys)
    assert code == 2
    assert "No line can be planned. Crowd rolls: it has" in said
    assert not (tmp_path / "out").exists()
