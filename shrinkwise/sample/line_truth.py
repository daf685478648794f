"""What is true of one line of the sample store, said in full so that answers can be judged."""

from dataclasses import dataclass
from datetime import date, timedelta

from shrinkwise.profile.line import Line

EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)


@dataclass(frozen=True)
class Promotion:
    """A lower price for some days.

    Attributes
    ----------
    start : date
    n_days : int
        Length [days].
    unit_price : float
        [money per unit].
    """

    start: date
    n_days: int
    unit_price: float

    @property
    def days(self) -> tuple[date, ...]:
        """The days on which the promotion holds."""
        return tuple(self.start + timedelta(days=i) for i in range(self.n_days))


@dataclass(frozen=True)
class PriceChange:
    """A lasting change to the present price: `day` is the first day at it, `before` the older
    price [money per unit]."""

    day: date
    before: float


@dataclass(frozen=True)
class Habit:
    """How the store decides on a batch today, good or bad.

    Attributes
    ----------
    bake_weekdays : tuple of int
        Monday 0 to Sunday 6.
    factor : float
        The batch aims at this multiple of the demand expected until the next bake.
    credit : float
        Share of the units on hand that is taken off, 0 to 1.
    noise : float
        Standard deviation of the log of the baker's misjudgement.
    foresight : float
        Share of the log effect of holidays, local events and promotions that is foreseen.
    """

    bake_weekdays: tuple[int, ...] = EVERY_DAY
    factor: float = 1.1
    credit: float = 0.7
    noise: float = 0.08
    foresight: float = 0.6


@dataclass(frozen=True)
class OtherKinds:
    """Shoppers who take neither the oldest nor the freshest units whatever they are.

    Attributes
    ----------
    fussy_share : float
        Share of shoppers who take the freshest unit, but none after `fussy_until_day`.
    fussy_until_day : int
        Day on shelf.
    switching_share : float
        Share of shoppers who take a reduced unit where there is one, else the freshest.
    bargain_uplift : float
        Shoppers who come for reduced units alone, as a multiple of the mean demand of the day.
    in_any_order : bool
        Shoppers of a day come in any order; else kind by kind, in that of `Shoppers.of_day`.
    """

    fussy_share: float = 0.0
    fussy_until_day: int = 1
    switching_share: float = 0.0
    bargain_uplift: float = 0.0
    in_any_order: bool = False

    @property
    def is_plain(self) -> bool:
        """There are none of them."""
        return not (self.fussy_share or self.switching_share or self.bargain_uplift)


@dataclass(frozen=True)
class LineTruth:
    """A line's settings as the store knows them, and its demand and shoppers as only the
    author does.

    Attributes
    ----------
    settings : Line
        What `store.toml` says of the line; its price is the present one.
    mean_units : float
        Demand at the store's start, mean of the seven weekdays, season and calendar apart
        [units per day].
    weekday_shape : tuple of 7 float
        Monday first, mean 1.
    trend_per_year : float
        Yearly change of the log of the mean.
    season : tuple of 4 float
        cos and sin of the year, cos and sin of the half-year, added to the log of the mean.
    price_elasticity : float
        Change of the log of the mean per log of the price over the price at the start.
    dispersion : float
        alpha of variance = mean + alpha mean^2.
    oldest_first_share : float
        Share of shoppers who take the oldest units.
    kinds : OtherKinds
        Of the rest; by default all take the freshest units.
    habit : Habit
    first_day : date or None
        Day of introduction; None when on sale from the start.
    price_change : PriceChange or None
    promotions : tuple of Promotion
    other_reductions : tuple of Promotion
        Days on which the reduced price is another one.
    """

    settings: Line
    mean_units: float
    weekday_shape: tuple[float, ...]
    trend_per_year: float
    season: tuple[float, float, float, float]
    price_elasticity: float
    dispersion: float
    oldest_first_share: float
    habit: Habit
    first_day: date | None = None
    price_change: PriceChange | None = None
    promotions: tuple[Promotion, ...] = ()
    kinds: OtherKinds = OtherKinds()
    other_reductions: tuple[Promotion, ...] = ()

    def __post_init__(self) -> None:
        if len(self.weekday_shape) != 7 or abs(sum(self.weekday_shape) - 7) > 1e-9:
            raise ValueError(f"weekday_shape of {self.name} must be 7 numbers with mean 1")

    @property
    def name(self) -> str:
        """What the logs call `product`."""
        return self.settings.name

    @property
    def coded_life_days(self) -> int:
        """Shelf life that the store goes by [days]."""
        return self.settings.shelf_life_days

    @property
    def real_life_days(self) -> int:
        """Days on which shoppers take the units [days]; here the date code tells the truth."""
        return self.settings.shelf_life_days

    @property
    def base_price(self) -> float:
        """Price at the store's start [money per unit]."""
        return self.price_change.before if self.price_change else self.settings.price

    def usual_price(self, day: date) -> float:
        """Full price on `day`, promotions apart [money per unit]."""
        if self.price_change and day < self.price_change.day:
            return self.price_change.before
        return self.settings.price

    def reduced_price(self, day: date) -> float:
        """Price of a reduced unit on `day` [money per unit]."""
        for other in self.other_reductions:
            if day in other.days:
                return other.unit_price
        return self.settings.reduced_price or 0.0

    def depth(self, day: date) -> float:
        """Reduction on `day` over the present one; who comes for a bargain grows with it."""
        now = self.settings.reduced_price
        if now is None:
            return 1.0
        return (self.settings.price - self.reduced_price(day)) / (self.settings.price - now)

    def price(self, day: date) -> float:
        """Full price on `day`, promotions included, also those planned [money per unit]."""
        for promotion in self.promotions:
            if day in promotion.days:
                return promotion.unit_price
        return self.usual_price(day)
