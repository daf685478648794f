"""The invented rolls and breads of the sample store."""

from datetime import date

from shrinkwise.profile.line import Line
from shrinkwise.sample.line_truth import Habit, LineTruth, PriceChange, Promotion

EVEN_WEEK = (0.92, 0.90, 0.94, 0.98, 1.10, 1.16, 1.00)
WEEKEND_WEEK = (0.78, 0.72, 0.76, 0.84, 1.16, 1.50, 1.24)
GRILL_WEEK = (0.70, 0.66, 0.74, 0.92, 1.38, 1.56, 1.04)

BREAD_LINES = (
    LineTruth(
        settings=Line(
            name="Burger buns", category="rolls", price=3.99, dough_cost=1.16,
            shelf_life_days=4, reduce_on_day=4, reduced_price=1.99, disposal_cost=0.05,
            pieces_per_unit=8, units_per_pan=3, batch_step=3, filled=False, unit_weight_kg=0.48,
        ),
        mean_units=26.0, weekday_shape=GRILL_WEEK, trend_per_year=0.03,
        season=(-0.28, -0.06, 0.04, 0.00), price_elasticity=-1.5, dispersion=0.09,
        oldest_first_share=0.55,
        habit=Habit(factor=1.25, credit=0.75),
        promotions=(
            Promotion(date(2025, 5, 22), 5, 3.19),
            Promotion(date(2026, 5, 21), 5, 3.19),
        ),
    ),
    LineTruth(
        settings=Line(
            name="Hot dog buns", category="rolls", price=3.79, dough_cost=1.10,
            shelf_life_days=4, reduce_on_day=4, reduced_price=1.89, disposal_cost=0.05,
            pieces_per_unit=8, units_per_pan=3, batch_step=3, filled=False, unit_weight_kg=0.44,
        ),
        mean_units=15.0, weekday_shape=GRILL_WEEK, trend_per_year=-0.04,
        season=(-0.40, -0.08, 0.06, 0.02), price_elasticity=-1.4, dispersion=0.11,
        oldest_first_share=0.45,
        habit=Habit(factor=1.55, credit=0.60),
        promotions=(Promotion(date(2025, 7, 1), 4, 3.09),),
    ),
    LineTruth(
        settings=Line(
            name="Dinner rolls", category="rolls", price=4.29, dough_cost=1.24,
            shelf_life_days=4, reduce_on_day=4, reduced_price=2.15, disposal_cost=0.05,
            pieces_per_unit=12, units_per_pan=2, batch_step=2, filled=False, unit_weight_kg=0.51,
        ),
        mean_units=20.0, weekday_shape=WEEKEND_WEEK, trend_per_year=0.02,
        season=(0.14, -0.10, 0.08, -0.05), price_elasticity=-1.2, dispersion=0.08,
        oldest_first_share=0.60,
        habit=Habit(factor=1.35, credit=0.65),
        promotions=(
            Promotion(date(2025, 11, 20), 7, 3.49),
            Promotion(date(2026, 11, 19), 7, 3.49),
        ),
    ),
    LineTruth(
        settings=Line(
            name="White loaf", category="breads", price=3.29, dough_cost=0.92,
            shelf_life_days=5, reduce_on_day=5, reduced_price=1.65, disposal_cost=0.05,
            pieces_per_unit=1, units_per_pan=6, batch_step=1, filled=False, unit_weight_kg=0.57,
        ),
        mean_units=32.0, weekday_shape=EVEN_WEEK, trend_per_year=-0.03,
        season=(0.05, 0.02, 0.00, 0.00), price_elasticity=-1.1, dispersion=0.05,
        oldest_first_share=0.35,
        habit=Habit(factor=1.75, credit=0.80),
        price_change=PriceChange(date(2025, 9, 8), 3.10),
    ),
    LineTruth(
        settings=Line(
            name="Wheat loaf", category="breads", price=3.69, dough_cost=1.05,
            shelf_life_days=5, reduce_on_day=5, reduced_price=1.85, disposal_cost=0.05,
            pieces_per_unit=1, units_per_pan=6, batch_step=1, filled=False, unit_weight_kg=0.60,
        ),
        mean_units=14.0, weekday_shape=EVEN_WEEK, trend_per_year=0.05,
        season=(0.08, 0.03, 0.00, 0.00), price_elasticity=-1.2, dispersion=0.06,
        oldest_first_share=0.40,
        habit=Habit(factor=1.95, credit=0.65),
        promotions=(Promotion(date(2026, 1, 5), 7, 2.99),),
    ),
    LineTruth(
        settings=Line(
            name="French bread", category="breads", price=2.79, dough_cost=0.72,
            shelf_life_days=1, disposal_cost=0.05,
            pieces_per_unit=1, units_per_pan=6, batch_step=3, filled=False, unit_weight_kg=0.40,
        ),
        mean_units=44.0, weekday_shape=WEEKEND_WEEK, trend_per_year=0.02,
        season=(0.07, 0.00, 0.02, 0.00), price_elasticity=-1.3, dispersion=0.07,
        oldest_first_share=0.50,
        habit=Habit(factor=1.04, credit=0.0, noise=0.06),
        promotions=(Promotion(date(2025, 3, 13), 4, 2.29),),
    ),
    LineTruth(
        settings=Line(
            name="Italian loaf", category="breads", price=3.49, dough_cost=0.95,
            shelf_life_days=2, disposal_cost=0.05,
            pieces_per_unit=1, units_per_pan=6, batch_step=3, filled=False, unit_weight_kg=0.45,
        ),
        mean_units=16.0, weekday_shape=(0.84, 0.82, 0.98, 0.90, 1.12, 1.30, 1.04),
        trend_per_year=0.0,
        season=(0.06, 0.01, 0.01, 0.01), price_elasticity=-1.3, dispersion=0.10,
        oldest_first_share=0.30,
        habit=Habit(factor=1.15, credit=0.65),
    ),
    LineTruth(
        settings=Line(
            name="Kaiser rolls", category="rolls", price=3.69, dough_cost=1.08,
            shelf_life_days=3, reduce_on_day=3, reduced_price=1.85, disposal_cost=0.05,
            pieces_per_unit=6, units_per_pan=4, batch_step=2, filled=False, unit_weight_kg=0.42,
        ),
        mean_units=15.0, weekday_shape=(0.96, 0.94, 0.98, 1.00, 1.06, 1.14, 0.92),
        trend_per_year=-0.05,
        season=(-0.06, 0.02, 0.00, 0.00), price_elasticity=-1.6, dispersion=0.08,
        oldest_first_share=0.70,
        habit=Habit(factor=1.40, credit=0.60),
        promotions=(Promotion(date(2026, 3, 16), 6, 2.95),),
    ),
    LineTruth(
        settings=Line(
            name="Sub rolls", category="rolls", price=3.99, dough_cost=1.18,
            shelf_life_days=3, disposal_cost=0.05,
            pieces_per_unit=6, units_per_pan=4, batch_step=4, filled=False, unit_weight_kg=0.54,
        ),
        mean_units=12.0, weekday_shape=(0.94, 0.92, 0.98, 1.02, 1.20, 1.10, 0.84),
        trend_per_year=0.04,
        season=(-0.10, 0.00, 0.02, 0.00), price_elasticity=-1.5, dispersion=0.12,
        oldest_first_share=0.50,
        habit=Habit(bake_weekdays=(0, 2, 4, 5), factor=0.95, credit=0.90),
    ),
)  # fmt: skip
