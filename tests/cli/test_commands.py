"""The commands as a user meets them: through `main`, with its exit codes and its words."""

import csv
import json
import re
import shlex
import socket
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import pytest

from shrinkwise import cli
from shrinkwise.planning.plan import BakePlan
from shrinkwise.report.plan_tables import recommendations_table
from shrinkwise.report.sheets import csv_text

DONE, DONE_WITH_FINDINGS, NOT_POSSIBLE = 0, 1, 2
PLAN_FILES = [
    "bake_plan.csv",
    "bake_plan.html",
    "bake_plan.xlsx",
    "capacity.csv",
    "plan.json",
    "recommendations.csv",
]

RECOMMENDATIONS = [
    "product",
    "bakes_week_now",
    "bakes_week_plan",
    "batch_units_now",
    "batch_units_plan",
    "waste_units_week_now",
    "waste_units_week_plan",
    "shrink_pct_sales_now",
    "shrink_pct_sales_plan",
    "in_stock_pct_now",
    "in_stock_pct_plan",
    "labour_hours_week_now",
    "labour_hours_week_plan",
    "loss_week_now",
    "loss_week_plan",
    "saving_week",
    "saving_week_se",
    "evidence",
    "why",
    "gap_to_optimum_pct",
    "value_of_counting_week",
    "days_left_now",
    "days_left_plan",
]
BAKE_PLAN = [
    "product",
    "weekday",
    "bake",
    "method",
    "target_units",
    "expected_batch_units",
    "expected_pans",
    "shelf_life_days",
    "least_need_units",
    "ceiling_units",
    "by_hand_method",
    "by_hand_target_units",
    "by_hand_least_need_units",
    "by_hand_ceiling_units",
]


@dataclass(frozen=True)
class Ended:
    """How a command ended, and what it said."""

    code: int
    out: str
    err: str


def run(*arguments: str | Path) -> Ended:
    """Run `shrinkwise` with these arguments in this process."""
    out, err = StringIO(), StringIO()
    argv, sys.argv = sys.argv, ["shrinkwise", *map(str, arguments)]
    try:
        with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as ended:
            cli.main()
    finally:
        sys.argv = argv
    assert isinstance(ended.value.code, int)
    return Ended(ended.value.code, out.getvalue(), err.getvalue())


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def planned(small_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ended]:
    """The small store planned once: the folder of its files, and what was said."""
    out = tmp_path_factory.mktemp("planned") / "deep" / "out"
    return out, run("plan", small_folder, "--out", out)


@pytest.fixture
def flawed(small_copy: Callable[[], Path]) -> Path:
    """Records with one row that cannot be used."""
    folder = small_copy()
    with (folder / "sales_2026.csv").open("a", encoding="utf-8") as file:
        file.write("2026-10-04,Moon cake,3,9.00,no\n")
    return folder


# --- help -------------------------------------------------------------------------------------

COMMANDS = (
    "sample", "check", "review", "shelf-life", "plan", "compare", "backtest", "dashboard"
)  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_an_example(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    ended = run(command, "--help")
    assert ended.code == DONE
    example = re.search(rf"Example: (shrinkwise {command} .*)", ended.out)
    assert example, ended.out
    # an example that names an option or a file that is not there would teach a mistake
    words = shlex.split(example[1])
    for option in (word for word in words if word.startswith("--")):
        assert option in ended.out.replace(example[0], "")
    assert len(words) > 2


def test_help_lists_every_command() -> None:
    said = run("--help").out
    assert all(command in said for command in COMMANDS)
    assert {
        command.name or command.callback.__name__
        for command in cli.app.registered_commands
        if command.callback
    } == set(COMMANDS)


def test_a_command_that_is_none_is_a_usage_error() -> None:
    ended = run("bake-everything")
    assert ended.code == NOT_POSSIBLE
    assert "bake-everything" in ended.err


# --- what each command does ---------------------------------------------------------------------


def test_sample_writes_a_folder_that_checks_clean(tmp_path: Path, sample_folder: Path) -> None:
    folder = tmp_path / "store"
    ended = run("sample", folder, "--seed", "1")
    assert ended.code == DONE
    assert f"shrinkwise plan {folder}" in ended.out
    assert (folder / "sales_2026.csv").read_bytes() == (
        sample_folder / "sales_2026.csv"
    ).read_bytes()
    ended = run("check", folder)
    assert ended.code == DONE
    assert "No findings" in ended.out


def test_check_lists_files_and_rows(small_folder: Path) -> None:
    ended = run("check", small_folder)
    assert (ended.code, ended.err) == (DONE, "")
    sales = (small_folder / "sales_2026.csv").read_text(encoding="utf-8").splitlines()
    line = next(line for line in ended.out.splitlines() if "sales_2026.csv" in line)
    # read, used, set aside, replaced
    assert line.split()[-4:] == [str(len(sales) - 1), str(len(sales) - 1), "0", "0"]


def test_check_says_which_row_and_why(flawed: Path) -> None:
    ended = run("check", flawed)
    assert ended.code == DONE_WITH_FINDINGS
    last = len((flawed / "sales_2026.csv").read_text(encoding="utf-8").splitlines())
    assert f"sales_2026.csv, row {last}, product: 'Moon cake'" in ended.out
    assert "The records want a look: 1 finding, 1 row set aside." in ended.out


def test_check_ends_with_what_the_evidence_allows(small_folder: Path) -> None:
    said = run("check", small_folder).out
    assert re.search(r"Kaiser rolls +2026-01-01 +40 +no ", said)
    assert re.search(r"Which days were sold out.* fully +bakes are logged for 3 of 3 lines", said)
    assert "Nothing more: every log that the answers can use is kept." in said


def test_check_names_the_log_that_is_missed_most(small_copy: Callable[[], Path]) -> None:
    folder = small_copy()
    (folder / "bakes.csv").unlink()
    said = run("check", folder).out
    assert re.search(r"Which days were sold out.* roughly +bakes are logged for 0 of 3 lines", said)
    assert "sharpen the answers most: A bakes log: only with the bakes" in said


def test_check_writes_every_finding_as_text(flawed: Path, tmp_path: Path) -> None:
    with (flawed / "sales_2026.csv").open("a", encoding="utf-8") as file:
        file.write("2026-10-04,=1+1,3,9.00,no\n")
    out = tmp_path / "deep" / "problems.csv"
    ended = run("check", flawed, "--out", out)
    assert ended.code == DONE_WITH_FINDINGS
    found = rows(out)
    assert list(found[0]) == [
        *("severity", "file", "row", "column", "value", "rule", "what_to_do", "rows"),
    ]
    # a spreadsheet would run what begins with an equals sign
    assert [row["value"] for row in found] == ["Moon cake", "'=1+1"]
    assert {row["severity"] for row in found} == {"set aside"}


def test_check_suggests_lines_that_mend_the_store(small_copy: Callable[[], Path]) -> None:
    """Own headers and an order that only the store can tell: pasted, they make the log readable."""
    folder = small_copy()
    sales = folder / "sales_2026.csv"
    header, *lines = sales.read_text(encoding="utf-8").splitlines()
    early = [line for line in lines if line[8:10] <= "12"]
    swapped = [f"{line[8:10]}/{line[5:7]}/{line[:4]}{line[10:]}" for line in early]
    assert header == "date,product,units,net_sales,reduced"
    sales.write_text("\n".join(["Wann,Was,Wieviel,Wert,reduced", *swapped, ""]), encoding="utf-8")
    ended = run("check", folder, "--suggest")
    assert_refused(ended, "no column 'date'", "Wann, Was, Wieviel, Wert")
    store = folder / "store.toml"
    settings = store.read_text(encoding="utf-8")
    store.write_text(settings.replace("[labour]", f"{ended.out}\n[labour]", 1), encoding="utf-8")
    ended = run("check", folder, "--suggest")
    assert_refused(ended, "is two different days")
    choice = '# sales = "day-month-year"'
    assert choice in ended.out
    answer = f"{ended.out.replace(choice, choice[2:])}\n[labour]"
    store.write_text(
        store.read_text(encoding="utf-8").replace("[labour]", answer, 1), encoding="utf-8"
    )
    said = run("check", folder, "--suggest").out
    assert said == "# Nothing to suggest: everything was matched.\n"
    assert f"{len(early)}" in run("check", folder).out


def test_review_tells_the_named_week(small_folder: Path) -> None:
    last, named = run("review", small_folder), run("review", small_folder, "--week", "2026-W39")
    assert (last.code, named.code) == (DONE, DONE)
    assert "week 2026-W40 (from 2026-09-28)" in last.out
    assert "week 2026-W39 (from 2026-09-21)" in named.out
    for words in ("three lines that cost most", "Shrink at retail", "% of net sales", "Sold out"):
        assert words in last.out
    assert "were wanted and not there" in last.out
    assert "Assumed: who finds the shelf empty" in last.out


def test_review_goes_on_without_a_demand(small_copy: Callable[[], Path]) -> None:
    """Too few days on sale for any demand, but a whole week to be looked at."""
    folder = small_copy()
    for path in folder.glob("*.csv"):
        head, *rows = path.read_text(encoding="utf-8").splitlines()
        # the rolls are not sold on Monday, the others not on Sunday: six days on sale
        rows = [row for row in rows if row >= "2026-09-28" and _of_six_days(row)]
        path.write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    ended = run("review", folder)
    assert "week 2026-W40" in ended.out
    assert "What the empty shelf cost cannot be told. No line has 7 days on sale" in ended.out


def _of_six_days(row: str) -> bool:
    # eclairs left on the shelf would be on sale for seven
    without = "2026-09-28" if ",Kaiser rolls," in row else "2026-10-04"
    return ",Custard eclairs," not in row and row[:10] != without


def test_review_goes_on_past_a_bad_row(flawed: Path) -> None:
    ended = run("review", flawed)
    assert ended.code == DONE_WITH_FINDINGS
    assert "week 2026-W40" in ended.out
    assert f"shrinkwise check {flawed}" in ended.out


def test_shelf_life_tells_every_life(small_folder: Path) -> None:
    ended = run("shelf-life", small_folder)
    assert (ended.code, ended.err) == (DONE, "")
    lives = [line.split() for line in ended.out.splitlines() if line.strip().startswith("Kaiser")]
    # one less, the present, one and two more; then their curves, day by day
    assert [words[2:4] for words in lives[:4]] == [
        ["2", "no"],
        ["3", "yes"],
        ["4", "no"],
        ["5", "no"],
    ]
    assert "maker's date code" in ended.out
    assert "Written to" not in ended.out


def test_shelf_life_writes_its_files(small_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    ended = run("shelf-life", small_folder, "--out", out)
    assert (ended.code, ended.err) == (DONE, "")
    assert sorted(content(out)) == [
        "batches.csv",
        "days_left.csv",
        "reductions.csv",
        "sell_through.csv",
        "shelf_life.csv",
        "shelf_life.html",
        "shoppers.csv",
    ]
    assert f"Written to {out}: shelf_life.csv, " in ended.out
    assert "One more day for all" in ended.out


def test_plan_writes_its_files_and_says_where(planned: tuple[Path, Ended]) -> None:
    out, ended = planned
    assert (ended.code, ended.err) == (DONE, "")
    assert sorted(content(out)) == PLAN_FILES
    assert f"Written to {out}: " in ended.out
    assert "The plan is expected to save" in ended.out
    assert "To pull and pan up for Monday 2026-10-05" in ended.out


def test_same_seed_same_bytes_another_seed_other_figures(
    planned: tuple[Path, Ended], small_folder: Path, tmp_path: Path
) -> None:
    out, _ = planned
    assert run("plan", small_folder, "--out", tmp_path / "same", "--seed", "1").code == DONE
    assert run("plan", small_folder, "--out", tmp_path / "other", "--seed", "2").code == DONE
    first, same, other = content(out), content(tmp_path / "same"), content(tmp_path / "other")
    # the CSVs above all; nothing else in the folder holds a clock or a chance either
    assert first == same
    assert first["recommendations.csv"] != other["recommendations.csv"]


def test_plan_of_the_whole_sample(
    sample_folder: Path, sample_plan: BakePlan, tmp_path: Path
) -> None:
    ended = run("plan", sample_folder, "--out", tmp_path)
    assert (ended.code, ended.err) == (DONE, "")
    assert sorted(content(tmp_path)) == PLAN_FILES
    with (tmp_path / "recommendations.csv").open(encoding="utf-8") as file:
        assert file.readline().rstrip("\n").split(",") == RECOMMENDATIONS
    with (tmp_path / "bake_plan.csv").open(encoding="utf-8") as file:
        assert file.readline().rstrip("\n").split(",") == BAKE_PLAN
    recommended = rows(tmp_path / "recommendations.csv")
    assert [row["product"] for row in recommended] == [line.line.name for line in sample_plan.lines]
    assert len(rows(tmp_path / "bake_plan.csv")) == 7 * len(sample_plan.lines)
    # the command line computes nothing of its own: it writes what the package returns
    written = (tmp_path / "recommendations.csv").read_text(encoding="utf-8")
    assert written == csv_text(recommendations_table(sample_plan))
    document = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert document["fingerprint"] == sample_plan.fingerprint


def limited(small_copy: Callable[[], Path], **limits: str) -> Path:
    """The small store with other limits than those of the sample."""
    folder = small_copy()
    path = folder / "store.toml"
    text = path.read_text(encoding="utf-8")
    for setting, value in limits.items():
        text = re.sub(rf"^{setting} = .*$", f"{setting} = {value}", text, flags=re.M)
        assert f"{setting} = {value}" in text
    path.write_text(text, encoding="utf-8")
    return folder


def test_plan_that_cannot_keep_within_a_limit_says_which_and_writes_nothing(
    small_copy: Callable[[], Path], tmp_path: Path
) -> None:
    """The opening of a baking day alone takes 35 minutes."""
    folder = limited(small_copy, staffed_hours="0.6")
    ended = run("plan", folder, "--out", tmp_path / "out")
    assert_refused(
        ended,
        "With the batches that pay, the plan cannot keep within the shift on ",
        "hours on average and 0.6 are staffed",
        "Raise staffed_hours under [capacity] in store.toml, or leave a line out.",
    )
    assert not (tmp_path / "out").exists()


def test_plan_under_a_tight_rack_says_what_it_costs(
    small_copy: Callable[[], Path], tmp_path: Path
) -> None:
    folder = limited(small_copy, rack_slots="{ saturday = 10 }")
    ended = run("plan", folder, "--out", tmp_path)
    assert ended.code == DONE
    said = re.search(r"The limits of \[capacity\] cost USD ([0-9.]+) a week", ended.out)
    assert said
    assert float(said[1]) > 0
    (rack,) = [row for row in rows(tmp_path / "capacity.csv") if row["limit"] == "racks"]
    assert (rack["weekday"], rack["unit"], rack["capacity"]) == ("saturday", "pans", "10.00")
    assert 0 <= float(rack["slack"]) == 10 - float(rack["used_busy"])


def test_plan_goes_on_past_a_bad_row(flawed: Path, tmp_path: Path) -> None:
    ended = run("plan", flawed, "--out", tmp_path / "out")
    assert ended.code == DONE_WITH_FINDINGS
    assert sorted(content(tmp_path / "out")) == PLAN_FILES


COMPARISON_FILES = [
    "break_even.csv",
    "combinations.csv",
    "comparison.csv",
    "decision_sheets.html",
    "decision_sheets.xlsx",
    "freezer.csv",
    "sensitivity.csv",
    "switch_map.csv",
    "weekly_difference.csv",
    "worth_of_knowing.csv",
]


def test_compare_writes_what_a_scenario_changes(
    small_folder: Path, sample_folder: Path, tmp_path: Path
) -> None:
    longer = sample_folder / "scenarios" / "longer_life_dough.toml"
    same = tmp_path / "same.toml"
    same.write_text('name = "As it is"\n', encoding="utf-8")
    ended = run("compare", small_folder, longer, same, "--out", tmp_path / "out")
    assert (ended.code, ended.err) == (DONE, "")
    assert sorted(content(tmp_path / "out")) == COMPARISON_FILES
    written = [
        row
        for row in rows(tmp_path / "out" / "comparison.csv")
        if (row["under"], row["measure"]) == ("each line under its own best plan", "loss_week")
    ]
    assert [row["scenario"] for row in written] == [
        "Italian loaf from a four-day dough",
        "As it is",
    ]
    assert list(written[0]) == [
        "scenario",
        "under",
        "measure",
        "now",
        "switched",
        "difference",
        "difference_se",
        "difference_low",
        "difference_high",
    ]
    assert float(written[0]["difference"]) != 0
    assert float(written[1]["difference"]) == 0
    assert "Check allergens and labels" in ended.out


# --- what is not possible -----------------------------------------------------------------------


def take_out(*names: str) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        for path in folder.iterdir():
            if path.name.startswith(names):
                path.unlink()

    return spoil


def replaced(name: str, old: str, new: str) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        path = folder / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    return spoil


SPOILED: dict[str, tuple[Callable[[Path], None], list[str]]] = {
    "no sales": (take_out("sales"), ["no sales log"]),
    "no shrink log": (take_out("markdowns", "disposals"), ["neither a markdown nor a disposal"]),
    "no column": (replaced("sales_2026.csv", "net_sales", "takings"), ["'net_sales'", "takings"]),
    "no store.toml": (take_out("store"), ["store.toml"]),
    "negative price": (replaced("store.toml", "price = 3.49", "price = -3.49"), ["price", "-3.49"]),
    "no TOML": (replaced("store.toml", "name =", "name"), ["store.toml", "TOML"]),
    "nothing in it": (take_out(""), ["holds no logs"]),
}


def assert_refused(ended: Ended, *said: str) -> None:
    """Exit code 2 and one paragraph on stderr that says what is the matter; no traceback."""
    assert ended.code == NOT_POSSIBLE
    assert ended.err.startswith("Not possible: ")
    assert ended.err.count("\n") == 1
    assert ended.err.endswith("\n")
    assert "Traceback" not in ended.err + ended.out
    for words in said:
        assert words in ended.err
    # a result beside a refusal would be taken for one; findings are none
    assert not ended.out or ended.out.startswith(("Findings by rule", "[", "#"))


@pytest.mark.parametrize("case", SPOILED)
def test_spoiled_records_are_refused_and_nothing_is_written(
    case: str, small_copy: Callable[[], Path], tmp_path: Path
) -> None:
    spoil, said = SPOILED[case]
    folder = small_copy()
    spoil(folder)
    before = content(folder)
    out = tmp_path / "out"
    assert_refused(run("plan", folder, "--out", out), *said)
    assert not out.exists()
    for command in ("check", "review", "shelf-life", "dashboard"):
        assert_refused(run(command, folder), *said)
    assert content(folder) == before


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    folder = tmp_path / "nowhere"
    assert_refused(run("plan", folder, "--out", tmp_path / "out"), str(folder), "not there")
    assert_refused(run("check", folder), str(folder), "not there")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("week", ["2026-40", "2026-W54", "last", "2019-W01"])
def test_a_bad_week_name(small_folder: Path, week: str) -> None:
    assert_refused(run("review", small_folder, "--week", week), week)


def test_a_file_in_the_place_of_the_out_folder(small_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.write_text("mine", encoding="utf-8")
    assert_refused(run("plan", small_folder, "--out", out), str(out))
    assert out.read_text(encoding="utf-8") == "mine"
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("command", ["plan", "shelf-life", "backtest", "compare"])
def test_an_out_folder_that_cannot_be_made_is_refused_before_anything_is_read(
    command: str, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    out = tmp_path / "file" / "out"
    scenario = ["offer.toml"] if command == "compare" else []
    ended = run(command, tmp_path / "no records", *scenario, "--out", out)
    assert_refused(ended, f"The folder {out} cannot be made")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ('[[changes]]\nline = "Moon cake"\nprice = 2.0\n', ["'Moon cake'", "no such line"]),
        ('[[changes]]\nline = "Italian loaf"\ndough_cost = -1\n', ["dough_cost", "-1"]),
        (
            '[[changes]]\nline = "Custard eclairs"\nextra_days = 6\n',
            ["line 4", "8 days", "7 days"],
        ),
        (
            "[[changes]]\nall = true\nextra_cost = 0.1\n"
            '[[changes]]\nline = "Italian loaf"\ndough_cost = 1.0\n',
            ["line 7", "line 4", "contradicts"],
        ),
        ("changes = 4\n", ["changes"]),
        ("[[changes\n", ["TOML"]),
    ],
)
def test_a_bad_scenario(changes: str, said: list[str], small_folder: Path, tmp_path: Path) -> None:
    scenario, out = tmp_path / "offer.toml", tmp_path / "out"
    scenario.write_text(f'name = "An offer"\n{changes}', encoding="utf-8")
    out.mkdir()
    (out / "comparison.csv").write_text("of last week\n", encoding="utf-8")
    ended = run("compare", small_folder, scenario, "--out", out)
    assert_refused(ended, str(scenario), *said)
    assert content(out) == {"comparison.csv": b"of last week\n"}


def test_a_scenario_that_is_not_there(small_folder: Path, tmp_path: Path) -> None:
    missing = tmp_path / "nowhere.toml"
    assert_refused(run("compare", small_folder, missing, "--out", tmp_path / "out"), str(missing))
    assert list(tmp_path.iterdir()) == []


def test_too_few_days_to_plan_on(small_copy: Callable[[], Path], tmp_path: Path) -> None:
    folder = small_copy()
    header, *sold = (folder / "sales_2026.csv").read_text(encoding="utf-8").splitlines()
    few = [row for row in sold if row.startswith("2026-10")]
    (folder / "sales_2026.csv").write_text("\n".join([header, *few, ""]), encoding="utf-8")
    assert_refused(run("plan", folder, "--out", tmp_path / "out"), "No line has 7 days")
    assert not (tmp_path / "out").exists()


def test_sample_never_mixes_with_a_store(small_copy: Callable[[], Path]) -> None:
    folder = small_copy()
    replaced("store.toml", "Sample store (invented)", "Our own store")(folder)
    before = content(folder)
    assert_refused(run("sample", folder), str(folder))
    assert content(folder) == before


def test_dashboard_on_a_port_in_use(small_folder: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        ended = run("dashboard", small_folder, "--port", str(port))
    assert_refused(ended, str(port), "--port")


def test_a_seed_below_zero_is_a_usage_error(small_folder: Path, tmp_path: Path) -> None:
    ended = run("plan", small_folder, "--out", tmp_path / "out", "--seed", "-1")
    assert ended.code == NOT_POSSIBLE
    assert "--seed" in ended.err
    assert not (tmp_path / "out").exists()
