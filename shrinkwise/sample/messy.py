"""The sample store with its logs as tills, lists and people leave them: untidy and faulty.

The same invented store as the clean sample, seed by seed: what can be read rightly is equal to
it, what cannot is known, so that a checker can be held against both.
"""

import os
from pathlib import Path

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.files import make_folder, write_file
from shrinkwise.sample.defects import NOT_READ, NOTE, Defect
from shrinkwise.sample.logs import STORE_FILE, refuse_other_records, sample_tables
from shrinkwise.sample.messy_logs import MARKDOWN_HEADERS, messy_logs
from shrinkwise.sample.messy_sales import messy_sales
from shrinkwise.sample.other_names import OTHER_NAMES
from shrinkwise.sample.settings import SCENARIOS, store_toml
from shrinkwise.sample.truth import TRUTH

MESSY_NAME = f"{TRUTH.name}, untidy"
"""Another name than the clean sample's, so that neither is written over the other."""

BROKEN_LINK = ("bakes_2023.csv", "bakes_2023_moved_away.csv")
LINK_OUT = ("disposals_shared.csv", "/etc/hosts")
"""A link and what it points to; the second is there on every system that knows such links."""

FOLDER = "sales_2023.csv"
UNKNOWN_ENDING = "sales_old.pdf"

_BEFORE_LINES = "# One block per line."


def write_messy_sample(folder: Path, seed: int = 1) -> tuple[Defect, ...]:
    """Write the sample store in four dialects with thirty planted defects.

    Parameters
    ----------
    folder : Path
        Made when missing. An older sample of this kind in it is overwritten.
    seed : int
        The same seed writes the same bytes, of the same store as the clean sample's.

    Returns
    -------
    tuple of Defect
        What was planted, and where.

    Raises
    ------
    ShrinkwiseError
        When the folder holds the records of another store or the clean sample, or cannot be
        written, or stands where no symbolic links can be made.
    """
    refuse_other_records(folder, MESSY_NAME)
    make_folder(folder)
    tables = sample_tables(seed)
    sales_files, in_sales = messy_sales(tables["sales"])
    log_files, in_logs = messy_logs(tables)
    # first, so that a sample whose writing was cut short is known as one and can be rewritten
    write_file(folder / STORE_FILE, messy_store_toml())
    for name, data in (sales_files | log_files).items():
        write_file(folder / name, data)
    for name, text in SCENARIOS.items():
        write_file(folder / "scenarios" / name, text)
    return (*in_sales, *in_logs, *_write_odd_files(folder))


def messy_store_toml() -> str:
    """The sample's settings with what the untidy logs need to be understood."""
    text = store_toml().replace(f'name = "{TRUTH.name}"', f'name = "{MESSY_NAME}"')
    for line in TRUTH.lines:
        called = ", ".join(f'"{name}"' for name in OTHER_NAMES[line.name].all)
        block = f'name = "{line.name}"\nalso_called = [{called}]\n'
        if line.first_day:
            block += f"introduced = {line.first_day}\n"
        text = text.replace(f'name = "{line.name}"\n', block)
    own = "\n".join(f'{column} = "{header}"' for column, header in MARKDOWN_HEADERS.items())
    reading = (
        f"[columns.markdowns]         # our own headers\n{own}\n\n"
        "[date_order]                # where a file holds too few days to tell\n"
        'markdowns = "month-day-year"\n\n'
    )
    return text.replace(_BEFORE_LINES, reading + _BEFORE_LINES)


def _write_odd_files(folder: Path) -> list[Defect]:
    """What lies about in such a folder and is no log."""
    make_folder(folder / FOLDER)
    write_file(folder / UNKNOWN_ENDING, b"%PDF-1.4\n%%EOF\n")
    for name, target in (BROKEN_LINK, LINK_OUT):
        _link(folder / name, target)
    return [
        Defect("folder_like_a_log", FOLDER, None, "", NOTE),
        Defect("unknown_ending", UNKNOWN_ENDING, None, "", NOTE),
        Defect("broken_link", BROKEN_LINK[0], None, "", NOT_READ),
        Defect("link_out_of_the_folder", LINK_OUT[0], None, "", NOT_READ),
    ]


def _link(path: Path, target: str) -> None:
    try:
        if path.is_symlink():
            path.unlink()
        os.symlink(target, path)
    except OSError as error:
        raise ShrinkwiseError(
            f"The link {path} cannot be made ({error.strerror}), and the untidy sample needs it. "
            "Name a folder on a disk that knows symbolic links and in which you may write."
        ) from error
