"""The files of a folder: exports that hold the same days again, links, folders, other endings."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from shrinkwise.records.folder import ENDINGS
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

Folder = Callable[..., Path]
Gives = Callable[..., Records]
Read = Callable[..., Records]
Finding = tuple[str, str, int, str, str, str, int]

HEADER = "date,product,units,net_sales\n"
ONE_SALE = [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0)]


def sales(*rows: tuple[int, str, int]) -> str:
    """Sales of March by day, line and units, each unit for 4."""
    return HEADER + "".join(f"2026-03-{d:02},{name},{u},{4 * u}\n" for d, name, u in rows)


def again(file: str, row: int, days: tuple[int, int], later: str, rows: int) -> Finding:
    when = f"2026-03-{days[0]:02} to 2026-03-{days[1]:02}"
    rule = f"is held again by {later}, which is used"
    return ("replaced", file, row, "date", when, rule, rows)


def sold(records: Records) -> list[tuple[str, int, str, int]]:
    columns = ["file", "date", "product", "units"]
    return [(f, day.day, line, u) for f, day, line, u in records.sales.select(columns).iter_rows()]


def test_the_later_export_is_used_for_the_days_it_holds(read: Read) -> None:
    records = read(
        {
            "sales.csv": None,
            "sales_1.csv": sales(
                (2, "Rye loaf", 5), (3, "Rye loaf", 5), (3, "Bagels", 1), (5, "Rye loaf", 1)
            ),
            "sales_2.csv": sales((3, "Rye loaf", 6), (4, "Rye loaf", 6)),
        }
    )
    # also for the line that it does not hold on that day: it is an export of the whole day
    assert sold(records) == [
        ("sales_1.csv", 2, "Rye loaf", 5),
        ("sales_2.csv", 3, "Rye loaf", 6),
        ("sales_2.csv", 4, "Rye loaf", 6),
        ("sales_1.csv", 5, "Rye loaf", 1),
    ]
    assert records.problems.drop("what_to_do").rows() == [
        again("sales_1.csv", 3, (3, 3), "sales_2.csv", 2)
    ]
    assert records.want_a_look.is_empty()
    assert records.files.rows()[:2] == [
        ("sales_1.csv", "sales", 4, 2, 0, 2),
        ("sales_2.csv", "sales", 2, 2, 0, 0),
    ]


def test_each_day_of_three_exports_comes_from_the_last_that_holds_it(read: Read) -> None:
    records = read(
        {
            "sales.csv": None,
            "sales_1.csv": sales((2, "Rye loaf", 1), (3, "Rye loaf", 1), (4, "Rye loaf", 1)),
            "sales_2.csv": sales((3, "Rye loaf", 2), (4, "Rye loaf", 2)),
            "sales_3.csv": sales((4, "Rye loaf", 3), (5, "Rye loaf", 3)),
        }
    )
    assert [units for _, _, _, units in sold(records)] == [1, 2, 3, 3]
    assert records.problems.drop("what_to_do").rows() == [
        again("sales_1.csv", 3, (3, 4), "sales_2.csv", 2),
        again("sales_2.csv", 3, (4, 4), "sales_3.csv", 1),
    ]


def test_days_apart_that_are_held_again_are_findings_of_their_own(read: Read) -> None:
    records = read(
        {
            "sales.csv": None,
            "sales_1.csv": sales(*((day, "Rye loaf", 1) for day in range(2, 8))),
            "sales_2.csv": sales((2, "Rye loaf", 2), (3, "Rye loaf", 2), (6, "Rye loaf", 2)),
        }
    )
    assert records.problems.drop("what_to_do").rows() == [
        again("sales_1.csv", 2, (2, 3), "sales_2.csv", 2),
        again("sales_1.csv", 6, (6, 6), "sales_2.csv", 1),
    ]


def test_halves_of_an_export_that_share_days_but_no_line_are_both_used(read: Read) -> None:
    records = read(
        {
            "sales.csv": None,
            "sales_bread.csv": sales((2, "Rye loaf", 5), (3, "Rye loaf", 4)),
            "sales_rolls.csv": sales((2, "Bagels", 6), (3, "Bagels", 7)),
        }
    )
    assert records.problems.is_empty()
    assert records.sales["units"].sum() == 22


Till = dict[tuple[int, str], int]


def till(days: range, changes: Till | None = None) -> str:
    """Five loaves and eight bagels a day, but for some."""
    usual = {(day, name): u for day in days for name, u in (("Rye loaf", 5), ("Bagels", 8))}
    return sales(*((*of, units) for of, units in (usual | (changes or {})).items()))


def in_doubt(records: Records) -> list[tuple[str, int, str, str, int]]:
    found = records.want_a_look
    assert set(found["severity"]) <= {"doubt"}
    return found.select("file", "row", "value", "rule", "rows").rows()


def other(file: str, later: str, days: str, of: str, dropped: str) -> tuple[object, ...]:
    rule = (
        f"holds other units than {later} on {days} of the {of} days that both hold; the later "
        f"file is used, and {dropped} are dropped"
    )
    return (file, 2, rule, 0)


TEN = range(2, 12)
SECOND = {(day, name): 3 + day % 2 for day in TEN for name in ("Rye loaf", "Bagels")}


def test_files_of_two_tills_want_a_look(read: Read) -> None:
    """Ten days of 5 + 8 units in the first till: 20 rows and 130 units that nobody would miss."""
    records = read({"sales.csv": None, "sales_1.csv": till(TEN), "sales_2.csv": till(TEN, SECOND)})
    ((file, row, value, rule, rows),) = in_doubt(records)
    assert value == "2026-03-02 to 2026-03-11"
    assert (file, row, rule, rows) == other(
        "sales_1.csv", "sales_2.csv", "10", "10", "20 rows with 130 units"
    )
    said = records.want_a_look["what_to_do"].item()
    assert "two tills" in said
    assert "one file" in said
    # what was replaced is said as ever
    replaced = records.problems.filter(records.problems["severity"] == "replaced")
    assert replaced["rows"].to_list() == [20]


def test_each_of_three_tills_is_in_doubt_once(read: Read) -> None:
    third = {of: units + 5 for of, units in SECOND.items()}
    files = {f"sales_{k}.csv": till(TEN, held) for k, held in enumerate((None, SECOND, third))}
    found = in_doubt(read({"sales.csv": None} | files))
    assert [row[0] for row in found] == ["sales_0.csv", "sales_1.csv"]


def test_a_till_that_sells_few_lines_is_another_till_too(read: Read) -> None:
    few = sales(*((day, "Rye loaf", 1) for day in TEN))
    found = in_doubt(read({"sales.csv": None, "sales_1.csv": till(TEN), "sales_2.csv": few}))
    assert [row[0] for row in found] == ["sales_1.csv"]


def test_two_lists_of_disposals_want_a_look(read: Read) -> None:
    def thrown(units: int) -> str:
        rows = [f"2026-03-{day:02},Rye loaf,{units}\n" for day in TEN]
        return "date,product,units\n" + "".join(rows)

    files = {"disposals_a.csv": thrown(1), "disposals_b.csv": thrown(2), "disposals.csv": None}
    assert [row[0] for row in in_doubt(read({"sales.csv": till(TEN)} | files))] == [
        "disposals_a.csv"
    ]


LONG = range(2, 30)


@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        (till(TEN), till(TEN)),
        # four days exported anew because they were wrong
        (till(LONG), till(range(2, 6), {(day, "Bagels"): 2 for day in range(2, 6)})),
        # one line corrected on ten of 28 days
        (till(LONG), till(LONG, {(day, "Bagels"): 2 for day in TEN})),
        # a day half exported at its end
        (till(TEN, {(11, "Rye loaf"): 1, (11, "Bagels"): 0}), till(LONG)),
        # rows of no units say nothing else than no rows
        (till(LONG, {(day, "Bagels"): 0 for day in LONG}),
         sales(*((day, "Rye loaf", 5) for day in LONG))),
    ],
    ids=["the same again", "a few days", "a few rows", "half a day", "rows of no units"],
)  # fmt: skip
def test_a_corrected_export_is_only_noted(read: Read, earlier: str, later: str) -> None:
    records = read({"sales.csv": None, "sales_1.csv": earlier, "sales_2.csv": later})
    rules = set(records.want_a_look["rule"])
    assert not any("other units" in rule for rule in rules)
    assert "replaced" in set(records.problems["severity"])


def test_a_row_set_aside_in_the_later_export_replaces_nothing(read: Read) -> None:
    records = read(
        {
            "sales.csv": None,
            "sales_1.csv": sales((2, "Rye loaf", 5)),
            "sales_2.csv": HEADER + "2026-03-02,Rye loaf,x,20\n2026-03-03,Rye loaf,1,4\n",
        }
    )
    assert [units for _, _, _, units in sold(records)] == [5, 1]
    assert records.problems["severity"].to_list() == ["set aside"]


@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        ("sales_9.csv", "sales_10.csv"),
        ("sales.csv", "sales (1).csv"),
        ("sales.csv", "sales(2).csv"),
        ("sales_2025-03.csv", "sales_2025.csv"),
        ("sales.csv", "sales_new.csv.gz"),
        ("Sales_a.csv", "sales_B.csv"),
        ("sales_2026-03.csv", "sales_2026-03 corrected.csv"),
    ],
)
def test_numbers_and_additions_in_names_count_as_a_person_would_count_them(
    read: Read, earlier: str, later: str
) -> None:
    import gzip

    def file(name: str, units: int) -> bytes:
        text = sales((2, "Rye loaf", units)).encode()
        return gzip.compress(text) if name.endswith(".gz") else text

    records = read({"sales.csv": None, earlier: file(earlier, 1), later: file(later, 2)})
    assert sold(records) == [(later, 2, "Rye loaf", 2)]
    assert records.files["file"].to_list()[:2] == [earlier, later]


def test_two_lists_of_events_may_speak_of_the_same_day(read: Read) -> None:
    records = read(
        {
            "events_holidays.csv": "date,kind\n2026-03-04,holiday\n2026-03-05,closed\n",
            "events_town.csv": "date,kind\n2026-03-04,local event\n2026-03-05,closed\n",
        }
    )
    kinds = records.events.select("date", "kind").rows()
    assert [(day.day, kind) for day, kind in kinds] == [
        (4, "holiday"), (4, "local event"), (5, "closed")
    ]  # fmt: skip
    assert records.problems["severity"].to_list() == ["replaced"]


NO_LOG = "has an ending that is no log's"


def test_what_looks_like_a_log_and_is_none_is_said(folder: Folder, tmp_path: Path) -> None:
    outside = tmp_path / "elsewhere"
    outside.mkdir()
    (outside / "bakes.csv").write_text("date,product,units\n2026-03-02,Rye loaf,99\n")
    (tmp_path / "records").mkdir()
    path = Path(folder()).rename(tmp_path.parent / f"{tmp_path.name} moved")
    outside = path / "elsewhere"
    inside = path / "store"
    inside.mkdir()
    for name in ("store.toml", "sales.csv", "disposals.csv"):
        (path / name).rename(inside / name)

    (inside / "bakes_1.csv").symlink_to(inside / "nowhere.csv")
    (inside / "bakes_2.csv").symlink_to(outside / "bakes.csv")
    (inside / "bakes_3.csv").mkdir()
    os.mkfifo(inside / "bakes_4.csv")
    (inside / "bakes_5.csv").symlink_to(inside / "bakes_5.csv")
    (inside / "bakes_6.xls").write_bytes(b"\xd0\xcf\x11\xe0")
    (inside / "bakes_7.pdf").write_text("")
    (inside / "bakes_8").write_text("")
    (inside / "own.csv").write_text("date,product,units\n2026-03-02,Rye loaf,1\n")
    (inside / "bakes_9.csv").symlink_to(inside / "own.csv")
    (inside / "~$bakes.xlsx").write_text("")
    (inside / "readme.txt").write_text("")

    records = read_records(inside)
    assert records.bakes.select("file", "units").rows() == [("bakes_9.csv", 1)]
    assert records.problems.select("severity", "file", "rule").rows() == [
        ("not read", "bakes_1.csv", "is a link to a file that is not there"),
        ("not read", "bakes_2.csv", "is a link that leads out of the records folder"),
        ("note", "bakes_3.csv", "is a folder, not a log"),
        ("not read", "bakes_4.csv", "is no plain file"),
        ("not read", "bakes_5.csv", "is a link to a file that is not there"),
        ("not read", "bakes_6.xls", NO_LOG),
        ("note", "bakes_7.pdf", NO_LOG),
        ("note", "bakes_8", NO_LOG),
    ]
    assert records.problems["row"].null_count() == records.problems.height
    assert all(ending in records.problems["what_to_do"][5] for ending in ENDINGS)
