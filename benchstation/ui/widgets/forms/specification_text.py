"""A specification's text: the example, written to a file, read from one.

Writing never replaces another text.
"""

import itertools
import re
import tomllib
from importlib.resources import files
from pathlib import Path

from benchstation.atomic_file import part_of, put_in_place
from benchstation.driver_api.errors import StationError
from benchstation.screens.model.specification_editing import (
    EXAMPLE,
    marked,
    with_values,
)

WHERE, SUFFIX = "TOML file", ".toml"
LONGEST_BYTES = 1_000_000
_UNSAFE = re.compile(r"[^A-Za-z0-9_-]+")
_SHIPPED = "mr-46-front.toml"
_EXAMPLE_SAYS = """\
# This is an example: a damper that does not exist, of an invented workshop.
# Write your unit's own id, family and title, and replace EVERY figure by your unit's own:
# dimensions, oil, gas, ratings, discs, torque. Take out the steps that your work does not have.
"""
_PLAIN_UNITS = (("degC", "°C"), ("N*m", "N m"), ("Pa*m**3/s", "Pa m³/s"))
"""As people write them: whoever starts from the example sees its units in the form."""
_NAMES = {
    "id": EXAMPLE,
    "family": "Example: the family as people call it",
    "title": "Example: what it is and where it belongs",
}


def example() -> str:
    """Return the shipped example to write on from; under its names it is not kept as a draft."""
    text = (files("resources") / "demo" / "specifications" / _SHIPPED).read_text("utf-8")
    _, _, text = text.partition("\n")
    for unit, plain in _PLAIN_UNITS:
        text = text.replace(unit, plain)
    return marked(_EXAMPLE_SAYS + with_values(text, _NAMES))


def file_name(source: str) -> str:
    """Return a name after the text's id and revision; ``specification.toml`` when it has none."""
    try:
        content = tomllib.loads(source)
    except tomllib.TOMLDecodeError:
        content = {}
    name = _UNSAFE.sub("-", str(content.get("id", ""))).strip("-")[:80]
    if not name:
        return f"specification{SUFFIX}"
    revision = content.get("revision")
    return f"{name}-revision-{revision}{SUFFIX}" if isinstance(revision, int) else name + SUFFIX


def write_source(place: str, source: str) -> Path:
    """Write a text into a folder, or into a file that ends in ``.toml``; gives its path.

    Where a file of that name holds another text, a number is added to the name. Raises
    :class:`StationError` when the place cannot be written.
    """
    wanted = _path(place)
    if wanted.suffix.lower() != SUFFIX or wanted.is_dir():
        wanted = wanted / file_name(source)
    try:
        wanted.parent.mkdir(parents=True, exist_ok=True)
        for count in itertools.count(1):
            path = wanted if count == 1 else wanted.with_name(f"{wanted.stem}-{count}{SUFFIX}")
            if _written(path, source):
                break
    except OSError as error:
        raise _not_written(wanted, error) from error
    return path


def replace_source(place: str, source: str) -> Path:
    """Write a text into the file that was chosen in a dialog, which asked before it replaces one.

    Raises :class:`StationError` when it cannot be written; what was there is there still.
    """
    path = Path(place)
    path = path if path.suffix else path.with_suffix(SUFFIX)
    try:
        part = part_of(path)
        part.write_bytes(source.encode("utf-8"))
        put_in_place(part, path)
    except OSError as error:
        raise _not_written(path, error) from error
    return path


def _not_written(path: Path, error: OSError) -> StationError:
    return StationError(
        f"the text was not written to {path}: {_reason(error)}",
        where=WHERE,
        advice="Name another folder; the text is still here.",
        detail=repr(error),
    )


def _path(place: str) -> Path:
    if not place:
        raise StationError(
            "no place is named.", where=WHERE, advice="Say first which folder, or which file."
        )
    return Path(place).expanduser()


def _written(path: Path, source: str) -> bool:
    """Write, unless there is a file already; says whether the text is in it now."""
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(source)
    except FileExistsError:
        return path.is_file() and path.read_bytes() == source.encode("utf-8")
    return True


def read_source(place: str) -> str:
    """Return the text of a file. Raises :class:`StationError` when it is none that can be read."""
    path = _path(place)
    if not path.is_file():
        raise StationError(
            f"there is no file at {path}.",
            where=WHERE,
            advice=f"Type the whole path of a file that ends in {SUFFIX}.",
        )
    try:
        if path.stat().st_size > LONGEST_BYTES:
            raise StationError(
                f"{path.name} is too large for a specification.",
                where=WHERE,
                advice="Nothing was read; name the specification's own file.",
            )
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise StationError(
            f"{path} cannot be read: {_reason(error)}",
            where=WHERE,
            advice="See to its rights, or copy it elsewhere.",
            detail=repr(error),
        ) from error
    except UnicodeDecodeError as error:
        raise StationError(
            f"{path.name} is no text in UTF-8.",
            where=WHERE,
            advice="Save it as UTF-8 and read it again.",
            detail=repr(error),
        ) from error


def _reason(error: OSError) -> str:
    return f"{(error.strerror or type(error).__name__).lower()}."
