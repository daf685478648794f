"""The sample store's settings as text: `store.toml` and five scenarios."""

from shrinkwise.profile.line import Line
from shrinkwise.sample.truth import TRUTH, StoreTruth

_STORE_TOML = """\
# An invented store. Every figure in this folder is made up; no real store, product or person
# stands behind it. Change what you like and run again.

name = "{name}"
currency = "{currency}"
country = "{country}"          # whose public holidays the calendar knows
week_start = "monday"
open_days = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
# in_stock_floor_pct = 90     # least share of open days on which no shopper may go without
# demand_after_count_pct = 30 # where the shelf is counted before close: what is still to come

[labour]
wage_per_hour = 26.40         # money per hour: the wage with payroll tax and benefits on top
minutes_per_bake = 8          # set-up of one line on one day: pull, proof, watch, note
minutes_per_pan = 2           # panning, loading and unloading one sheet pan
minutes_per_unit = 0.4        # cooling, bagging and dating one unit
minutes_per_reduced_unit = 0.3
minutes_per_disposed_unit = 0.3
minutes_per_baking_day = 35   # heating the oven and cleaning up, whatever is baked

# What all lines share on a day: a number for every weekday, or a table by weekday, of which one
# that is not named has no limit. Leave out what is no limit, or the whole table.
[capacity]
oven_loads = 11               # loads of the oven
pans_per_oven_load = 12
proofer_pans = 144
rack_slots = 140              # a slot holds a pan
staffed_hours = 10            # or, say, {{ friday = 10, saturday = 11.5 }}

# One block per line. price, dough_cost, reduced_price and disposal_cost are per unit.
# shelf_life_days counts the bake day; batches are whole multiples of batch_step units.
# A line may also have min_batch, max_batch (units a bake), no_bake_days = ["sunday"],
# in_stock_floor_pct, also_called = ["4711"] (codes and other names), introduced = 2026-03-02, and
# of its frozen dough case_units (units in a case), freezer_weeks (that a case keeps) and
# min_order_cases.
"""

_LONGER_LIFE = """\
# A dough that keeps two days longer and costs more a unit: does it pay?
name = "Italian loaf from a four-day dough"

[[changes]]
line = "Italian loaf"
shelf_life_days = 4
reduce_on_day = 4
reduced_price = 1.75
dough_cost = 1.12
# fussy_pct = 30              # of its shoppers would take none after day 2, as long as it keeps now
"""

_CHEAPER_DOUGH = """\
# A cheaper dough that keeps one day less: is the saving eaten up by what is thrown?
name = "White loaf from a cheaper dough"

[[changes]]
line = "White loaf"
shelf_life_days = 4
reduce_on_day = 4
dough_cost = 0.81
"""

_LONGER_LIFE_ROLLS = """\
# Another supplier for all rolls: a day longer, four cents more a unit, and what the change costs
# once. A shopper or two may not like the new rolls: the demand is 98% of now, give or take 2.
name = "Rolls from another supplier"
one_off_cost = 260.0          # labels, a morning of training, running out of the old dough

[[changes]]
category = "rolls"
extra_days = 1                # or shelf_life_days, the new life itself
extra_cost = 0.04             # or dough_cost, the new cost itself
demand_factor = 0.98
demand_factor_sd = 0.02
"""

_DEARER_HOURS = """\
# No new dough, but dearer hours and a dearer bin: what becomes of the week?
name = "Dearer hours and a dearer bin"

[labour]
wage_per_hour = 28.50         # any setting of [labour] in store.toml

[[changes]]
all = true
disposal_cost = 0.12
"""

_NEW_LINE = """\
# A line that the store has never sold, in place of another: it borrows its demand from the wheat
# loaf, half of it, give or take a tenth. One wheat loaf in twenty would not be bought any more.
name = "Seeded loaf in place of the raisin loaf"
one_off_cost = 120.0

[[new_lines]]
name = "Seeded loaf"
category = "breads"
price = 5.29
dough_cost = 1.38
shelf_life_days = 4
reduce_on_day = 4
reduced_price = 2.65
disposal_cost = 0.05
pieces_per_unit = 1
units_per_pan = 6
batch_step = 3
filled = false
unit_weight_kg = 0.65
case_units = 24               # units in a case of frozen dough
freezer_weeks = 12            # that a case keeps in the store's freezer
borrows_line = "Wheat loaf"   # or borrows_category = "breads": the mean of its lines
demand_factor = 0.50
demand_factor_sd = 0.10
replaces = "Raisin loaf"      # leave it out, and no line ends

[[changes]]
line = "Wheat loaf"
demand_factor = 0.95
"""

SCENARIOS = {
    "longer_life_dough.toml": _LONGER_LIFE,
    "cheaper_dough.toml": _CHEAPER_DOUGH,
    "longer_life_rolls.toml": _LONGER_LIFE_ROLLS,
    "dearer_hours.toml": _DEARER_HOURS,
    "new_line.toml": _NEW_LINE,
}
"""File name -> text of each scenario."""


def store_toml(store: StoreTruth = TRUTH) -> str:
    """The text of `store.toml`.

    Parameters
    ----------
    store : StoreTruth
    """
    head = _STORE_TOML.format(name=store.name, currency=store.currency, country=store.country)
    return "\n".join([head, *(_line_block(line.settings) for line in store.lines)])


def _line_block(line: Line) -> str:
    rows = ["[[lines]]", f'name = "{line.name}"', f'category = "{line.category}"']
    rows += [f"price = {line.price:.2f}", f"dough_cost = {line.dough_cost:.2f}"]
    rows.append(f"shelf_life_days = {line.shelf_life_days}")
    if line.reduce_on_day is not None:
        rows.append(f"reduce_on_day = {line.reduce_on_day}")
        rows.append(f"reduced_price = {line.reduced_price:.2f}")
    rows.append(f"disposal_cost = {line.disposal_cost:.2f}")
    rows += [f"pieces_per_unit = {line.pieces_per_unit}", f"units_per_pan = {line.units_per_pan}"]
    rows += [f"batch_step = {line.batch_step}", f"filled = {str(bool(line.filled)).lower()}"]
    if line.unit_weight_kg is not None:
        rows.append(f"unit_weight_kg = {line.unit_weight_kg:.2f}")
    return "\n".join(rows) + "\n"
