"""The written logs: canonical, in balance, of a believable size, the same for the same seed."""

import shutil
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.profile.reading import read_store
from shrinkwise.profile.store import Store
from shrinkwise.sample.logs import play_store, sample_tables, write_sample
from shrinkwise.sample.truth import TRUTH
from shrinkwise.scenarios.scenario import read_scenario

CHECKED_IN = Path(__file__).parents[2] / "sample_data"
HEADERS = {
    "sales_2024": "date,product,units,net_sales,reduced",
    "sales_2025": "date,product,units,net_sales,reduced",
    "sales_2026": "date,product,units,net_sales,reduced",
    "markdowns": "date,product,units,unit_price,bake_date",
    "disposals": "date,product,units,reason,bake_date",
    "bakes": "date,product,units",
    "counts": "date,product,units",
    "events": "date,product,kind,unit_price",
}
SCENARIO_FILES = {
    "scenarios/longer_life_dough.toml",
    "scenarios/cheaper_dough.toml",
    "scenarios/longer_life_rolls.toml",
    "scenarios/dearer_hours.toml",
    "scenarios/new_line.toml",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sample")
    write_sample(folder, seed=1)
    return folder


@pytest.fixture(scope="module")
def store(folder: Path) -> Store:
    return read_store(folder)


@pytest.fixture(scope="module")
def tables() -> dict[str, pl.DataFrame]:
    return sample_tables(1)


def content(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_same_seed_same_bytes_and_another_seed_another_store(
    folder: Path, tables: dict[str, pl.DataFrame], tmp_path: Path
) -> None:
    write_sample(tmp_path / "again")
    assert content(tmp_path / "again") == content(folder)
    assert not sample_tables(2)["sales"].equals(tables["sales"])


def test_the_checked_in_sample_is_the_one_that_is_written(folder: Path) -> None:
    assert content(CHECKED_IN) == content(folder)


def test_files_headers_and_size(folder: Path) -> None:
    files = content(folder)
    assert set(files) == {f"{name}.csv" for name in HEADERS} | SCENARIO_FILES | {"store.toml"}
    for name, header in HEADERS.items():
        assert files[f"{name}.csv"].decode().splitlines()[0] == header
    assert sum(len(data) for data in files.values()) < 5_000_000


def test_every_table_reads_back_as_written(folder: Path, tables: dict[str, pl.DataFrame]) -> None:
    for name, table in tables.items():
        files = sorted(folder.glob(f"{name}*.csv"))
        read = pl.concat([pl.read_csv(file, schema=dict(table.schema)) for file in files])
        assert read.equals(table), name
        assert table["date"].is_sorted()


def test_store_toml_is_valid_and_says_everything(store: Store) -> None:
    assert store.assumed == ()
    assert store.capacity is not None
    most = store.capacity.pans(0)
    assert store.lines == tuple(line.settings.within_pans(most) for line in TRUTH.lines)


def test_scenarios_name_lines_and_settings_that_exist(folder: Path, store: Store) -> None:
    for name in SCENARIO_FILES:
        scenario = read_scenario(folder / name, store)
        assert scenario.name
        assert scenario.lines or scenario.labour is not None


def test_logs_are_in_balance_at_every_count(tables: dict[str, pl.DataFrame]) -> None:
    moves = pl.concat(
        [
            tables["bakes"].select("date", "product", "units"),
            tables["sales"].select("date", "product", -pl.col("units")),
            tables["disposals"].select("date", "product", -pl.col("units")),
        ]
    )
    ledger = moves.group_by("product", "date").agg(pl.col("units").sum()).sort("product", "date")
    ledger = ledger.with_columns(stock=pl.col("units").cum_sum().over("product"))
    counted = tables["counts"].sort("product", "date")
    joined = counted.join_asof(
        ledger.drop("units"), on="date", by="product", check_sortedness=False
    )
    assert joined.filter(pl.col("units") != pl.col("stock")).is_empty()
    assert joined["stock"].null_count() == 0
    assert counted["date"].max() == TRUTH.end
    assert counted["date"].n_unique() == 104


def test_shrink_at_retail_is_that_of_a_real_trade(
    tables: dict[str, pl.DataFrame], store: Store
) -> None:
    prices = pl.DataFrame(
        {
            "product": [line.name for line in store.lines],
            "price": [line.price for line in store.lines],
        }
    )
    sales = tables["sales"].join(prices, on="product")
    reduced = sales.filter(pl.col("reduced") == "yes")
    markdown = float((reduced["units"] * reduced["price"] - reduced["net_sales"]).sum())
    disposed = tables["disposals"].join(prices, on="product")
    thrown = float((disposed["units"] * disposed["price"]).sum())
    share = (markdown + thrown) / float(sales["net_sales"].sum())
    assert 0.07 < share < 0.10


def test_sold_out_line_days_are_common_but_not_the_rule() -> None:
    books = play_store(1)
    open_days = sold_out = 0
    for line in TRUTH.lines:
        on_sale = [
            TRUTH.is_open(day) and (line.first_day is None or day >= line.first_day)
            for day in TRUTH.days
        ]
        open_days += sum(on_sale)
        sold_out += int(books[line.name].sold_out[on_sale].sum())
    assert 0.08 < sold_out / open_days < 0.20


def test_nothing_is_sold_or_baked_on_a_closed_day(tables: dict[str, pl.DataFrame]) -> None:
    closed = tables["events"].filter(pl.col("kind") == "closed")["date"]
    assert {date(2024, 11, 28), date(2026, 1, 26), date(2026, 12, 25)} <= set(closed)
    for name in ("sales", "bakes", "markdowns", "counts"):
        assert tables[name].filter(pl.col("date").is_in(closed.implode())).is_empty(), name


def test_every_line_has_a_sales_row_on_every_open_day(tables: dict[str, pl.DataFrame]) -> None:
    full = tables["sales"].filter(pl.col("reduced") == "no")
    assert not full.select("date", "product").is_duplicated().any()
    open_days = sum(TRUTH.is_open(day) for day in TRUTH.days)
    rows = dict(full.group_by("product").len().iter_rows())
    assert rows["Bagels"] == open_days
    assert rows["Cheese danish"] == open_days - sum(
        TRUTH.is_open(day) for day in TRUTH.days if day < date(2025, 10, 6)
    )


def test_reduced_units_sell_at_the_reduced_price_on_days_that_allow_it(
    tables: dict[str, pl.DataFrame], store: Store
) -> None:
    for day, product, units, unit_price, bake_date in tables["markdowns"].iter_rows():
        line = store.line(product)
        assert units > 0
        assert unit_price == line.reduced_price
        assert line.reduce_on_day is not None
        assert line.reduce_on_day <= (day - bake_date).days + 1 <= line.shelf_life_days
    never = {line.name for line in store.lines if line.reduce_on_day is None}
    reduced = tables["sales"].filter(pl.col("reduced") == "yes")
    assert not never & set(reduced["product"])


def test_disposals_say_why(tables: dict[str, pl.DataFrame]) -> None:
    reasons = dict(tables["disposals"].group_by("reason").len().iter_rows())
    assert set(reasons) == {"out of date", "donated", "damaged"}
    dated = reasons["out of date"] + reasons["donated"]
    assert 0.16 < reasons["donated"] / dated < 0.24


def test_an_older_sample_is_overwritten_but_no_other_records(folder: Path, tmp_path: Path) -> None:
    old = tmp_path / "old"
    shutil.copytree(folder, old)
    (old / "bakes.csv").write_text("date,product,units\n")
    write_sample(old)
    assert content(old) == content(folder)

    for name, text in {
        "store.toml": 'name = "My own store"\n',
        "bakes.csv": "date,product,units\n",
        "sales_july.xlsx": "",
    }.items():
        other = tmp_path / name.replace(".", "_")
        other.mkdir()
        (other / name).write_text(text)
        with pytest.raises(ShrinkwiseError, match=rf"already holds {name}"):
            write_sample(other)
        assert list(content(other)) == [name]


def test_a_store_file_that_is_not_toml_is_not_taken_for_the_sample(tmp_path: Path) -> None:
    (tmp_path / "store.toml").write_text("name = Sample store")
    with pytest.raises(ShrinkwiseError, match="Name an empty or a new folder"):
        write_sample(tmp_path)


def test_a_file_in_the_folder_s_place_is_named(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("")
    with pytest.raises(ShrinkwiseError, match="taken cannot be made"):
        write_sample(tmp_path / "taken")
