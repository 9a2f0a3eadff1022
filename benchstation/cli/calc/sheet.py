"""A computation as lines that a person can follow by hand: symbol, figures, formula, source."""

import json
import math
import re
from dataclasses import dataclass, field

from benchstation.quantities.notation import NO_VALUE
from benchstation.quantities.units import Dimension, UnitSystem, shown


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the working: symbol, what it is, its value in SI, shown text and source.

    ``value`` is None for words and for what cannot be told.
    """

    symbol: str
    name: str
    value: float | None
    text: str
    working: str = ""
    figures: str = ""
    source: str = ""


@dataclass(slots=True)
class Sheet:
    """Lines in the order of the computation, under headings."""

    system: UnitSystem
    lines: list[Line] = field(default_factory=list)
    headings: dict[int, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def heading(self, text: str) -> None:
        """Start a part of the sheet."""
        self.headings[len(self.lines)] = text

    def note(self, text: str) -> None:
        """Add a remark that stands below everything."""
        self.notes.append(text)

    def put(
        self,
        symbol: str,
        name: str,
        value: float,
        dimension: Dimension | None,
        *,
        decimals: int | None = None,
        working: str = "",
        figures: str = "",
        source: str = "",
    ) -> float:
        """Add a line and give its value back. Without a dimension it is a plain number."""
        if dimension is None:
            digits = 6 if decimals is None else decimals
            text = f"{value:.{digits}f}" if math.isfinite(value) else NO_VALUE
        else:
            text = str(shown(value, dimension, self.system, decimals=decimals))
        return self.say(symbol, name, value, text, working=working, figures=figures, source=source)

    def say(
        self,
        symbol: str,
        name: str,
        value: float,
        text: str,
        *,
        working: str = "",
        figures: str = "",
        source: str = "",
    ) -> float:
        """Add a line whose text is given, such as a value in a unit of its own."""
        kept = value if math.isfinite(value) else None
        figures = figures or self._with_figures(working)
        self.lines.append(Line(symbol, name, kept, text, working, figures, source))
        return value

    def _with_figures(self, working: str) -> str:
        """Return the formula with the figures of the lines above in place of their symbols."""
        if not working or not self.lines:
            return ""
        known = {line.symbol: line.text for line in self.lines}
        names = "|".join(re.escape(name) for name in sorted(known, key=len, reverse=True))

        def figure(found: re.Match[str]) -> str:
            text = known[found[0]]
            alone = working[: found.start()][-1:] == "(" and working[found.end() :][:1] == ")"
            return text if alone or " " not in text else f"({text})"

        filled = re.sub(rf"(?<![\w/])(?:{names})(?![\w/(])", figure, working)
        return "" if filled == working else filled

    def readable(self, *, explain: bool) -> str:
        """Return sheet as text; ``explain`` adds formula, figures and source under each line."""
        width = max(len(line.name) for line in self.lines)
        rows: list[str] = []
        for number, line in enumerate(self.lines):
            if number in self.headings:
                rows += [*([""] if rows else []), self.headings[number]]
            rows.append(f"{line.name:<{width}}  {line.text}")
            if explain:
                rows += _explained(line)
        return "\n".join([*rows, *([""] if self.notes else []), *self.notes])

    def as_json(self) -> str:
        """Return the sheet for programs: every value in SI under its symbol."""
        return json.dumps(
            {
                line.symbol: {
                    "value_si": line.value,
                    "name": line.name,
                    "text": line.text,
                    "working": line.working,
                    "source": line.source,
                }
                for line in self.lines
            },
            ensure_ascii=False,
            indent=2,
            allow_nan=False,
        )


def _explained(line: Line) -> list[str]:
    rows = []
    if line.working:
        rows.append(f"    {line.symbol} = {line.working}")
    if line.figures:
        rows.append(f"    {' ' * len(line.symbol)} = {line.figures}")
    if line.source:
        rows.append(f"    source: {line.source}")
    return rows
