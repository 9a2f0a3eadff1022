"""Every text that can reach a screen or a paper, read from the sources, and the words it avoids."""

import ast
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = (
    *("screens", "reports", "ui", "bench", "domain", "config", "quantities", "devices", "link"),
    *("store", "metrology", "physics", "driver_api", "demo", "cli"),
)
READS_STORED_TEXT = (
    "benchstation/domain/inputs/earlier.py",
    "benchstation/domain/events/upgrades.py",
    "benchstation/domain/events/earlier_prose.py",
)
"""What these match was written by earlier versions; none of it is shown."""
BENCH_SIDE = tuple(f"benchstation/{name}/" for name in ("screens", "reports", "ui", "bench"))


@dataclass(frozen=True, slots=True)
class Spoken:
    """A text with the place where it stands."""

    place: str
    text: str


@dataclass(frozen=True, slots=True)
class Never:
    """A word that is not said, what is said instead, and where it is right by way of exception."""

    pattern: str
    say: str
    except_in: dict[str, str] = field(default_factory=dict)
    """Text that holds the word in another sense, with the reason."""
    only_in: tuple[str, ...] = ()
    """Beginnings of the places where the word is meant; empty: everywhere."""

    def found_in(self, spoken: Spoken) -> bool:
        """Return True when the word stands in the text in the sense that is avoided."""
        if self.only_in and not spoken.place.startswith(self.only_in):
            return False
        text = spoken.text
        for allowed in self.except_in:
            text = re.sub(allowed, "", text)
        return re.search(self.pattern, text) is not None


NEVER = (
    Never(r"\b[Aa]sked\b", "specified"),
    Never(r"\b[Ww]anted\b", "specified, required"),
    Never(r"\b[Aa]im(s|ed)?\b", "target"),
    Never(r"\b[Ll]et(s|ting)?( it| the \w+| the \w+ \w+)? down\b", "vent, release"),
    Never(r"\b([Rr]un|ran|runs|running) off\b", "bleed"),
    Never(r"\boff by\b", "a signed difference"),
    Never(r"\b[Ww]aiver|\bmay bear\b", "deviation, is rated for"),
    Never(r"\bnot on (QA )?hold\b", "released, not released yet"),
    Never(r"\b([Gg]o|goes|going) on\b", "continue"),
    Never(r"\bLeave it\b", "Cancel"),
    Never(r"\bWhole\b", "Show all"),
    Never(r"\b[Ll]ook it over\b", "Review"),
    Never(r"\bover since\b", "expired on"),
    Never(r"\b(that|which|it|does not) bears?\b", "is rated for"),
    Never(r"\b[Ll]a(y|in) aside\b|\blies? aside\b", "set aside"),
    Never(r"\b[Ww]ork(ed)? (it )?out\b", "calculate"),
    Never(r"\b(has|alarm,) gone back\b", "back to normal"),
    Never(r"… apart\b", "differ by"),
    Never(r"\bof none\b", "no ..."),
    Never(r"\b[Ll]ights\b", "theme"),
    Never(r"\bStores\b", "Materials"),
    Never(r"\b[Ss]ensors?\b", "scale, gauge, instrument"),
    Never(r"\b[Tt]ransducers?\b", "gauge", {}, only_in=(*BENCH_SIDE, "benchstation/domain/")),
    Never(
        r"\b[Dd]evices?\b",
        "scale, gauge, instrument",
        {
            "safety device": "what the bench is not",
            "relief devices?": "a part of the pressure path",
            "benchstation devices": "a command as it is typed",
            "device server": "a box that puts a serial line on the network",
        },
        only_in=(
            *BENCH_SIDE,
            *(f"benchstation/{name}/" for name in ("domain", "store", "link", "devices")),
            "drivers/",
        ),
    ),
    Never(
        r"\b[Tt]est(s|ed|ing)?\b",
        "check weight, calibration",
        {
            "[Hh]old test": "the trade's word for watching a charge",
            "[Tt]est pressure": "the transport rules' word for what a body was proven to",
            "program's tests?": "what holds the program to its word",
        },
        only_in=(*BENCH_SIDE, "benchstation/domain/", "resources/"),
    ),
    Never(
        r"\b[Bb]ench temperature|\b[Oo]il temperature",
        "air temperature, unit temperature",
        {},
        only_in=BENCH_SIDE,
    ),
    Never(r"\b[Pp]airs?\b", "set"),
    Never(
        r"\b[Dd]esk\b",
        "bench",
        {"shop('s)? desk": "the window of the whole shop, as its command is typed"},
    ),
    Never(r"\b(at rest|c[ao]me to rest|rests at|st[oa]nds? still|stood still)\b", "steady"),
    Never(
        r"\bbad\b",
        "fail",
        {"bad (frame|checksum)": "faults of a line, as the feed and transcripts name them"},
    ),
    Never(r"\binside\b", "in the window, within", {}, only_in=BENCH_SIDE),
    Never(r"\bbleed(ing)? the (fill )?line\b", "vent the line"),
    Never(r"\b(is|was|are|were) (not )?taken\b|\b[Tt]ake it by hand\b|^Taken\b", "capture, import"),
    Never(r"\bKeep it\b|\b[Kk]eep draft\b", "Save"),
    Never(r"\banew\b|\bshall\b|\bupon\b|\bamid\b|\bthereof\b", "again, must, at, during"),
    Never(r"^Has \w+ ", "If ... has"),
    Never(r"\+/-", "U, ±"),
    Never(
        r"\b10\^-?\d|\d[eE]-\d",
        "10⁻⁶",
        {
            r"[\d.]+e-\d [\w*/(]+": "a quantity as it is typed into a file or a command line",
            r"such as 1e-4": "a number as it is typed on a command line",
            r"1e-12 Pa": "a quantity as it is typed on a command line",
        },
    ),
)


def spoken_texts() -> Iterator[Spoken]:
    """Return all texts of the program, its help, its examples and the page that introduces it."""
    for package in PACKAGES:
        for path in sorted((ROOT / "benchstation" / package).rglob("*.py")):
            if str(path.relative_to(ROOT)) not in READS_STORED_TEXT:
                yield from texts_of_source(path)
    for path in sorted((ROOT / "benchstation").glob("*.py")):
        yield from texts_of_source(path)
    for path in sorted((ROOT / "drivers").rglob("*.py")):
        yield from texts_of_source(path)
    for path in (ROOT / "README.md", *sorted((ROOT / "resources" / "help").glob("*.md"))):
        yield from _of_help(path)
    for path in sorted((ROOT / "resources").rglob("*.toml")):
        yield from _of_table(tomllib.loads(path.read_text(encoding="utf-8")), path)


def texts_of_source(path: Path) -> Iterator[Spoken]:
    """Return the texts of a source: no docstrings, and no names of ours (a single small word)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    within = {id(part) for node in ast.walk(tree) for part in _not_spoken(node)}
    for node in ast.walk(tree):
        for text in _texts(node):
            if id(node) not in within and re.search(r"\s|^[A-Z][a-z]+", text):
                yield Spoken(f"{path.relative_to(ROOT)}:{node.lineno}", text)


def _not_spoken(node: ast.AST) -> Iterator[ast.AST]:
    """Return docstrings, and the pieces of an f-string, which is read as one text."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    if isinstance(node, ast.JoinedStr):
        for value in node.values:
            yield from ([value] if isinstance(value, ast.Constant) else ())


def _texts(node: ast.AST) -> Iterator[str]:
    """Return a text; one that is put together, once with each of the words it chooses from."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    if isinstance(node, ast.JoinedStr):
        parts = [_choices(value) for value in node.values]
        for n in range(max(map(len, parts), default=0)):
            yield "".join(part[min(n, len(part) - 1)] for part in parts)


def _choices(part: ast.expr) -> list[str]:
    """Return what may stand at a place of an f-string; what is worked out is an ellipsis."""
    if isinstance(part, ast.FormattedValue):
        part = part.value
    if isinstance(part, ast.IfExp):
        return [*_choices(part.body), *_choices(part.orelse)]
    if isinstance(part, ast.Constant) and isinstance(part.value, str):
        return [part.value]
    return ["…"]


NO_PROSE = re.compile(r"`[^`]*`|\*\w+(?:/\w+)+: [^*|]+\*")
"""What is code, and the names of the program's tests, which are sentences about the code."""


def _of_help(path: Path) -> Iterator[Spoken]:
    """Return a page's lines without what is a command or a file to be copied."""
    fenced = False
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        fenced = fenced != line.startswith("```")
        if not fenced:
            yield Spoken(f"{path.relative_to(ROOT)}:{number}", NO_PROSE.sub("", line))


def _of_table(value: Any, path: Path) -> Iterator[Spoken]:
    if isinstance(value, str):
        yield Spoken(str(path.relative_to(ROOT)), value)
    elif isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from _of_table(inner, path)
