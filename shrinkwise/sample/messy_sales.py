"""The sample store's sales as five exports: German, American, Excel, French, and an older one."""

from datetime import date, timedelta
from typing import Any

import polars as pl

from shrinkwise.sample.defects import (
    DOUBT,
    GUESS,
    NOTE,
    REPLACED,
    SET_ASIDE,
    Cells,
    Defect,
    Export,
    ExportRow,
)
from shrinkwise.sample.exports import (
    SERIAL_ORIGIN,
    Sheets,
    delimited,
    french_money,
    german_money,
    named_day,
    us_money,
    workbook,
    zipped,
)
from shrinkwise.sample.other_names import OTHER_NAMES, with_check_digit

MINOR_LINE = "Cheese danish"
"""The one line whose own figures are spoilt for good."""

Files = tuple[dict[str, bytes], list[Defect]]
Row = dict[str, Any]


def messy_sales(sales: pl.DataFrame) -> Files:
    """The sales of the clean sample as files, and what is wrong in them.

    Parameters
    ----------
    sales : polars.DataFrame
        The clean sales.

    Returns
    -------
    files : dict of str to bytes
        By name.
    defects : list of Defect
    """
    year = pl.col("date").dt.year()
    first_half = pl.col("date") < date(2026, 7, 1)
    made = [
        _german(sales.filter(year == 2024)),
        _american(sales.filter(year == 2025)),
        _older(sales.filter(pl.col("date").is_between(date(2025, 3, 3), date(2025, 3, 9)))),
        _excel(sales.filter(year == 2026, first_half)),
        _french(sales.filter(year == 2026, ~first_half)),
    ]
    files = {name: data for part, _ in made for name, data in part.items()}
    return files, [defect for _, part in made for defect in part]


def _german(sales: pl.DataFrame) -> Files:
    def cells(row: Row) -> Cells:
        return {
            "date": f"{row['date']:%d.%m.%Y}",
            "product": OTHER_NAMES[row["product"]].german,
            "units": str(row["units"]),
            "net_sales": german_money(row["net_sales"]),
            "reduced": "ja" if row["reduced"] == "yes" else "nein",
            "void": "nein",
        }

    headers = {
        "date": "Datum",
        "product": "Artikel",
        "units": "Stück",
        "net_sales": "Umsatz (netto)",
        "reduced": "reduziert",
        "void": "Storno",
    }
    titles = [["Kassenbericht Bäckerei"], ["7. Oktober bis 31. Dezember 2024"], []]
    export = Export.of("sales_2024.csv", sales, headers, cells, titles)
    export.insert("void_sale", "", "White loaf", date(2024, 11, 6), NOTE, void="ja")
    _return_that_nets(export, sales)
    total = {
        "date": "Summe",
        "units": str(sales["units"].sum()),
        "net_sales": german_money(float(sales["net_sales"].sum())),
    }
    last = sales["date"][-1]
    export.rows.append(ExportRow(last, None, total, ("row_of_totals", "", NOTE, True)))
    return {export.file: delimited(export.lines, ";", "cp1252")}, export.defects


def _return_that_nets(export: Export, sales: pl.DataFrame) -> None:
    """Two units more are sold and brought back the same day: no defect, the day stays as it was."""
    full = sales.filter(pl.col("product") == "Wheat loaf", pl.col("reduced") == "no")
    day, sold, more, back = next(
        (day, sold, more, back)
        for day, _, sold, net, _ in full.filter(pl.col("units") > 0).iter_rows()
        for more, back in [(round(net / sold * (sold + 2), 2), round(net / sold * 2, 2))]
        # price and sum must come out the same to the last bit
        if more / (sold + 2) == net / sold and more - back == net
    )
    at = export.place("Wheat loaf", day)
    row = export.rows[at]
    row.cells |= {"units": str(sold + 2), "net_sales": german_money(more)}
    returned = row.cells | {"units": "2-", "net_sales": german_money(-back)}
    export.rows.insert(at + 1, ExportRow(day, row.product, returned))


def _american(sales: pl.DataFrame) -> Files:
    def cells(row: Row) -> Cells:
        return {
            "date": f"{row['date']:%m/%d/%Y}",
            "product": OTHER_NAMES[row["product"]].code,
            "units": str(row["units"]),
            "net_sales": us_money(row["net_sales"]),
            "reduced": "Y" if row["reduced"] == "yes" else "N",
        }

    headers = {
        "date": "Business date",
        "hour": "Hour",
        "product": "Item",
        "units": "Qty",
        "net_sales": "Net sales",
        "reduced": "Marked down",
    }
    export = Export.of("sales_2025.tsv", sales, headers, cells)
    bare = OTHER_NAMES["Dinner rolls"].code.lstrip("0")
    export.change(
        "lost_leading_zeros", "product", "Dinner rolls", date(2025, 2, 18), GUESS, product=bare
    )
    export.insert("unknown_product", "product", "Bagels", date(2025, 4, 5), product="0999")
    export.insert(
        "money_against_units", "net_sales", "Sub rolls", date(2025, 5, 20),
        units="4", net_sales=us_money(-15.96),
    )  # fmt: skip
    export.insert("hour_25", "hour", "Croissants", date(2025, 7, 12), hour="25")
    export.insert(
        "sold_before_introduced", "product", "Cinnamon rolls", date(2025, 10, 5), DOUBT, False,
        product=OTHER_NAMES[MINOR_LINE].code, units="2", net_sales=us_money(11.98),
    )  # fmt: skip
    _book_on_one_day(export, sales.filter(pl.col("product") == MINOR_LINE))
    return {export.file: delimited(export.lines, "\t", "utf-16")}, export.defects


def _book_on_one_day(export: Export, sales: pl.DataFrame) -> None:
    """The minor line's best weekend before Christmas, Friday and Saturday booked on Sunday."""
    # not in the line's first weeks, when nobody can know what is usual
    sundays = [date(2025, 11, 23) + timedelta(weeks=week) for week in range(5)]
    weekends = {
        sunday: sales.filter(pl.col("date").is_between(sunday - timedelta(days=2), sunday))
        for sunday in sundays
    }
    sunday = max(weekends, key=lambda day: int(weekends[day]["units"].sum()))
    booked = weekends[sunday]
    export.rows = [
        row
        for row in export.rows
        if row.product != MINOR_LINE or not sunday - timedelta(days=2) <= row.day < sunday
    ]
    late = booked.filter((pl.col("date") < sunday) | (pl.col("reduced") == "no"))
    export.change(
        "several_days_on_one", "date", MINOR_LINE, sunday, DOUBT, False,
        units=str(late["units"].sum()), net_sales=us_money(float(late["net_sales"].sum())),
    )  # fmt: skip


def _older(sales: pl.DataFrame) -> Files:
    """A first export of one week, made before its last evening was over."""
    evening = pl.col("date") == sales["date"].max()
    units = pl.when(evening).then(pl.col("units") // 2).otherwise("units")
    share = pl.when(pl.col("units") > 0).then(units / pl.col("units")).otherwise(0.0)
    early = sales.with_columns(units=units, net_sales=(pl.col("net_sales") * share).round(2))
    name = "sales_2025-03.csv"
    text = early.write_csv(float_precision=2)
    return {name: text.encode()}, [Defect("older_export", name, None, "", REPLACED)]


def _excel(sales: pl.DataFrame) -> Files:
    def sheet(part: pl.DataFrame, *, serial: bool) -> list[list[object]]:
        rows: list[list[object]] = [
            [None, "Sales by day and article"],
            [],
            [None, "Day", "Article", "Pieces", "Revenue", "Reduced"],
        ]
        for day, product, units, net, reduced in part.iter_rows():
            shown = (day - SERIAL_ORIGIN).days if serial else day
            rows.append([None, shown, f"0{OTHER_NAMES[product].gtin}", units, net, reduced])
        return rows

    spring = pl.col("date") < date(2026, 4, 1)
    name = "sales_2026_h1.xlsx"
    book: Sheets = {
        "Q1": sheet(sales.filter(spring), serial=False),
        "Q2": sheet(sales.filter(~spring), serial=True),
        "Notes": [
            ["Where these figures come from"],
            ["The till's monthly closing, pasted together by quarter."],
            ["Ask the office before anything is changed here."],
        ],
    }
    return {name: workbook(book)}, [Defect("sheet_of_notes", name, None, "", NOTE)]


def _french(sales: pl.DataFrame) -> Files:
    def cells(row: Row) -> Cells:
        return {
            "date": named_day(row["date"], "french"),
            "product": OTHER_NAMES[row["product"]].french,
            "units": str(row["units"]),
            "net_sales": french_money(row["net_sales"]),
            "reduced": "oui" if row["reduced"] == "yes" else "non",
        }

    headers = {
        "date": "Date",
        "product": "Désignation",
        "units": "Quantité",
        "net_sales": "Montant net",
        "reduced": "Démarqué",
    }
    export = Export.of("sales_2026_h2.csv.gz", sales, headers, cells)
    export.insert(
        "wrong_check_digit", "product", "Kaiser rolls", date(2026, 7, 21),
        product=_with_wrong_check_digit(OTHER_NAMES["Kaiser rolls"].gtin),
    )  # fmt: skip
    export.insert(
        "more_returned_than_sold", "units", MINOR_LINE, date(2026, 8, 5), DOUBT, False,
        units="-40", net_sales=french_money(-239.60), reduced="",
    )  # fmt: skip
    last = export.lines[-1]
    broken_off = f"{last[0]}|{last[1]}|{last[2][:1]}"
    cut = Defect("cut_off_last_row", export.file, len(export.lines) + 1, "net_sales", SET_ASIDE)
    data = delimited(export.lines, "|", "utf-8-sig", broken_off)
    return {export.file: zipped(data)}, [*export.defects, cut]


def _with_wrong_check_digit(gtin: str) -> str:
    right = with_check_digit(gtin[:-1])
    return f"{right[:-1]}{(int(right[-1]) + 1) % 10}"
