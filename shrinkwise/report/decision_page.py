"""Decision sheets: a page each that a manager can read in two minutes and sign."""

from html import escape

from shrinkwise.report import switch_charts
from shrinkwise.report.charts import svg
from shrinkwise.report.comparison_tables import comparison_measures
from shrinkwise.report.decision import Decision, decision
from shrinkwise.report.html import STYLE, page, section, table_html
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.study import Study, SwitchStudy
from shrinkwise.version import VERSION

_STYLE = (
    STYLE
    + """
article{break-after:page}
article:last-child{break-after:auto}
ul{margin:.2rem 0;padding-left:1.1rem}
.beside{display:grid;grid-template-columns:1.2fr 1fr;gap:.8rem;align-items:start}
.sign td{border:1px solid #ddd6c8;height:2.2rem;text-align:left}
@media print{
  body{font-size:11px;line-height:1.35}
  h1{font-size:16px}h2{font-size:13px}.lead{font-size:14px}
  svg{max-height:5.5cm;width:100%}
}
"""
)


def decision_page(comparison: Comparison, studies: list[Study | None]) -> str:
    """A page of one sheet per scenario."""
    sheets = [
        _sheet(comparison, index, study, decision(comparison, index, study))
        for index, study in enumerate(studies)
    ]
    return page(f"Decision sheets, {comparison.store.name}", sheets, _STYLE)


def _sheet(comparison: Comparison, index: int, study: Study | None, said: Decision) -> str:
    store, settings = comparison.store, comparison.footing.settings
    parts = [
        f"<h1>{escape(store.name)}: decision on {escape(comparison.asked[index].name)}</h1>",
        f"<p>{escape(said.question)}</p>",
        f'<p class="lead"><b>{escape(said.answer)}</b></p>',
    ]
    for heading, sentences in said.sections[1:]:
        parts.append(section(heading, _listed(sentences)))
        if heading == "Three figures behind it":
            measures = comparison_measures(comparison, index, under_habit=False)
            parts.append(table_html(measures))
        if heading == "What would change it" and isinstance(study, SwitchStudy):
            bars = svg(switch_charts.swing_bars(study, store.currency))
            offers = svg(switch_charts.offer_map(study, store.currency))
            parts.append(f'<div class="beside"><div>{bars}</div><div>{offers}</div></div>')
    parts.append(_SIGNED)
    parts.append(
        f'<p class="note">shrinkwise {escape(VERSION)}, seed {settings.seed}, '
        f"{settings.judge_paths} futures of {settings.weeks} weeks from {comparison.start}, "
        f"records {comparison.fingerprint[:12]}. The year is 52 such weeks.</p>"
    )
    return f"<article>{''.join(parts)}</article>\n"


_SIGNED = (
    '<table class="sign"><tr><td>Decided: &#9744; switch &#9744; stay</td><td>From (date):</td>'
    "<td>Name and signature:</td></tr></table>"
)


def _listed(sentences: tuple[str, ...]) -> str:
    return "<ul>" + "".join(f"<li>{escape(one)}</li>" for one in sentences) + "</ul>"
