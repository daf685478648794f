"""Figures as they are written, wherever a reader meets them."""

import polars as pl
import polars.selectors as cs


def cell_text(value: object, how: str = "") -> str:
    """A cell of a table: a dash for nothing, two decimals where `how`, a number format of Python,
    says nothing else."""
    if value is None:
        return "–"
    if isinstance(value, float):
        return number_text(value, how or ",.2f")
    return format(value, how)


def number_text(number: float, how: str) -> str:
    """A number in a format of Python; what is rounded to nothing has no sign: never '-0.00'."""
    text = format(number, how)
    return text if any(digit in text for digit in "123456789n") else format(0.0, how)


def without_minus_zero(table: pl.DataFrame, decimals: int) -> pl.DataFrame:
    """A table whose floats can be written to so many decimals without a '-0.00'."""
    floats = cs.float()
    is_nothing = floats.abs() < 0.5 * 10.0**-decimals
    return table.with_columns(pl.when(is_nothing).then(0.0).otherwise(floats).name.keep())
