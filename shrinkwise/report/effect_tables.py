"""What special days and prices do to the demand, as it is shown."""

import polars as pl

from shrinkwise.demand.day_effects import DayEffects
from shrinkwise.report.cells import number_text

AGAINST = "against an ordinary day of the same weekday; nine of ten cases lie within the interval"

PRICES_TITLE = (
    "What a price does to the demand: the elasticity is the change of its log for each of the log "
    "of the price; a promotion is seen, and lowers the price. In brackets 90% intervals"
)


def store_effects(effects: DayEffects) -> pl.DataFrame:
    """What special days did to the demand of all lines, those beyond doubt first, the largest
    first."""
    clear = (pl.col("low_pct") > 0) | (pl.col("high_pct") < 0)
    return (
        effects.of_store()
        .with_columns(is_clear=clear)
        .sort("is_clear", pl.col("change_pct").abs(), descending=True)
        .with_columns(clear=pl.when("is_clear").then(pl.lit("yes")).otherwise(pl.lit("no")))
        .drop("is_clear")
    )


def clear_effects(table: pl.DataFrame) -> pl.DataFrame:
    """Those of the store's effects whose direction is beyond doubt."""
    return table.filter(pl.col("clear") == "yes").drop("clear")


def prices_shown(prices: pl.DataFrame) -> pl.DataFrame:
    """Elasticities and lifts, each with its interval in one cell.

    Parameters
    ----------
    prices : polars.DataFrame
        Of `PriceAnswers.table`.
    """
    rows = [
        {
            "name": row["name"],
            "elasticity": _with_ends(row, "elasticity", ".2f"),
            "from_logs_pct": f"{row['from_logs_pct']:.0f}",
            f"lift_at_{row['promotion_off_pct']:.0f}%_off_[%]": _with_ends(
                {key.removesuffix("_pct"): value for key, value in row.items()}, "lift", ".0f"
            ),
            "price_changes": row["price_changes"],
            "promotion_days": row["promotion_days"],
            "rests_on": row["rests_on"],
            "lift_rests_on": row["lift_rests_on"],
        }
        for row in prices.iter_rows(named=True)
    ]
    return pl.DataFrame(rows)


def _with_ends(row: dict[str, float], name: str, how: str) -> str:
    low, high = (number_text(row[f"{name}_{end}"], how) for end in ("low", "high"))
    return f"{number_text(row[name], how)} ({low} to {high})"
