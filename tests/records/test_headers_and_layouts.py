"""Headers in four languages or the till's own, and sheets with a column for each day or line."""

from collections.abc import Callable
from pathlib import Path

import pytest

from shrinkwise.records.findings import Suggestion
from shrinkwise.records.reading import NothingUsableError, read_records
from shrinkwise.records.tables import Records

Folder = Callable[..., Path]
Gives = Callable[..., Records]
Read = Callable[..., Records]

ONE_SALE = [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0)]
TOTALS_COLUMN = "is a column of totals"
UNKNOWN = "must be a line of store.toml"


@pytest.mark.parametrize(
    "text",
    [
        "Business date,Item name,Qty sold,Net amount,Time,Marked down,Voided\n"
        "2026-03-02,Rye loaf,5,20.00,09:15,no,no\n2026-03-02,Bagels,1,3.00,09:20,no,yes\n",
        "Datum;Artikelbezeichnung;Stückzahl;Umsatz netto (EUR);Uhrzeit;Reduziert;Storno\n"
        "02.03.2026;Rye loaf;5;20,00;9 Uhr;nein;\n13.03.2026;Bagels;1;3,00;9 Uhr;nein;ja\n",
        "Date de vente;Désignation;Quantité;Chiffre d’affaires;Heure;Démarque;Annulé\n"
        "02/03/2026;Rye loaf;5;20,00 €;9h15;non;non\n13/03/2026;Bagels;1;3,00 €;9h20;non;oui\n",
        "FECHA;ARTÍCULO;CANTIDAD;IMPORTE NETO;HORA;REBAJADO;ANULADO\n"
        "02/03/2026;Rye loaf;5;20,00;9;no;no\n13/03/2026;Bagels;1;3,00;9;no;sí\n",
    ],
    ids=["English", "German", "French", "Spanish"],
)
def test_headers_and_words_in_four_languages(gives: Gives, text: str) -> None:
    gives(
        {"sales.csv": text},
        [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0, 9, False)],
        [("note", "sales.csv", 3, "", "Bagels", "was voided at the till", 1)],
    )


@pytest.mark.parametrize(
    ("table", "text", "row"),
    [
        (
            "markdowns",
            "Datum;Artikel;Anzahl;Reduzierter Preis;Backdatum\n"
            "04.03.2026;Rye loaf;2;2,50;02.03.2026\n"
            "13.03.2026;Total;;;\n",
            (2, 1, "2026-03-04", "Rye loaf", 2, 2.5, "2026-03-02"),
        ),
        (
            "disposals",
            "Date;Produit;Jeté;Motif;Cuit le\n2026-03-04;Rye loaf;2;périmé;2026-03-02\n",
            (2, 1, "2026-03-04", "Rye loaf", 2, "périmé", "2026-03-02"),
        ),
        (
            "bakes",
            "Horneado el;Producto;Uds.\n2026-03-04;Rye loaf;12\n",
            (2, 1, "2026-03-04", "Rye loaf", 12),
        ),
        (
            "counts",
            "Count date;SKU;On hand\n2026-03-04;Rye loaf;7\n",
            (2, 1, "2026-03-04", "Rye loaf", 7),
        ),
        (
            "events",
            "Tag;Artikel;Ereignis;Aktionspreis\n2026-03-04;Rye loaf;Aktion;3,50\n",
            (2, 1, "2026-03-04", "Rye loaf", "promotion", 3.5),
        ),
    ],
)
def test_headers_of_the_other_logs(
    gives: Gives, table: str, text: str, row: tuple[object, ...]
) -> None:
    has_total = "Total" in text
    note = ("note", f"{table}.csv", 3, "", "Total", "is a row of totals", 1)
    gives({f"{table}.csv": text}, [row], [note] if has_total else [], table=table)


def test_the_store_s_own_headers_go_before_plain_ones(gives: Gives) -> None:
    """Of two columns of money the store names the right one."""
    gives(
        {"sales.csv": "Tag;Was;Wieviel;Umsatz;Wert\n2026-03-02;Rye loaf;5;23,80;20,00\n"},
        ONE_SALE,
        block='\n[columns.sales]\nproduct = "was"\nunits = " Wieviel"\nnet_sales = "Wert"\n',
    )


def test_two_headers_for_one_column_are_asked_about(gives: Gives) -> None:
    text = "date,product,qty,quantity\n2026-03-02,Rye loaf,5,6\n"
    rule = "has the headers 'qty' and 'quantity', which both name units"
    records = gives(
        {"bakes.csv": text}, ONE_SALE, [("not read", "bakes.csv", None, "", None, rule, 0)]
    )
    assert records.suggestions == (
        Suggestion("columns.bakes", "units", "qty", "bakes.csv", "quantity"),
    )
    gives(
        {"bakes.csv": text},
        [(2, 1, "2026-03-02", "Rye loaf", 6)],
        table="bakes",
        block='\n[columns.bakes]\nunits = "quantity"\n',
    )


def test_columns_that_are_missing_are_suggested_by_what_stands_in_them(read: Read) -> None:
    text = "Wann,Wer,Was,Wieviele\n2026-03-02,Ann,Rye loaf,5\n2026-03-03,Ben,bagels,6\n"
    records = read({"bakes.csv": text})
    assert records.problems.select("severity", "rule").rows() == [
        ("not read", "has no column 'date'; its headers are: Wann, Wer, Was, Wieviele")
    ]
    assert [(one.section, one.key, one.value) for one in records.suggestions] == [
        ("columns.bakes", "date", "Wann"),
        ("columns.bakes", "product", "Was"),
        ("columns.bakes", "units", "Wieviele"),
    ]


def test_suggestions_are_made_where_no_sales_are_left_too(folder: Folder) -> None:
    text = "date,product,Verkauft,Geld\n2026-03-02,Rye loaf,5,20.50\n"
    with pytest.raises(NothingUsableError) as caught:
        read_records(folder({"sales.csv": text}))
    assert [(one.key, one.value) for one in caught.value.suggestions] == [
        ("units", "Verkauft"),
        ("net_sales", "Geld"),
    ]


def test_a_header_far_down_or_none_is_a_finding(gives: Gives) -> None:
    """A column of three plain numbers is no log of anything."""
    gives(
        {"bakes.csv": "1,2,3\n4,5,6\n"},
        ONE_SALE,
        [
            (
                "not read", "bakes.csv", None, "", None,
                "has no column 'date'; its headers are: 1, 2, 3", 0,
            )
        ],
    )  # fmt: skip


BY_DAY = [
    (3, 1, "2026-03-02", "Bagels", 1),
    (2, 1, "2026-03-02", "Rye loaf", 5),
    (3, 1, "2026-03-13", "Bagels", 2),
    (2, 1, "2026-03-14", "Rye loaf", 3),
]


@pytest.mark.parametrize(
    "header",
    [
        "product,2026-03-02,2026-03-13,2026-03-14,Total",
        "Artikel,02.03.2026,13.03.2026,14.03.2026,Summe",
        ",03/02/2026,03/13/2026,03/14/2026,Total",
        'Item,"Mar 2, 2026","Mar 13, 2026","Mar 14, 2026",TOTAL',
        "Item,2026-03-02 00:00:00,2026-03-13 00:00:00,2026-03-14 00:00:00,Total",
    ],
    ids=["ISO", "German", "empty corner", "month names", "midnights"],
)
def test_a_column_for_each_day(gives: Gives, header: str) -> None:
    text = f"{header}\nRye loaf,5,,3,8\nBagels,1,2,,3\nTotal,6,2,3,11\n"
    total = next(word for word in ("Total", "Summe", "TOTAL") if header.endswith(word))
    records = gives(
        {"bakes.csv": text},
        BY_DAY,
        [
            ("note", "bakes.csv", 1, total, None, TOTALS_COLUMN, 0),
            ("note", "bakes.csv", 4, "", "Total", "is a row of totals", 3),
        ],
        table="bakes",
    )
    assert records.files.row(2)[2:] == (7, 4, 3, 0)


@pytest.mark.parametrize("corner", ["date", "", "Datum"])
def test_a_column_for_each_line(gives: Gives, corner: str) -> None:
    text = (
        f"{corner},Rye loaf,Bagels,Muffins,Total\n2026-03-02,5,,3,8\n2026-03-03,1,2,4,7\n"
        "Total,6,2,7,15\n"
    )
    gives(
        {"bakes.csv": text},
        [
            (2, 1, "2026-03-02", "Rye loaf", 5),
            (3, 1, "2026-03-03", "Bagels", 2),
            (3, 1, "2026-03-03", "Rye loaf", 1),
        ],
        [
            ("note", "bakes.csv", 1, "Total", None, TOTALS_COLUMN, 0),
            ("set aside", "bakes.csv", 2, "product", "Muffins", UNKNOWN, 2),
            ("note", "bakes.csv", 4, "", "Total", "is a row of totals", 3),
        ],
        table="bakes",
    )


def test_a_faulty_cell_of_a_wide_sheet_costs_that_cell_only(gives: Gives) -> None:
    """The column of the finding is the one in which the cell stands."""
    gives(
        {"bakes.csv": "product,2026-03-02,2026-03-03\nRye loaf,5,x\nBagels,2.5,2\n"},
        [(2, 1, "2026-03-02", "Rye loaf", 5), (3, 1, "2026-03-03", "Bagels", 2)],
        [
            ("set aside", "bakes.csv", 2, "2026-03-03", "x", "must be a whole number", 1),
            ("set aside", "bakes.csv", 3, "2026-03-02", "2.5", "must be a whole number", 1),
        ],
        table="bakes",
    )


def test_a_wide_sheet_of_sales_is_valued_at_the_full_price_and_says_so(read: Read) -> None:
    records = read({"sales.csv": "Item,2026-03-02,2026-03-03\nRye loaf,2,1\nBagels,0,3\n"})
    assert records.sales.select("product", "units", "net_sales").rows() == [
        ("Bagels", 0, 0.0),
        ("Rye loaf", 2, 8.0),
        ("Bagels", 3, 9.0),
        ("Rye loaf", 1, 4.0),
    ]
    (severity, rule) = records.problems.select("severity", "rule").row(0)
    assert severity == "guess"
    assert "full price" in rule
