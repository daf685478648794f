"""The files of a comparison."""

from pathlib import Path

from shrinkwise.files import write_files
from shrinkwise.report import study_tables
from shrinkwise.report.comparison_tables import comparison_table, weekly_difference_table
from shrinkwise.report.decision import decision
from shrinkwise.report.decision_page import decision_page
from shrinkwise.report.freezer import freezer_table
from shrinkwise.report.information import information_table
from shrinkwise.report.sheets import Form, csv_text, workbook
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.study import Study


def write_comparison(
    comparison: Comparison, studies: list[Study | None], folder: Path
) -> list[Path]:
    """Write the files of a comparison into `folder`, which is made when it is not there.

    Everything is made before the first file is written, so that a fault leaves the folder as it
    was.

    Returns
    -------
    list of pathlib.Path
        The files written.

    Raises
    ------
    ShrinkwiseError
        When the folder or a file cannot be written.
    """
    return write_files(folder, comparison_contents(comparison, studies))


def comparison_contents(
    comparison: Comparison, studies: list[Study | None]
) -> dict[str, str | bytes]:
    """comparison.csv, break_even.csv, sensitivity.csv, combinations.csv, switch_map.csv,
    weekly_difference.csv, worth_of_knowing.csv and freezer.csv, and a decision sheet per scenario
    in decision_sheets.html and .xlsx."""
    named = named_studies(comparison, studies)
    compared = comparison_table(comparison)
    details = {
        "break_even.csv": study_tables.break_even_table(named),
        "sensitivity.csv": study_tables.swings_table(named),
        "combinations.csv": study_tables.combinations_table(named),
        "switch_map.csv": study_tables.map_table(named),
        "weekly_difference.csv": weekly_difference_table(comparison),
        "worth_of_knowing.csv": information_table(comparison),
        "freezer.csv": freezer_table(comparison),
    }
    forms = {
        f"Decision {index + 1}": _form(comparison, index, study)
        for index, study in enumerate(studies)
    }
    sheets = {
        "Comparison": compared,
        "Break-even": details["break_even.csv"],
        "Single weeks": details["weekly_difference.csv"],
        "Worth of knowing": details["worth_of_knowing.csv"],
        "Freezer": details["freezer.csv"],
    }
    return {
        "comparison.csv": csv_text(compared),
        **{name: csv_text(table, study_tables.DECIMALS) for name, table in details.items()},
        "decision_sheets.html": decision_page(comparison, studies),
        "decision_sheets.xlsx": workbook(sheets, comparison.start, forms),
    }


def _form(comparison: Comparison, index: int, study: Study | None) -> Form:
    said = decision(comparison, index, study)
    form = [("Store", comparison.store.name), ("Question", said.question)]
    for heading, sentences in said.sections:
        form += [
            (heading if place == 0 else "", sentence) for place, sentence in enumerate(sentences)
        ]
    return [*form, ("Decided (switch or stay)", ""), ("From (date)", ""), ("Name, signature", "")]


def named_studies(
    comparison: Comparison, studies: list[Study | None]
) -> list[study_tables.NamedStudy]:
    """The studies that there are, each with the name of its scenario."""
    named = zip(comparison.scenarios, studies, strict=True)
    return [(scenario.name, study) for scenario, study in named if study is not None]
