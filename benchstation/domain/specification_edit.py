"""One value, entry or step of a specification's text changed, and nothing else of it.

The text is what is written; a form over it names a place as ``geometry.bore`` or
``steps.9.measure.nominal``, entries counted from 0. Comments, order and spaces stay the author's: a
change that could not keep them is refused, and nothing is changed.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any

from benchstation.driver_api.errors import StationError

Way = tuple[str | int, ...]
Plain = str | int | float | bool | list[Any] | dict[str, Any]

# A string in any of TOML's four forms, or a comment; what looks like one inside the other is none.
_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""{0,2}|\'\'\'.*?\'\'\'\'{0,2}'
    r'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*',
    re.DOTALL,
)


class CannotEditError(StationError):
    """The form cannot make this change without losing something; the text is as it was."""


def way_of(field: str | Way) -> Way:
    """Return a field's place as keys and numbers; a key with a stop in it is given so already."""
    if isinstance(field, tuple):
        return field
    return tuple(int(part) if part.isdigit() else part for part in field.split("."))


def at(content: Any, way: Way) -> Any:
    """Return what stands at a place, ``None`` for nothing."""
    for part in way:
        if isinstance(part, int):
            inside = isinstance(content, list) and part < len(content)
        else:
            inside = isinstance(content, Mapping) and part in content
        if not inside:
            return None
        content = content[part]
    return content


def comments_in(text: str) -> list[str]:
    """Return every comment of a TOML text in its order."""
    found = (match.group().rstrip("\r") for match in _TOKEN.finditer(text))
    return [token for token in found if token.startswith("#")]


def with_value(text: str, field: str | Way, value: Plain | None) -> str:
    """Return the text with another value at a field; ``None`` takes it out.

    A table that is missing on the way is made. Raises :class:`CannotEditError`.
    """
    way = way_of(field)
    now = at(_parsed(text), way)
    if now == value and type(now) is type(value):
        return text
    *before, last = way

    def change(document: Any) -> None:
        table = document
        for part in before:
            if isinstance(part, str) and part not in table:
                if value is None:
                    return
                table[part] = {}
            table = table[part]
        if value is not None:
            table[last] = value
        elif at(table, (last,)) is not None:
            del table[last]

    return _changed(text, change)


def with_entry(text: str, field: str, place: int, entry: Plain) -> str:
    """Return the text with one more entry in a list, before the one that stood at ``place``."""
    if (blocks := _blocks(text, field)) and isinstance(entry, dict):
        blocks.insert(place, _as_block(field, entry, text))
        return _checked(text, blocks.text(), lambda plain: plain[field].insert(place, entry))

    def change(document: Any) -> None:
        *before, last = way_of(field)
        table = document
        for part in before:
            if isinstance(part, str) and part not in table:
                table[part] = {}
            table = table[part]
        if last not in table:
            table[last] = []
        # Inside a list a table stands in braces, on one line.
        table[last].insert(place, in_braces(entry))

    return _changed(text, change)


def without_entry(text: str, field: str, place: int) -> str:
    """Return the text without an entry of a list; what was said beside it goes with it."""
    if blocks := _blocks(text, field):
        blocks.drop(place)
        return _checked(text, blocks.text(), lambda plain: plain[field].pop(place), lost=True)

    def change(document: Any) -> None:
        del at(document, way_of(field))[place]

    return _changed(text, change, lost=True)


def with_entry_moved(text: str, field: str, place: int, by: int) -> str:
    """Return the text with an entry of a list moved; one at the end stays where it is."""
    entries = at(_parsed(text), way_of(field)) or []
    to = place + by
    if not (0 <= place < len(entries) and 0 <= to < len(entries)):
        return text

    def swap(plain: Any) -> None:
        entries = at(plain, way_of(field))
        entries.insert(to, entries.pop(place))

    if blocks := _blocks(text, field):
        blocks.move(place, to)
        return _checked(text, blocks.text(), swap)

    try:
        return _changed(text, swap)
    except CannotEditError:
        # A comment would have gone with its entry. Each stays at its place; the entries change.
        return _changed(text, lambda document: _exchange(at(document, way_of(field)), place, to))


def _exchange(listed: Any, place: int, to: int) -> None:
    order = list(range(len(listed)))
    order.insert(to, order.pop(place))
    plain = [one.unwrap() if hasattr(one, "unwrap") else one for one in listed]
    for n, old in enumerate(order):
        if n != old:
            listed[n] = in_braces(plain[old])


def _parsed(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise CannotEditError(
            f"this is not TOML: {error}.", advice="Correct it in the text first."
        ) from error


def _changed(text: str, change: Callable[[Any], object], *, lost: bool = False) -> str:
    """Make a change by the library that keeps what it does not touch, and see that it did."""
    # Only who changes a text waits for the library.
    import tomlkit

    _parsed(text)
    try:
        document = tomlkit.parse(text)
        change(document)
        made = tomlkit.dumps(document)
    except Exception as error:
        # Its own errors have no one root, and it knows forms of tables that it cannot change.
        raise _cannot(repr(error)) from error
    return _checked(text, made, change, lost=lost)


def _checked(text: str, made: str, change: Callable[[Any], object], *, lost: bool = False) -> str:
    """Return the text that was made, when it says what it should and no comment is gone."""
    wanted = _parsed(text)
    change(wanted)
    try:
        said = tomllib.loads(made)
    except tomllib.TOMLDecodeError as error:
        raise _cannot(str(error)) from error
    gone = Counter(comments_in(text)) - Counter(comments_in(made))
    if said != wanted or (gone and not lost):
        raise _cannot(f"comments gone: {sorted(gone)}" if gone else "another value came out")
    return made


def _cannot(detail: str) -> CannotEditError:
    return CannotEditError(
        "the form cannot change this without changing more of your text.",
        advice="Change it in the text; nothing was changed.",
        detail=detail,
    )


def in_braces(entry: Plain) -> Any:
    """Return a value whose tables stand in braces: within a list there is no other way."""
    import tomlkit

    if isinstance(entry, list):
        array = tomlkit.array()
        array.extend(in_braces(one) for one in entry)
        return array
    if not isinstance(entry, dict):
        return entry
    table = tomlkit.inline_table()
    table.update({name: in_braces(value) for name, value in entry.items()})
    return table


class _Blocks:
    """A text cut before each ``[[field]]``; what stands right above a header goes with it."""

    def __init__(self, pieces: list[str], places: list[int]) -> None:
        self._pieces = pieces
        self._places = places
        """Which of the pieces are entries, in their order."""

    def text(self) -> str:
        """Return the whole."""
        return "".join(self._pieces)

    def move(self, place: int, to: int) -> None:
        """Let an entry change its place; the blank lines between entries stay."""
        ends = [self._split(self._pieces[n])[1] for n in self._places]
        bodies = [self._split(self._pieces[n])[0] for n in self._places]
        bodies.insert(to, bodies.pop(place))
        for n, body, end in zip(self._places, bodies, ends, strict=True):
            self._pieces[n] = body + end

    def insert(self, place: int, block: str) -> None:
        """Put a new entry before the one at a place, or behind the last."""
        if place < len(self._places):
            self._pieces.insert(self._places[place], block)
            return
        n = self._places[-1]
        body, end = self._split(self._pieces[n])
        line = "\r\n" if "\r\n" in block else "\n"
        self._pieces[n] = body + (end if end.count("\n") > 1 else 2 * line)
        self._pieces.insert(n + 1, block)

    def drop(self, place: int) -> None:
        """Take an entry out."""
        del self._pieces[self._places[place]]

    @staticmethod
    def _split(piece: str) -> tuple[str, str]:
        body = piece.rstrip()
        return body, piece[len(body) :] or "\n"


def _blocks(text: str, field: str) -> _Blocks | None:
    """Cut a text at the headers of a list of tables; ``None`` where it is written otherwise."""
    _parsed(text)
    cuts = [
        (_with_words_above(text, start), many and name == field)
        for start, name, many in _headers(text)
        if many or name.partition(".")[0] != field
    ]
    if not any(is_entry for _, is_entry in cuts):
        return None
    bounds = [0, *(start for start, _ in cuts), len(text)]
    pieces = [text[a:b] for a, b in pairwise(bounds)]
    return _Blocks(pieces, [n + 1 for n, (_, is_entry) in enumerate(cuts) if is_entry])


def _headers(text: str) -> list[tuple[int, str, bool]]:
    """Return where each table begins, its name, and whether it is one of a list at the top."""
    plain = _TOKEN.sub(lambda m: re.sub(r"[^\n]", "x" if m[0][0] != "#" else " ", m[0]), text)
    found, depth, start = [], 0, 0
    for line in plain.splitlines(keepends=True):
        if depth == 0 and line.lstrip().startswith("["):
            written = text[start : start + len(line)].strip()
            name = ".".join(_names(tomllib.loads(written)))
            found.append((start, name, line.lstrip().startswith("[[") and "." not in name))
        else:
            depth += sum(line.count(c) for c in "[{") - sum(line.count(c) for c in "]}")
        start += len(line)
    return found


def _names(table: Any) -> list[str]:
    names = []
    while table and (inner := table[0] if isinstance(table, list) else table):
        ((name, table),) = inner.items()
        names.append(name)
    return names


def _with_words_above(text: str, start: int) -> int:
    """Return where the comments begin that stand right above a header."""
    above = text[:start].splitlines(keepends=True)
    while above and above[-1].lstrip().startswith("#"):
        start -= len(above.pop())
    return start


def _as_block(field: str, entry: Mapping[str, Plain], text: str) -> str:
    import tomlkit

    table = tomlkit.document()
    for name, value in entry.items():
        table[name] = in_braces(value)
    block = f"[[{field}]]\n{tomlkit.dumps(table).rstrip()}\n\n"
    return block.replace("\n", "\r\n") if "\r\n" in text else block
