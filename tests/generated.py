"""Small generated stores with a stated truth, as records in memory."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl

from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.records.findings import no_findings
from shrinkwise.records.tables import EVENT_KINDS, FILE_SCHEMA, SCHEMAS, Records
from shrinkwise.sample.line_truth import EVERY_DAY, Habit, LineTruth, OtherKinds
from shrinkwise.sample.logs import sample_tables
from shrinkwise.sample.truth import TRUTH, StoreTruth

START = date(2025, 10, 6)
"""A year before the end of the sample's logs."""


def drawn_line(seed: int, life: int = 3) -> LineTruth:
    """A line whose demand, shoppers and habit are drawn; baked on every day."""
    rng = np.random.default_rng([seed, life])
    shape = np.exp(rng.normal(0, 0.2, 7))
    return LineTruth(
        settings=Line(
            name="Rye rolls",
            category="rolls",
            price=4.0,
            dough_cost=1.2,
            shelf_life_days=life,
            filled=False,
        ),
        mean_units=float(rng.uniform(10, 50)),
        weekday_shape=tuple(float(x) for x in 7 * shape / shape.sum()),
        trend_per_year=0.0,
        season=(float(rng.normal(0, 0.03)), float(rng.normal(0, 0.03)), 0.0, 0.0),
        price_elasticity=-1.0,
        dispersion=float(rng.uniform(0.02, 0.1)),
        oldest_first_share=float(rng.uniform(0.1, 0.9)),
        habit=Habit(factor=float(rng.uniform(1.05, 1.3)), credit=float(rng.uniform(0.5, 1.0))),
    )


def line_with_kinds(seed: int, plain: bool = False, in_any_order: bool = False) -> LineTruth:
    """A line that is reduced, with shoppers of all kinds unless it is to be `plain`, who come kind
    by kind or `in_any_order`.

    What is drawn is as wide as what the fit holds for possible, so that its intervals should hold
    the truth as often as they say.
    """
    rng = np.random.default_rng([seed, 7])
    life = int(rng.integers(3, 6))
    line = drawn_line(seed, life)
    oldest, reduce_on = float(rng.uniform(0.05, 0.8)), life - int(rng.random() < 0.4)
    fussy = float(rng.uniform(0, 0.8)) * (1 - oldest)
    until = int(rng.integers(1, reduce_on))
    switching = float(rng.uniform(0, 0.8)) * (1 - oldest - fussy)
    kinds = OtherKinds(fussy, until, switching, float(rng.uniform(0, 1.2)), in_any_order)
    price = round(line.settings.price * float(rng.uniform(0.4, 0.8)), 2)
    days = (EVERY_DAY, (0, 2, 4, 5), (0, 1, 3, 4, 6))[int(rng.integers(3))]
    return replace(
        line,
        settings=line.settings.model_copy(
            update={"reduce_on_day": reduce_on, "reduced_price": price}
        ),
        habit=Habit(
            factor=float(rng.uniform(1.1, 1.5)),
            credit=float(rng.uniform(0.3, 0.9)),
            bake_weekdays=days,
        ),
        oldest_first_share=oldest,
        kinds=OtherKinds() if plain else kinds,
    )


def store_of(*lines: LineTruth, start: date = START) -> StoreTruth:
    """The sample store with other lines, from another day."""
    return replace(TRUTH, lines=lines, start=start)


def records_of(store: StoreTruth, seed: int) -> Records:
    """What the generator logs of a store, as if it had been read from its folder."""
    tables = sample_tables(seed, store)
    tables["sales"] = tables["sales"].with_columns(reduced=pl.col("reduced") == "yes")
    tables["events"] = tables["events"].with_columns(pl.col("kind").cast(pl.Enum(EVENT_KINDS)))
    logs = {
        name: SCHEMAS[name].validate(
            pl.concat(
                [
                    SCHEMAS[name].create_empty(),
                    table.with_columns(
                        file=pl.lit(f"{name}.csv"),
                        row=pl.int_range(2, pl.len() + 2, dtype=pl.Int64),
                        rows=pl.lit(1, pl.Int64),
                    ),
                ],
                how="diagonal",
            )
        )
        for name, table in tables.items()
    }
    profile = Store(
        name=store.name,
        currency=store.currency,
        country=store.country,
        lines=tuple(line.settings for line in store.lines),
    )
    return Records(
        **logs,
        problems=no_findings(),
        files=pl.DataFrame(schema=FILE_SCHEMA),
        suggestions=(),
        profile=profile,
        folder=Path(),
        fingerprint="",
    )
