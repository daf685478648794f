"""Worked retail problems through the package's own money: the base of a ratio is the trap.

The problems are those of teaching and trade pages, named at each; every unit here has the price 1
unless said otherwise, so that money and units of the source are the same number.
"""

import numpy as np
import pytest

from shrinkwise.money.ratios import (
    share_pct,
    shrink_at_cost,
    shrink_at_retail,
    shrink_at_retail_pct_of_net_sales,
)
from shrinkwise.money.week import Money, Quantities, money_of
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour


def line_of(price: float, dough_cost: float, reduced_price: float | None = None) -> Line:
    """A line with the prices of a worked problem."""
    return Line(
        name="Any loaf",
        category="breads",
        price=price,
        dough_cost=dough_cost,
        shelf_life_days=2,
        reduce_on_day=None if reduced_price is None else 2,
        reduced_price=reduced_price,
    )


def week(
    line: Line,
    *,
    baked: float = 0.0,
    sold_full: float = 0.0,
    sold_reduced: float = 0.0,
    disposed: float = 0.0,
    hours: float = 0.0,
    wage: float = 0.0,
) -> Money:
    """The money of a week in which so many units went each way; hours come from baked units."""
    none = np.zeros(1)
    quantities = Quantities(
        baked=np.array([baked]),
        bakes=none,
        pans=none,
        labelled=none,
        sold_full=np.array([sold_full]),
        sold_reduced=np.array([sold_reduced]),
        disposed=np.array([disposed]),
        unmet=none,
        stock_change=none,
    )
    labour = Labour(
        wage_per_hour=wage,
        minutes_per_unit=60 * hours / baked if baked else 0.0,
        minutes_per_disposed_unit=0.0,
    )
    return money_of(quantities, line, labour)


@pytest.mark.parametrize(
    ("original", "sale", "pct_of_net_sales", "pct_off"),
    [
        # the-retail-advisor.com, markdown percent calculation: 66.67% and 100%
        (100.0, 60.0, 66.67, 40.0),
        (100.0, 50.0, 100.00, 50.0),
        # a retail teaching page: $500 to $300 is 40% off the original (of net sales: computed)
        (500.0, 300.0, 66.67, 40.0),
    ],
)
def test_a_markdown_is_more_of_net_sales_than_it_is_off_the_price(
    original: float, sale: float, pct_of_net_sales: float, pct_off: float
) -> None:
    money = week(line_of(original, 0.0, sale), sold_reduced=1)
    assert shrink_at_retail_pct_of_net_sales(money) == pytest.approx(pct_of_net_sales, abs=5e-3)
    assert share_pct(money.markdown, original)[0] == pytest.approx(pct_off)


def test_shrink_has_more_than_one_base() -> None:
    """Book stock 1,000, counted 900, net sales 10,000: 1% of sales, 10% of book stock.

    Your Business (azcentral), how to figure shrinkage: 1%; the other base computed.
    """
    money = week(line_of(1.0, 0.4), sold_full=10_000, disposed=100)
    assert shrink_at_retail_pct_of_net_sales(money) == pytest.approx(1.0)
    assert share_pct(shrink_at_retail(money), 1000)[0] == pytest.approx(10.0)
    # the same units at what their dough cost are a smaller shrink (computed)
    assert share_pct(shrink_at_cost(money), money.net_sales)[0] == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("lost", "base", "published"),
    [
        # calculator.academy, inventory shrinkage: book 500, count 450, sales 510: 9.803%
        (50, 510, 9.803),
        # a mathematics teaching page: book 1000, count 950, of book stock: 5%
        (50, 1000, 5.0),
    ],
)
def test_shrink_in_percent(lost: float, base: float, published: float) -> None:
    money = week(line_of(1.0, 0.4), sold_full=base, disposed=lost)
    assert shrink_at_retail_pct_of_net_sales(money) == pytest.approx(published, abs=1e-3)


@pytest.mark.parametrize(
    ("price", "cost", "margin_pct", "markup_pct"),
    [
        # robinmalau.com, retail math: margin 39.94%, markup on cost 66.5%
        (49.95, 30.0, 39.94, 66.5),
        # National Grocers Association Foundation: 25% on cost is a margin of 20%
        (1.25, 1.0, 20.0, 25.0),
    ],
)
def test_margin_is_of_the_price_and_markup_of_the_cost(
    price: float, cost: float, margin_pct: float, markup_pct: float
) -> None:
    line = line_of(price, cost)
    assert share_pct(line.unit_margin, line.price) == pytest.approx(margin_pct, abs=5e-3)
    assert share_pct(line.unit_margin, line.dough_cost) == pytest.approx(markup_pct, abs=5e-3)


def test_initial_markup_ties_out_to_the_maintained_markup() -> None:
    """Sales 50,000, profit 2,500, reductions 5,500, expenses 15,000: initial markup 41.4%.

    Fairchild, exercise 50 (ISBN 9781501332012). Its maintained markup, 35.0%, is computed:
    (15,000 + 2,500) / 50,000. The reductions are thrown units here; the expenses are wages.
    """
    initial = (15_000 + 2_500 + 5_500) / (50_000 + 5_500)
    line = line_of(1.0, 1.0 - initial)
    assert share_pct(line.unit_margin, line.price) == pytest.approx(41.4, abs=0.05)
    money = week(line, baked=55_500, sold_full=50_000, disposed=5_500, hours=600, wage=25.0)
    assert shrink_at_retail_pct_of_net_sales(money) == pytest.approx(11.0)
    maintained = share_pct(money.net_sales - money.dough, money.net_sales)
    assert maintained[0] == pytest.approx(35.0, abs=1e-9)
    # labour is no part of the margin: it comes off below it
    assert money.labour[0] == pytest.approx(15_000)
    assert money.result[0] == pytest.approx(2_500)


def test_half_of_the_reductions_as_markdowns_leave_the_same_maintained_markup() -> None:
    """Reductions are reductions: 2,750 thrown and 2,750 given away on units at half price."""
    initial = (15_000 + 2_500 + 5_500) / (50_000 + 5_500)
    line = line_of(1.0, 1.0 - initial, 0.5)
    # 5,500 units at 0.50 take 2,750; the rest of the 50,000 is taken at the full price
    money = week(line, baked=55_500, sold_full=47_250, sold_reduced=5_500, disposed=2_750)
    assert money.net_sales[0] == pytest.approx(50_000)
    assert shrink_at_retail(money)[0] == pytest.approx(5_500)
    maintained = share_pct(money.net_sales - money.dough, money.net_sales)
    assert maintained[0] == pytest.approx(35.0, abs=1e-9)


def test_a_share_of_nothing_is_no_number() -> None:
    """A line that sold nothing has no shrink in percent of its sales; no warning either."""
    money = week(line_of(1.0, 0.4), disposed=3)
    assert np.isnan(shrink_at_retail_pct_of_net_sales(money))
    assert share_pct([1.0, 2.0], [0.0, 8.0]).tolist()[1] == 25.0
