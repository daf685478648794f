"""Reading `store.toml` and saying what is wrong with it in the user's words."""

import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from shrinkwise.errors import ProfileError, ShrinkwiseError
from shrinkwise.profile.store import Store

Model = TypeVar("Model", bound=BaseModel)

PROFILE_FILE = "store.toml"


def read_store(folder: Path) -> Store:
    """The store described by `store.toml` in `folder`.

    Raises
    ------
    ProfileError
        When the file is missing, is not TOML or holds an impossible value.
    """
    path = folder / PROFILE_FILE
    if not path.is_file():
        raise ProfileError(
            f"{folder} has no {PROFILE_FILE}. It names the store and its lines: name, currency, "
            "country, and one [[lines]] block per line with name, category, price, dough_cost "
            "and shelf_life_days. `shrinkwise sample DIR` writes one to start from."
        )
    return checked(Store, read_toml(path, ProfileError), path, ProfileError)


def read_toml(path: Path, error_type: type[ShrinkwiseError]) -> dict[str, Any]:
    """The content of a TOML file.

    Raises
    ------
    ShrinkwiseError
        `error_type`, when the file cannot be read or is not TOML.
    """
    return parsed_toml(read_text(path, error_type), str(path), error_type)


def read_text(path: Path, error_type: type[ShrinkwiseError]) -> str:
    """The text of a file.

    Raises
    ------
    ShrinkwiseError
        `error_type`, when the file cannot be read.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise error_type(f"{path} is not there. Check its name and folder.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise error_type(
            f"{path} cannot be read ({error}). Save it as plain UTF-8 text."
        ) from error


def parsed_toml(text: str, source: str, error_type: type[ShrinkwiseError]) -> dict[str, Any]:
    """The content of a text in TOML; `source` is named in messages.

    Raises
    ------
    ShrinkwiseError
        `error_type`, when it is not TOML.
    """
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        # beside TOMLDecodeError, a number of thousands of digits and brackets without end
        raise error_type(
            f"{source} is not valid TOML: {error}. Text needs quotation marks, numbers and "
            "true/false do not, and a decimal mark is a point."
        ) from error


def checked(
    model: type[Model],
    content: dict[str, Any],
    path: Path | str,
    error_type: type[ShrinkwiseError],
    text: str | None = None,
) -> Model:
    """`content` as a checked `model`; `text` is what it was read from, that of the file at `path`
    when left out.

    Raises
    ------
    ShrinkwiseError
        `error_type`, naming the file, the place in it, the value and what was expected, for
        the first three faults found.
    """
    try:
        return model.model_validate(content)
    except ValidationError as error:
        text = Path(path).read_text(encoding="utf-8-sig") if text is None else text
        # a list whose every entry is wrong is not also too short
        found = [f for f in error.errors() if f["type"] != "too_short" or not f["input"]]
        faults = [_fault(dict(fault), content, text) for fault in found[:3]]
        more = len(found) - len(faults)
        tail = f" And {more} more like these." if more > 0 else ""
        raise error_type(
            f"{path} cannot be used. {' '.join(faults)}{tail} Correct the file and run again."
        ) from error


def _fault(fault: dict[str, Any], content: dict[str, Any], text: str) -> str:
    place = fault["loc"]
    where = _place(place, content)
    line = line_number(place, text)
    at = f"Line {line}, {where}" if line else where[:1].upper() + where[1:]
    message = fault["msg"].removeprefix("Value error, ")
    if fault["type"] == "missing":
        return f"{at}: this setting is missing."
    if fault["type"] == "extra_forbidden":
        return f"{at}: there is no such setting."
    if fault["type"] == "value_error":
        return f"{at}: {message}."
    if fault["type"] == "too_short":
        return f"{at}: must not be empty."
    message = re.sub(r"^\w+ should (be|have)", r"must \1", message)
    return f"{at}: {message}, but was {fault['input']!r}."


def _place(place: tuple[str | int, ...], content: Any) -> str:
    """The path to a setting as a person would say it: 'line "Rye loaf", price'."""
    words: list[str] = []
    for key in place:
        parent, content = content, _step(content, key)
        if isinstance(key, int) and isinstance(parent, list):
            if not isinstance(content, dict):
                words.append(f"item {key + 1}")
            elif named := content.get("name") or content.get("line"):
                words[-1:] = [f"{words[-1].rstrip('s')} {named!r}"]
            else:
                words[-1:] = [f"[[{words[-1]}]] block {key + 1}"]
        elif key != "[key]":
            words.append(str(key))
    return ", ".join(words) or "the file as a whole"


def _step(content: Any, key: str | int) -> Any:
    try:
        return content[key]
    except (KeyError, IndexError, TypeError):
        return None


def line_number(place: tuple[str | int, ...], text: str) -> int | None:
    """Line of the file on which the setting at `place` stands, or its block begins.

    Parameters
    ----------
    place : tuple of str or int
        Such as ("lines", 2, "price") for the price in the third [[lines]] block.
    text : str
        The file's content.
    """
    rows = text.splitlines()
    headers = [i for i, row in enumerate(rows) if row.lstrip().startswith("[")]
    block: int | None = None
    keys: list[str] = []
    for position, key in enumerate(place):
        if isinstance(key, int):
            continue
        keys.append(key)
        index = place[position + 1] if position + 1 < len(place) else None
        name = re.escape(".".join(keys))
        if isinstance(index, int):
            found = [i for i in headers if re.match(rf"\s*\[\[\s*{name}\s*\]\]", rows[i])]
            block = found[index] if index < len(found) else block
        else:
            found = [i for i in headers if re.match(rf"\s*\[\s*{name}\s*\]", rows[i])]
            block = found[0] if found else block
    # settings above the first header are the file's own, those below it a block's
    start = 0 if block is None else block + 1
    end = next((i for i in headers if i >= start), len(rows))
    for i in range(start, end):
        if keys and re.match(rf"\s*{re.escape(keys[-1])}\s*=", rows[i]):
            return i + 1
    return None if block is None else block + 1
