"""How tills and spreadsheets of four languages spell days, hours, numbers and yes or no."""

MINUTE = 35
MONTHS = {
    "en": "January February March April May June July August September October November December",
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre "
    "diciembre",
}
SHORT_MONTHS = {
    "en": "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec",
    "de": "Jan Feb Mrz Apr Mai Jun Jul Aug Sep Okt Nov Dez",
    "fr": "janv févr mars avr mai juin juil août sept oct nov déc",
    "es": "ene feb mar abr may jun jul ago sept oct nov dic",
}
WEEKDAYS = {"en": "Mon Tue Wed Thu Fri Sat Sun", "de": "Mo Di Mi Do Fr Sa So"}
ALSO_SUNDAY = ("Di", "Do")
"""Tuesday and Thursday in German, which begin dimanche and domingo as well."""

NAMED_DATES = ("{d} {m} {y}", "{d:02}-{m}-{y}", "{d}. {m} {y}", "{m} {d}, {y}", "{d} de {m} de {y}")
CLOCKS = (" {h:02}:{n}", "T{h:02}:{n}:00", ", {h12}:{n} {half}", " {h}:{n}:07")
HOURS = ("{h}", "{h:02}:{n}", "{h12} {half}", "{h}h", "{h:02}:00-{h:02}:59", "{h} Uhr")
FLAGS = (("yes", "no"), ("1", "0"), ("Ja", "Nein"), ("oui", "non"), ("sí", "no"), ("TRUE", "FALSE"))
THOUSANDS = ("", ".", ",", " ", "\u00a0", "\u202f", "\u2009", "'", "’")
CURRENCIES = ("%", "$%", "€%", "EUR %", "% €", "% USD", "kr %", "%£")
SIGNS = ("-%", "%-", "(%)", "\u2212%")
