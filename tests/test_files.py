"""A folder that cannot be written to is refused before the work, and leaves nothing behind."""

from pathlib import Path

import pytest

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.files import require_folder

PROC = Path("/proc")


def refused(folder: Path) -> str:
    with pytest.raises(ShrinkwiseError) as refusal:
        require_folder(folder)
    return str(refusal.value)


def test_what_can_be_made_is_not_made_yet(tmp_path: Path) -> None:
    require_folder(tmp_path / "deep" / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_there_stays_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "plan.json").write_text("of last week", encoding="utf-8")
    require_folder(tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["plan.json"]


def test_an_empty_folder_is_not_removed(tmp_path: Path) -> None:
    require_folder(tmp_path)
    assert tmp_path.is_dir()


def test_a_file_is_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    assert "is a file" in refused(tmp_path / "file")
    assert "cannot be made (Not a directory)" in refused(tmp_path / "file" / "sub" / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_a_name_that_is_too_long_leaves_no_part_of_it(tmp_path: Path) -> None:
    assert "cannot be made" in refused(tmp_path / "deep" / ("out" * 100))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not PROC.is_dir(), reason="no /proc, where nobody may write")
def test_a_place_where_nobody_may_write() -> None:
    assert "cannot be made" in refused(PROC / "nope")
    assert "can be written" in refused(PROC)
