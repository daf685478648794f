"""The files of a comparison."""

from pathlib import Path

from shrinkwise.files import make_folder, write_file
from shrinkwise.report import study_tables
from shrinkwise.report.comparison_tables import comparison_table
from shrinkwise.report.sheets import csv_text
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.study import SwitchStudy


def write_comparison(
    comparison: Comparison, studies: list[SwitchStudy | None], folder: Path
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
    contents = comparison_contents(comparison, studies)
    make_folder(folder)
    return [write_file(folder / name, content) for name, content in contents.items()]


def comparison_contents(
    comparison: Comparison, studies: list[SwitchStudy | None]
) -> dict[str, str | bytes]:
    """comparison.csv, break_even.csv, sensitivity.csv and switch_map.csv."""
    named = named_studies(comparison, studies)
    return {
        "comparison.csv": csv_text(comparison_table(comparison)),
        "break_even.csv": csv_text(study_tables.break_even_table(named), study_tables.DECIMALS),
        "sensitivity.csv": csv_text(study_tables.swings_table(named), study_tables.DECIMALS),
        "switch_map.csv": csv_text(study_tables.map_table(named), study_tables.DECIMALS),
    }


def named_studies(
    comparison: Comparison, studies: list[SwitchStudy | None]
) -> list[study_tables.NamedStudy]:
    """The studies that there are, each with the name of its scenario."""
    named = zip(comparison.scenarios, studies, strict=True)
    return [(scenario.name, study) for scenario, study in named if study is not None]
