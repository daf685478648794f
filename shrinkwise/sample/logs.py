"""The logs of the sample store, written as a store would keep them."""

import tomllib
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.files import make_folder, write_file
from shrinkwise.sample.line_truth import LineTruth
from shrinkwise.sample.settings import SCENARIOS, store_toml
from shrinkwise.sample.store_days import DayBook, play
from shrinkwise.sample.truth import TRUTH, StoreTruth, demand_paths

STORE_FILE = "store.toml"
LATEST_PLANNED = date(2026, 12, 31)
"""The events table looks ahead as far as this day."""

SCHEMAS: dict[str, dict[str, type[pl.DataType]]] = {
    "sales": {
        "date": pl.Date,
        "product": pl.String,
        "units": pl.Int64,
        "net_sales": pl.Float64,
        "reduced": pl.String,
    },
    "markdowns": {
        "date": pl.Date,
        "product": pl.String,
        "units": pl.Int64,
        "unit_price": pl.Float64,
        "bake_date": pl.Date,
    },
    "disposals": {
        "date": pl.Date,
        "product": pl.String,
        "units": pl.Int64,
        "reason": pl.String,
        "bake_date": pl.Date,
    },
    "bakes": {"date": pl.Date, "product": pl.String, "units": pl.Int64},
    "counts": {"date": pl.Date, "product": pl.String, "units": pl.Int64},
    "events": {
        "date": pl.Date,
        "product": pl.String,
        "kind": pl.String,
        "unit_price": pl.Float64,
    },
}
Row = tuple[object, ...]


def play_store(seed: int = 1, store: StoreTruth = TRUTH) -> dict[str, DayBook]:
    """Play every line over the whole of the logs, from an empty shelf on opening day.

    Parameters
    ----------
    seed : int
    store : StoreTruth

    Returns
    -------
    dict of str to DayBook
        By line name.
    """
    books = {}
    for number, line in enumerate(store.lines):
        # a stream per line, so that a change to one line leaves the others as they were
        rng = np.random.default_rng([seed, number])
        demand = demand_paths(line, store.start, len(store.days), 1, rng, store)[:, 0]
        books[line.name] = play(line, demand, store.start, None, rng, store)
    return books


def sample_tables(seed: int = 1, store: StoreTruth = TRUTH) -> dict[str, pl.DataFrame]:
    """The logs as tables with the canonical columns.

    Parameters
    ----------
    seed : int
    store : StoreTruth

    Returns
    -------
    dict of str to polars.DataFrame
        By table name.
    """
    books = play_store(seed, store)
    rows: dict[str, list[Row]] = {name: [] for name in SCHEMAS}
    rows["events"] = list(_events(store))
    for line in store.lines:
        book = books[line.name]
        rows["sales"] += _sales(line, book, store)
        rows["markdowns"] += _markdowns(line, book, store)
        rows["disposals"] += _disposals(line, book, store)
        rows["bakes"] += [
            (day, line.name, int(units))
            for day, units in zip(store.days, book.baked, strict=True)
            if units
        ]
        rows["counts"] += [
            (day, line.name, int(book.closing[index]))
            for index, day in enumerate(store.days)
            if _is_count_night(day, store) and _is_on_sale(line, day)
        ]
    return {
        name: pl.DataFrame(rows[name], schema=schema, orient="row").sort(
            "date", maintain_order=True
        )
        for name, schema in SCHEMAS.items()
    }


def write_sample(folder: Path, seed: int = 1) -> None:
    """Write the sample store's settings, logs and scenarios; the same seed, the same bytes.

    Parameters
    ----------
    folder : Path
        Made when missing. An older sample in it is overwritten.
    seed : int

    Raises
    ------
    ShrinkwiseError
        When the folder holds the records of another store, or cannot be written.
    """
    refuse_other_records(folder, TRUTH.name)
    make_folder(folder)
    tables = sample_tables(seed)
    # first, so that a sample whose writing was cut short is known as one and can be rewritten
    write_file(folder / STORE_FILE, store_toml())
    for name, table in tables.items():
        if name != "sales":
            write_file(folder / f"{name}.csv", table.write_csv(float_precision=2))
    sales = tables["sales"]
    for year in sales["date"].dt.year().unique().sort():
        part = sales.filter(pl.col("date").dt.year() == year)
        write_file(folder / f"sales_{year}.csv", part.write_csv(float_precision=2))
    for name, text in SCENARIOS.items():
        write_file(folder / "scenarios" / name, text)


def refuse_other_records(folder: Path, own_name: str) -> None:
    """Let a sample be written only where nothing of another store can be mixed with it.

    Parameters
    ----------
    folder : Path
    own_name : str
        The name in `store.toml` by which an older sample of the same kind is known.

    Raises
    ------
    ShrinkwiseError
        When the folder holds other records.
    """
    profile = folder / STORE_FILE
    if profile.exists():
        try:
            name = tomllib.loads(profile.read_text(encoding="utf-8-sig")).get("name")
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
            name = None
        if name == own_name:
            return
        others = [profile]
    else:
        tables = [file for table in SCHEMAS for file in sorted(folder.glob(f"{table}*"))]
        scenarios = [folder / "scenarios" / file for file in SCENARIOS]
        others = tables + [file for file in scenarios if file.exists()]
    if others:
        raise ShrinkwiseError(
            f"{folder} already holds {others[0].relative_to(folder)}, which is not this sample's. "
            "The sample would mix with it or overwrite it. Name an empty or a new folder."
        )


def _is_on_sale(line: LineTruth, day: date) -> bool:
    return line.first_day is None or day >= line.first_day


def _is_count_night(day: date, store: StoreTruth) -> bool:
    """Sunday, or the last night before it on which the store means to open."""
    rest_of_week = (day + timedelta(days=i) for i in range(1, 7 - day.weekday()))
    return store.is_open(day) and not any(store.plans_to_open(later) for later in rest_of_week)


def _sales(line: LineTruth, book: DayBook, store: StoreTruth) -> Iterator[Row]:
    reduce_age = (line.settings.reduce_on_day or line.coded_life_days + 1) - 1
    for day, sold in zip(store.days, book.sold_by_age, strict=True):
        if not store.is_open(day) or not _is_on_sale(line, day):
            continue
        full, reduced = int(sold[:reduce_age].sum()), int(sold[reduce_age:].sum())
        yield day, line.name, full, round(full * line.price(day), 2), "no"
        if reduced:
            yield day, line.name, reduced, round(reduced * line.reduced_price(day), 2), "yes"


def _markdowns(line: LineTruth, book: DayBook, store: StoreTruth) -> Iterator[Row]:
    for index, age in np.argwhere(book.relabelled_by_age):
        day = store.days[index]
        units = int(book.relabelled_by_age[index, age])
        bake_date = day - timedelta(days=int(age))
        yield day, line.name, units, line.reduced_price(day), bake_date


def _disposals(line: LineTruth, book: DayBook, store: StoreTruth) -> Iterator[Row]:
    last_age = timedelta(days=line.coded_life_days - 1)
    for index, day in enumerate(store.days):
        for age, units in enumerate(book.damaged_by_age[index]):
            if units:
                yield day, line.name, int(units), "damaged", day - timedelta(days=age)
        if book.disposed[index]:
            reason = "donated" if book.donated[index] else "out of date"
            yield day, line.name, int(book.disposed[index]), reason, day - last_age


def _events(store: StoreTruth) -> Iterator[Row]:
    closed = [
        store.start + timedelta(days=i)
        for i in range((LATEST_PLANNED - store.start).days + 1)
        if not store.is_open(store.start + timedelta(days=i))
    ]
    yield from ((day, None, "closed", None) for day in closed)
    yield from ((day, None, "local event", None) for day in store.local_events)
    for line in store.lines:
        for promotion in line.promotions:
            for day in promotion.days:
                yield day, line.name, "promotion", promotion.unit_price
