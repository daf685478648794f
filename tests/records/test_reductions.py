"""Lines that are reduced in the logs, though store.toml says nothing of it."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from shrinkwise.records.suggesting import toml_block
from shrinkwise.records.tables import Records

Read = Callable[..., Records]

LAST = date(2026, 6, 28)
DAYS = [LAST - timedelta(days=back) for back in range(59, -1, -1)]
RULE = (
    "is reduced in the logs, and store.toml has no reduce_on_day for it, so that no plan reduces it"
)
ADD = "Add to its [[lines]] block, as is usual in the logs: reduce_on_day = {} and "


def log(header: str, *rows: str) -> str:
    return "\n".join([header, *rows, ""])


def sales(reduced: int = 0, name: str = "Bagels") -> str:
    """A bagel or two a day, and one at 1.20 on the first days of the last two months."""
    rows = [f"{day},{name},2,6.00,no" for day in DAYS]
    rows += [f"{day},{name},1,1.20,yes" for day in DAYS[:reduced]]
    return log("date,product,units,net_sales,reduced", *rows)


def bakes(every: int) -> str:
    return log("date,product,units", *(f"{day},Bagels,6" for day in DAYS[::every]))


def marked(days: list[date], age: int | None = None, price: float = 1.5) -> str:
    """A bagel on each of these days, and a dear one on the last."""
    born = ["" if age is None else f"{day - timedelta(days=age)}" for day in days]
    rows = [f"{day},Bagels,1,{price},{of}" for day, of in zip(days, born, strict=True)]
    rows.append(f"{days[-1]},Bagels,1,2.4,{born[-1]}")
    return log("date,product,units,unit_price,bake_date", *rows)


def asked(records: Records) -> list[tuple[str, str]]:
    found = records.problems.filter(records.problems["rule"] == RULE)
    assert set(found["severity"]) <= {"doubt"}
    assert records.want_a_look.height >= found.height
    return found.select("value", "what_to_do").rows()


@pytest.mark.parametrize(
    ("files", "day", "price"),
    [
        ({"markdowns.csv": marked(DAYS[10:50:7], age=1), "bakes.csv": bakes(1)}, "2", "1.50"),
        ({"markdowns.csv": marked(DAYS[10:50:7], age=0), "bakes.csv": bakes(1)}, "1", "1.50"),
        # baked on every other day, and always reduced on the day after
        ({"markdowns.csv": marked(DAYS[11:51:2]), "bakes.csv": bakes(2)}, "2", "1.50"),
        # baked every day, a unit may be of any
        ({"markdowns.csv": marked(DAYS[10:50:7]), "bakes.csv": bakes(1)}, "?", "1.50"),
        # the bake dates are older than the shelf life allows
        ({"markdowns.csv": marked(DAYS[10:50:7], age=5), "bakes.csv": bakes(1)}, "?", "1.50"),
        ({"markdowns.csv": marked(DAYS[10:50:7], age=1, price=3.0)}, "2", "?"),
        ({"sales.csv": sales(reduced=12)}, "?", "1.20"),
    ],
    ids=["by bake dates", "on the bake day", "by the bakes", "baked every day", "too old",
         "no reduced price", "reduced sales"],
)  # fmt: skip
def test_a_line_reduced_in_the_logs_alone_asks_for_the_settings(
    read: Read, files: dict[str, str], day: str, price: str
) -> None:
    records = read({"sales.csv": sales()} | files)
    (found,) = asked(records)
    unknown = " (?: only you can tell)" if "?" in (day, price) else ""
    assert found == ("Bagels", ADD.format(day) + f"reduced_price = {price}{unknown}.")
    file = next(iter(files))
    assert toml_block(records.suggestions, records.profile).splitlines() == [
        f"# {file}, as is usual there",
        '# in the [[lines]] block of "Bagels":',
        f"# reduce_on_day = {day}",
        f"# reduced_price = {price}",
    ]


def test_settings_taken_from_the_logs_answer_the_doubt(read: Read) -> None:
    files = {"sales.csv": sales(), "markdowns.csv": marked(DAYS[10:50:7], age=1)}
    records = read(files)
    block = [line[2:] for line in toml_block(records.suggestions, records.profile).splitlines()]
    store = (records.folder / "store.toml").read_text(encoding="utf-8")
    answered = read(files, store=store + "\n".join([*block[2:], ""]))
    assert asked(answered) == []
    assert answered.suggestions == ()


@pytest.mark.parametrize(
    "files",
    [
        {"markdowns.csv": marked(DAYS[10:12])},
        {"sales.csv": sales(reduced=2)},
        # the rye has its setting
        {"sales.csv": sales(reduced=12, name="Rye loaf")},
    ],
    ids=["a slip or two", "two sales", "a line with the setting"],
)
def test_a_slip_or_two_are_no_habit(read: Read, files: dict[str, str]) -> None:
    assert asked(read({"sales.csv": sales()} | files)) == []


def test_what_ended_half_a_year_ago_asks_nothing(read: Read) -> None:
    long_ago = [day - timedelta(days=200) for day in DAYS]
    early = log("date,product,units,net_sales", *(f"{day},Bagels,2,6" for day in long_ago))
    files = {"sales.csv": sales(), "sales_2025.csv": early}
    assert asked(read(files | {"markdowns.csv": marked(long_ago[10:50:7])})) == []
