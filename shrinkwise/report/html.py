"""Pieces of a self-contained HTML page that prints on paper."""

from collections.abc import Iterable
from html import escape

import polars as pl

from shrinkwise.report.cells import cell_text
from shrinkwise.report.labels import label

STYLE = """
body{font:14px/1.4 system-ui,sans-serif;color:#22262b;max-width:60rem;margin:1.5rem auto;
  padding:0 1rem}
h1{font-size:1.5rem;margin:0}
h2{font-size:1.1rem;margin:1.4rem 0 .3rem}
.lead{font-size:1.25rem;margin:.3rem 0 .2rem}
.note{color:#5c5850;margin:.2rem 0}
table{border-collapse:collapse;width:100%}
td,th{padding:.15rem .45rem;border-bottom:1px solid #ddd6c8;text-align:right;vertical-align:top}
th{background:#f3eee4;font-weight:600}
td:first-child,th:first-child,td.text,th.text{text-align:left}
.caution{border-left:4px solid #a63d2f;padding:.1rem .6rem;margin:.3rem 0}
svg{max-width:100%;height:auto}
tr,svg,.caution{break-inside:avoid}
h2{break-after:avoid}
td:first-child{white-space:nowrap}
summary{cursor:pointer;margin:1rem 0 .3rem}
details{overflow-x:auto;font-size:12px}
details td{white-space:nowrap}
@media print{
  details{display:none}
  body{font-size:9.5px;margin:0;max-width:none;padding:0}
  h1{font-size:15px}h2{font-size:12px;margin:.5rem 0 .2rem}.lead{font-size:13px}
  td,th{padding:.03rem .3rem}svg{max-height:7cm}
  @page{margin:11mm}
}
"""


def page(title: str, sections: Iterable[str], style: str = STYLE) -> str:
    """A whole self-contained page of sections; the title is plain text."""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{escape(title)}</title><style>{style}</style></head>"
        f"<body>\n{''.join(sections)}\n</body></html>\n"
    )


def section(title: str, content: str) -> str:
    """Content, which is HTML, below its title, which is plain text; without one if it is empty."""
    heading = f"<h2>{escape(title)}</h2>" if title else ""
    return f"<section>{heading}{content}</section>\n"


def table_html(table: pl.DataFrame) -> str:
    """A table: text to the left, numbers with two decimals to the right, a dash for nothing."""
    texts = {name for name, kind in table.schema.items() if kind == pl.String}
    return (
        f"<table><tr>{_row('th', ((n, label(n)) for n in table.columns), texts)}</tr>"
        + "".join(
            f"<tr>{_row('td', zip(table.columns, map(cell_text, row), strict=True), texts)}</tr>"
            for row in table.iter_rows()
        )
        + "</table>"
    )


def _row(tag: str, cells: Iterable[tuple[str, str]], texts: set[str]) -> str:
    return "".join(
        f"<{tag}{' class=text' if name in texts else ''}>{escape(cell)}</{tag}>"
        for name, cell in cells
    )
