"""Files that somebody else wrote: text, TOML and JSON, bounded in size and depth.

Every refusal is a ``ValueError`` with one line, which the caller words for its kind of file. A file
that never ends, such as a device, is read no further than its bound.
"""

import json
import re
import tomllib
from pathlib import Path
from typing import Any

TOO_DEEP = "it is nested too deeply"
_DOTTED = re.compile(r"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){100}")
"""A key of so many parts takes the reader minutes, and says nothing. Gives nothing back."""
_LINES = re.compile(r"\s+")


def text_in(path: Path, most_bytes: int) -> str:
    """Return the UTF-8 text of a file. Raises ``ValueError`` for one that is none, or too large."""
    try:
        with path.open("rb") as file:
            data = file.read(most_bytes + 1)
    except OSError as error:
        raise ValueError(f"it cannot be read ({error.strerror or error})") from error
    except ValueError as error:
        raise ValueError("its name cannot be that of a file") from error
    if len(data) > most_bytes:
        raise ValueError(f"it is too large: the most is {most_bytes / 1e6:g} MB")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise ValueError(f"line {line} is not UTF-8 text") from error
    if "\0" in text:
        raise ValueError(f"line {text[: text.index(chr(0))].count(chr(10)) + 1} holds a NUL")
    return text


def toml_in(text: str) -> dict[str, Any]:
    """Return what a TOML text holds. Raises ``ValueError``."""
    if _DOTTED.search(text):
        raise ValueError(TOO_DEEP)
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise ValueError(TOO_DEEP) from error
    except ValueError as error:
        raise ValueError(_one_line(error)) from error


def json_in(text: str) -> Any:
    """Return what a JSON text holds. Raises ``ValueError``."""
    try:
        return json.loads(text)
    except RecursionError as error:
        raise ValueError(TOO_DEEP) from error
    except ValueError as error:
        raise ValueError(_one_line(error)) from error


def _one_line(error: Exception) -> str:
    return _LINES.sub(" ", str(error)).strip()[:300]
