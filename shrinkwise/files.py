"""Files are written beside their place and renamed into it, so none is ever half-written."""

import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from shrinkwise.errors import ShrinkwiseError


def make_folder(folder: Path) -> Path:
    """Create `folder` with its parents, or say why it cannot be.

    Raises
    ------
    ShrinkwiseError
        When a file of that name is in the way or the place cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ShrinkwiseError(
            f"The folder {folder} cannot be made ({error.strerror}). "
            "Name a folder in a place where you may write."
        ) from error
    return folder


def require_folder(folder: Path) -> None:
    """Refuse early what could not be written to in the end; what is made to find out is removed
    again.

    Raises
    ------
    ShrinkwiseError
        When a file of that name is in the way, or the place cannot be written.
    """
    if os.path.exists(folder) and not os.path.isdir(folder):
        raise ShrinkwiseError(f"{folder} is a file. Name a folder for what is to be written.")
    missing = [place for place in (folder, *folder.parents) if not os.path.exists(place)]
    try:
        with tempfile.TemporaryFile(dir=make_folder(folder)):
            pass
    except OSError as error:
        raise ShrinkwiseError(
            f"Nothing can be written to {folder} ({error.strerror}). "
            "Name a folder in a place where you may write."
        ) from error
    finally:
        for place in missing:
            # not made, or by now in use by someone else
            with suppress(OSError):
                place.rmdir()


def write_files(folder: Path, contents: Mapping[str, str | bytes]) -> list[Path]:
    """Write each content to the file of its name in `folder`, which is made when it is not there.

    Raises
    ------
    ShrinkwiseError
        When the folder or a file cannot be written.
    """
    make_folder(folder)
    return [write_file(folder / name, content) for name, content in contents.items()]


def write_file(path: Path, content: str | bytes) -> Path:
    """Write `content` (text as UTF-8, newlines as given) to `path` in one step.

    Raises
    ------
    ShrinkwiseError
        When the place cannot be written; an older file of that name is then untouched.
    """
    data = content.encode() if isinstance(content, str) else content
    make_folder(path.parent)
    try:
        handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            os.chmod(beside, 0o644)
            os.replace(beside, path)
        except BaseException:
            os.unlink(beside)
            raise
    except OSError as error:
        raise ShrinkwiseError(
            f"The file {path} cannot be written ({error.strerror}). Close it if it is open in "
            "another program, or name another folder."
        ) from error
    return path
