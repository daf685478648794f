"""What the sample store's tills and exports call its lines: codes, trade item numbers, names."""

from dataclasses import dataclass

from shrinkwise.sample.truth import TRUTH

_FIRST_CODE = 411


@dataclass(frozen=True)
class OtherNames:
    """The other names of one line.

    Attributes
    ----------
    code : str
        The till's own number, four digits with the zeros before it.
    german, french : str
    """

    code: str
    german: str
    french: str

    @property
    def gtin(self) -> str:
        """A trade item number of 13 digits.

        It begins with 200: numbers from 200 to 299 are left to each company for use inside its
        own walls (GS1 General Specifications, restricted circulation numbers; from memory), so
        that none of these can be a real product's.
        """
        return with_check_digit(f"20000000{self.code}")

    @property
    def all(self) -> tuple[str, ...]:
        """All of them, as `also_called` lists them."""
        return self.code, self.gtin, self.german, self.french


def with_check_digit(digits: str) -> str:
    """`digits` with the check digit behind them that makes them a trade item number.

    GS1 General Specifications, standard check digit calculation: from the right, digits count
    three times and once in turn; the check digit fills up to a multiple of ten.

    Parameters
    ----------
    digits : str
    """
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return f"{digits}{-total % 10}"


_GERMAN_AND_FRENCH = {
    "Burger buns": ("Hamburgerbrötchen", "Pains à burger"),
    "Hot dog buns": ("Hotdogbrötchen", "Pains à hot-dog"),
    "Dinner rolls": ("Tafelbrötchen", "Petits pains"),
    "White loaf": ("Weißbrot", "Pain de mie"),
    "Wheat loaf": ("Weizenvollkornbrot", "Pain complet"),
    "French bread": ("Stangenweißbrot", "Pain long"),
    "Italian loaf": ("Italienisches Brot", "Pain italien"),
    "Kaiser rolls": ("Kaisersemmeln", "Petits pains ronds"),
    "Sub rolls": ("Langbrötchen", "Pains longs à sandwich"),
    "Bagels": ("Kringel", "Bagels nature"),
    "Cinnamon rolls": ("Zimtschnecken", "Roulés à la cannelle"),
    "Cheese danish": ("Quarkplunder", "Danoises au fromage"),
    "Croissants": ("Buttercroissants", "Croissants au beurre"),
    "Custard eclairs": ("Vanille-Eclairs", "Éclairs à la vanille"),
    "Raisin loaf": ("Rosinenbrot", "Pain aux raisins"),
    "Spiced festive loaf": ("Gewürzbrot", "Pain d'épices de fête"),
}

OTHER_NAMES = {
    line.name: OtherNames(f"{_FIRST_CODE + number:04d}", *_GERMAN_AND_FRENCH[line.name])
    for number, line in enumerate(TRUTH.lines)
}
"""By line name."""
