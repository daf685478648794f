"""The sample store's other logs as exports: Spanish, American, and laid out wide."""

from datetime import date
from typing import Any

import polars as pl

from shrinkwise.sample.defects import DOUBT, GUESS, NOT_READ, NOTE, SET_ASIDE, Cells, Defect, Export
from shrinkwise.sample.exports import delimited, named_day, workbook
from shrinkwise.sample.messy_sales import MINOR_LINE, Files
from shrinkwise.sample.other_names import OTHER_NAMES
from shrinkwise.sample.truth import TRUTH

MARKDOWN_HEADERS = {
    "date": "When",
    "product": "SKU no.",
    "units": "Stickers",
    "unit_price": "Sticker price",
    "bake_date": "Out of the oven",
}
"""The store's own headers, which only `store.toml` explains."""

Row = dict[str, Any]
_OCTOBER = date(2026, 10, 1)


def messy_logs(tables: dict[str, pl.DataFrame]) -> Files:
    """All logs of the clean sample but its sales as files, and what is wrong in them.

    Parameters
    ----------
    tables : dict of str to polars.DataFrame
        The clean logs.

    Returns
    -------
    files : dict of str to bytes
        By name.
    defects : list of Defect
    """
    made = [
        _disposals(tables["disposals"]),
        _draft(tables["disposals"]),
        _markdowns(tables["markdowns"]),
        _bakes(tables["bakes"]),
        _counts(tables["counts"]),
        _half_copied(tables["counts"]),
        _events(tables["events"]),
    ]
    files = {name: data for part, _ in made for name, data in part.items()}
    return files, [defect for _, part in made for defect in part]


def _disposals(disposals: pl.DataFrame) -> Files:
    def cells(row: Row) -> Cells:
        return {
            "date": f"{row['date']:%d/%m/%Y}",
            "product": row["product"],
            "units": str(row["units"]),
            "reason": row["reason"],
            "bake_date": f"{row['bake_date']:%d/%m/%Y}",
        }

    headers = {
        "date": "Fecha",
        "product": "Artículo",
        "units": "Cantidad",
        "reason": "Motivo",
        "bake_date": "Fecha de horneado",
        "note": "Observación",
    }
    export = Export.of("disposals.csv", disposals, headers, cells)
    # a line break inside a cell is no new row
    export.rows[4].cells["note"] = "bandeja caída\nal descargar"
    export.insert("no_such_day", "date", "White loaf", date(2025, 2, 27), date="30/02/2025")
    export.insert("negative_disposal", "units", "Wheat loaf", date(2025, 3, 20), units="-3")
    export.insert("formula_for_a_number", "units", "French bread", date(2025, 6, 3), units="=1+1")
    export.change(
        "name_in_capitals", "product", "Italian loaf", date(2025, 9, 9), GUESS,
        product="ITALIAN  LOAF",
    )  # fmt: skip
    thrown = disposals.filter(
        pl.col("product") == MINOR_LINE, pl.col("date") >= date(2026, 5, 1)
    ).row(0, named=True)
    export.change(
        "more_disposed_than_baked", "units", MINOR_LINE, thrown["date"], DOUBT, False,
        units=f"{thrown['units']}00",
    )  # fmt: skip
    return {export.file: delimited(export.lines, ";", "utf-8")}, export.defects


def _draft(disposals: pl.DataFrame) -> Files:
    """Twelve days written once more, by which nobody can tell days from months."""
    part = disposals.filter(pl.col("date").is_between(date(2024, 11, 1), date(2024, 11, 12)))
    rows = [["Fecha", "Artículo", "Cantidad", "Motivo"]]
    rows += [
        [f"{day:%d/%m/%Y}", product, str(units), reason]
        for day, product, units, reason, _ in part.iter_rows()
    ]
    name = "disposals_2024-11.csv"
    open_order = Defect("day_or_month_first", name, None, "", NOT_READ)
    return {name: delimited(rows, ";", "utf-8")}, [open_order]


def _markdowns(markdowns: pl.DataFrame) -> Files:
    def cells(row: Row) -> Cells:
        return {
            "date": f"{row['date']:%m/%d/%Y}",
            "product": OTHER_NAMES[row["product"]].code,
            "units": str(row["units"]),
            "unit_price": f"{row['unit_price']:.2f} $",
            "bake_date": f"{row['bake_date']:%m/%d/%Y}",
        }

    def export_of(file: str, part: pl.DataFrame) -> Export:
        return Export.of(file, part, MARKDOWN_HEADERS, cells)

    export = export_of("markdowns.csv", markdowns.filter(pl.col("date") < _OCTOBER))
    export.insert(
        "baked_after_it_was_reduced", "bake_date", "White loaf", date(2025, 1, 14),
        bake_date="01/28/2025",
    )  # fmt: skip
    export.insert("percent_for_money", "unit_price", "Bagels", date(2025, 8, 2), unit_price="50%")
    # a decimal comma without quotes cuts the price in two and pushes the bake date out
    export.insert(
        "cell_too_many", "", "Cinnamon rolls", date(2025, 12, 9),
        unit_price="2", bake_date="75 $", beyond=("12/07/2025",),
    )  # fmt: skip
    # four days of one month: only the order declared in store.toml tells days from months
    october = export_of("markdowns_2026-10.csv", markdowns.filter(pl.col("date") >= _OCTOBER))
    files = {e.file: delimited(e.lines, ",", "utf-8") for e in (export, october)}
    return files, export.defects


def _bakes(bakes: pl.DataFrame) -> Files:
    """A row for each day, a column for each line, totals at the side."""
    lines = [line.name for line in TRUTH.lines]
    by_day: dict[date, dict[str, int]] = {}
    for day, product, units in bakes.iter_rows():
        by_day.setdefault(day, {})[product] = units
    rows = [["date", *lines, "Total"]]
    defects = [Defect("column_of_totals", "bakes.csv", None, "Total", NOTE)]
    for day, of_day in by_day.items():
        cells = [str(of_day[line]) if line in of_day else "" for line in lines]
        rows.append([day.isoformat(), *cells, str(sum(of_day.values()))])
        if day == date(2025, 6, 12):
            word = ["five" if line == "Wheat loaf" else "" for line in lines]
            rows.append([day.isoformat(), *word, ""])
            defects.append(
                Defect("number_in_words", "bakes.csv", len(rows), "Wheat loaf", SET_ASIDE)
            )
    return {"bakes.csv": delimited(rows, ",", "utf-8")}, defects


def _counts(counts: pl.DataFrame) -> Files:
    """A row for each line, a column for each night."""
    nights = counts["date"].unique().sort().to_list()
    counted = {(product, day): str(units) for day, product, units in counts.iter_rows()}
    rows = [["Product", *(named_day(night, "english") for night in nights)]]
    rows += [
        [line.name, *(counted.get((line.name, night), "") for night in nights)]
        for line in TRUTH.lines
    ]
    return {"counts.txt": delimited(rows, "\t", "utf-8")}, []


def _half_copied(counts: pl.DataFrame) -> Files:
    name = "counts_2025.xlsx"
    part = counts.filter(pl.col("date").dt.year() == 2025)
    whole = workbook({"Counts": [["Date", "Product", "Units"], *map(list, part.iter_rows())]})
    return {name: whole[: len(whole) // 2]}, [
        Defect("half_copied_workbook", name, None, "", NOT_READ)
    ]


def _events(events: pl.DataFrame) -> Files:
    """As in the clean sample, but for the closure that nobody noted."""
    noted = events.filter(~pl.col("date").is_in(TRUTH.sudden_closures))
    text = noted.write_csv(float_precision=2)
    missing = Defect("closure_not_noted", "sales", None, "date", DOUBT, recoverable=False)
    return {"events.csv": text.encode()}, [missing]
