"""The invented breakfast and sweet lines of the sample store."""

from datetime import date

from shrinkwise.profile.line import Line
from shrinkwise.sample.line_truth import Habit, LineTruth, Promotion

BREAKFAST_WEEK = (0.80, 0.74, 0.78, 0.84, 1.02, 1.52, 1.30)
TREAT_WEEK = (0.72, 0.70, 0.78, 0.86, 1.14, 1.44, 1.36)
STEADY_WEEK = (0.96, 0.94, 0.96, 0.98, 1.06, 1.10, 1.00)

SWEET_LINES = (
    LineTruth(
        settings=Line(
            name="Bagels", category="breakfast", price=4.49, dough_cost=1.32,
            shelf_life_days=3, reduce_on_day=3, reduced_price=2.25, disposal_cost=0.05,
            pieces_per_unit=6, units_per_pan=4, batch_step=2, filled=False, unit_weight_kg=0.62,
        ),
        mean_units=18.0, weekday_shape=BREAKFAST_WEEK, trend_per_year=0.04,
        season=(0.05, -0.02, 0.00, 0.02), price_elasticity=-1.4, dispersion=0.07,
        oldest_first_share=0.65,
        habit=Habit(factor=1.25, credit=0.75),
        promotions=(
            Promotion(date(2025, 1, 16), 4, 3.59),
            Promotion(date(2026, 4, 9), 4, 3.59),
        ),
    ),
    LineTruth(
        settings=Line(
            name="Cinnamon rolls", category="sweet", price=5.49, dough_cost=1.78,
            shelf_life_days=4, reduce_on_day=3, reduced_price=2.75, disposal_cost=0.06,
            pieces_per_unit=4, units_per_pan=6, batch_step=1, filled=False, unit_weight_kg=0.50,
        ),
        mean_units=11.0, weekday_shape=TREAT_WEEK, trend_per_year=0.06,
        season=(0.12, -0.05, 0.03, 0.00), price_elasticity=-1.7, dispersion=0.10,
        oldest_first_share=0.45,
        habit=Habit(factor=1.40, credit=0.65, noise=0.12),
        promotions=(Promotion(date(2025, 10, 9), 4, 4.39),),
    ),
    LineTruth(
        settings=Line(
            name="Cheese danish", category="sweet", price=5.99, dough_cost=2.05,
            shelf_life_days=3, reduce_on_day=3, reduced_price=2.99, disposal_cost=0.06,
            pieces_per_unit=4, units_per_pan=6, batch_step=1, filled=True, unit_weight_kg=0.38,
        ),
        mean_units=7.5, weekday_shape=TREAT_WEEK, trend_per_year=0.05,
        season=(0.04, -0.03, 0.00, 0.00), price_elasticity=-1.6, dispersion=0.11,
        oldest_first_share=0.60,
        habit=Habit(bake_weekdays=(1, 3, 4, 5, 6), factor=1.15, credit=0.80, noise=0.12),
        first_day=date(2025, 10, 6),
    ),
    LineTruth(
        settings=Line(
            name="Croissants", category="breakfast", price=5.29, dough_cost=1.85,
            shelf_life_days=2, disposal_cost=0.05,
            pieces_per_unit=4, units_per_pan=4, batch_step=2, filled=False, unit_weight_kg=0.30,
        ),
        mean_units=22.0, weekday_shape=BREAKFAST_WEEK, trend_per_year=0.03,
        season=(0.06, 0.00, 0.02, -0.02), price_elasticity=-1.5, dispersion=0.08,
        oldest_first_share=0.50,
        habit=Habit(factor=1.10, credit=0.70),
        promotions=(Promotion(date(2026, 2, 12), 3, 4.19),),
    ),
    LineTruth(
        settings=Line(
            name="Custard eclairs", category="sweet", price=6.49, dough_cost=2.35,
            shelf_life_days=2, disposal_cost=0.08,
            pieces_per_unit=2, units_per_pan=10, batch_step=1, filled=True, unit_weight_kg=0.22,
        ),
        mean_units=6.0, weekday_shape=TREAT_WEEK, trend_per_year=0.0,
        season=(0.06, 0.02, 0.00, 0.00), price_elasticity=-1.8, dispersion=0.13,
        oldest_first_share=0.40,
        habit=Habit(factor=1.15, credit=0.70, noise=0.12),
    ),
    LineTruth(
        settings=Line(
            name="Raisin loaf", category="breads", price=4.99, dough_cost=1.45,
            shelf_life_days=6, reduce_on_day=6, reduced_price=2.49, disposal_cost=0.05,
            pieces_per_unit=1, units_per_pan=6, batch_step=3, filled=False, unit_weight_kg=0.65,
        ),
        mean_units=2.2, weekday_shape=STEADY_WEEK, trend_per_year=-0.02,
        season=(0.10, 0.00, 0.00, 0.00), price_elasticity=-0.9, dispersion=0.0,
        oldest_first_share=0.80,
        habit=Habit(bake_weekdays=(1, 4), factor=1.15, credit=0.80, noise=0.10),
    ),
    LineTruth(
        settings=Line(
            name="Spiced festive loaf", category="sweet", price=7.49, dough_cost=2.60,
            shelf_life_days=6, reduce_on_day=5, reduced_price=3.75, disposal_cost=0.06,
            pieces_per_unit=1, units_per_pan=6, batch_step=3, filled=False, unit_weight_kg=0.75,
        ),
        mean_units=3.5, weekday_shape=TREAT_WEEK, trend_per_year=0.0,
        season=(0.80, -0.30, 0.30, -0.24), price_elasticity=-1.4, dispersion=0.06,
        oldest_first_share=0.90,
        habit=Habit(bake_weekdays=(0, 2, 4), factor=1.05, credit=0.60, noise=0.12),
        promotions=(Promotion(date(2025, 12, 15), 5, 5.95),),
    ),
)  # fmt: skip
