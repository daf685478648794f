"""Words that name a column, in English, German, French and Spanish."""

import re
import unicodedata

_DATE = (
    *("date", "day", "business date", "business day", "sales date", "posting date"),
    *("datum", "tag", "verkaufsdatum", "buchungsdatum", "belegdatum", "geschaftstag"),
    *("jour", "date de vente", "fecha", "dia", "fecha de venta"),
)
_PRODUCT = (
    *("product", "product name", "item", "item name", "article", "line", "description"),
    *("product code", "item code", "item number", "gtin", "ean", "upc", "plu", "sku"),
    *("artikel", "artikelname", "artikelbezeichnung", "produkt", "bezeichnung", "ware"),
    *("artikelnummer", "produit", "designation", "libelle", "code article"),
    *("producto", "articulo", "descripcion", "codigo", "codigo de articulo"),
)
_UNITS = (
    *("units", "qty", "quantity", "pieces", "count", "units sold", "qty sold", "sold"),
    *("quantity sold", "menge", "stuck", "anzahl", "stuckzahl", "verkaufte menge"),
    *("quantite", "unites", "nombre", "qte", "quantite vendue", "unites vendues"),
    *("cantidad", "unidades", "cant", "uds", "cantidad vendida", "unidades vendidas"),
)
_MONEY = (
    *("net sales", "net", "net amount", "net revenue", "revenue", "amount", "sales", "net value"),
    *("sales amount", "umsatz", "netto", "nettoumsatz", "umsatz netto", "betrag", "erlos"),
    *("nettobetrag", "montant", "montant net", "chiffre d affaires", "ventes nettes", "ca net"),
    *("ventes", "importe", "importe neto", "ventas", "ventas netas", "neto"),
)
_PRICE = (
    *("unit price", "price", "reduced price", "new price", "price per unit"),
    *("preis", "stuckpreis", "einzelpreis", "reduzierter preis", "neuer preis"),
    *("prix", "prix unitaire", "prix reduit", "nouveau prix"),
    *("precio", "precio unitario", "precio rebajado", "precio nuevo"),
)
_BAKE_DATE = (
    *("bake date", "baked", "baked on", "production date", "pack date"),
    *("backdatum", "backtag", "gebacken am", "herstelldatum", "produktionsdatum"),
    *("date de cuisson", "cuit le", "date de production"),
    *("fecha de horneado", "horneado el", "fecha de produccion"),
)

SYNONYMS: dict[str, dict[str, tuple[str, ...]]] = {
    "sales": {
        "date": _DATE,
        "product": _PRODUCT,
        "units": _UNITS,
        "net_sales": _MONEY,
        "hour": (
            *("hour", "time", "hour of day", "stunde", "uhrzeit", "zeit"),
            *("heure", "hora"),
        ),
        "reduced": (
            *("reduced", "marked down", "markdown", "is reduced", "reduziert", "rabattiert"),
            *("reduit", "demarque", "rebajado", "reducido"),
        ),
        "void": (
            *("void", "voided", "cancelled", "canceled", "storno", "storniert"),
            *("annule", "annulation", "anulado", "anulada"),
        ),
    },
    "markdowns": {
        "date": _DATE,
        "product": _PRODUCT,
        "units": (*_UNITS, "units reduced", "reduced units"),
        "unit_price": _PRICE,
        "bake_date": _BAKE_DATE,
    },
    "disposals": {
        "date": _DATE,
        "product": _PRODUCT,
        "units": (*_UNITS, "waste", "disposed", "thrown", "abschrift", "jete", "perdu", "merma"),
        "reason": ("reason", "reason code", "why", "grund", "motif", "raison", "motivo", "razon"),
        "bake_date": _BAKE_DATE,
    },
    "bakes": {
        "date": (*_DATE, *_BAKE_DATE),
        "product": _PRODUCT,
        "units": (*_UNITS, "batch", "units baked", "gebacken", "cuits", "horneado"),
    },
    "counts": {
        "date": (*_DATE, "count date"),
        "product": _PRODUCT,
        "units": (
            *_UNITS,
            "left",
            "left over",
            "stock",
            "on hand",
            "bestand",
            "reste",
            "stock final",
        ),
        "bake_date": _BAKE_DATE,
    },
    "events": {
        "date": _DATE,
        "product": _PRODUCT,
        "kind": ("kind", "event", "type", "art", "ereignis", "evenement", "tipo", "evento"),
        "unit_price": (*_PRICE, "promotion price", "aktionspreis", "prix promo", "precio oferta"),
    },
}

_TOTALS = (
    *("total", "totals", "grand total", "subtotal", "sub total", "sum", "overall"),
    *("summe", "gesamt", "gesamtsumme", "zwischensumme", "endsumme"),
    *("total general", "sous total", "somme", "totaux", "totale"),
    *("suma", "total general", "totales", "subtotales"),
)


LONGEST_HEADER = 200
"""Letters beyond which a cell is no header, whatever it holds."""


def normal(text: str) -> str:
    """A text without case, accents, punctuation and double spaces: how headers are compared."""
    if text.isascii():
        return re.sub(r"[^a-z0-9]+", " ", text.lower()).strip()
    plain = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(mark for mark in plain if not unicodedata.combining(mark))
    return re.sub(r"[^a-z0-9]+", " ", letters).strip()


def is_total(text: str) -> bool:
    """Whether a cell says that its row or column holds totals."""
    words = normal(text)
    return words in _TOTALS or words.removesuffix(" eur").removesuffix(" usd") in _TOTALS


_COLUMN_OF = {
    table: {word: column for column, words in columns.items() for word in (*words, normal(column))}
    for table, columns in SYNONYMS.items()
}


def house_column(header: str, table: str) -> str | None:
    """The house's column that a header names by a plain word, if it does.

    Units in brackets and currency signs behind the word do not matter: "Umsatz (EUR)".
    """
    if len(header) > LONGEST_HEADER:
        return None
    known = _COLUMN_OF[table]
    words = normal(header)
    bare = normal(re.sub(r"[(\[].*?[)\]]", " ", header))
    return (
        known.get(words) or known.get(bare) or known.get(re.sub(r" (eur|usd|gbp|chf)$", "", words))
    )
