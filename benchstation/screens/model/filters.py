"""What a search of the records may name beside words, as text that a person can read and type.

``qa:"on hold" filed:mira 2026-11`` is a question: two filters and a word. One text is what the
field holds, what is saved, what stands over a recall list and what one page hands to another.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

FROM, TO, UNIT, BY = "from", "to", "unit", "by"
WORDS, SAVED, SAVE_AS = "words", "saved", "save_as"
"""Fields of the form beside the filters: what is left of the text, and searches that are kept."""
FIND, EMPTY, REMOVE, LEAVE = "find", "empty", "remove", "leave"
"""What the form does."""
LABELS: Mapping[str, str] = {
    FROM: "From",
    TO: "To",
    "state": "State",
    "qa": "QA",
    "verdict": "Verdict",
    "deviation": "Deviation",
    "accepted": "Accepted by",
    "opened": "Opened by",
    "signed": "Signed by",
    "filed": "Filed by",
    "family": "Family",
    "serial": "Serial",
    "order": "Order",
    "lot": "Oil lot",
    "part": "Part lot",
    "instrument": "Instrument",
    "customer": "Customer",
    UNIT: "Unit",
    BY: "By",
}
"""Each filter, in the order in which they stand in the form and in the words of a question."""
OR = " or "
"""Between two of one kind: either fits."""
_FILTER = re.compile(
    rf'(?<!\S)({"|".join(LABELS)}):(?:"((?:[^"]|"")*)"|(\S+))(?!\S)', re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Question:
    """A search: words, and what must hold beside, by the filter's name."""

    words: str
    filters: Mapping[str, str]

    @property
    def text(self) -> str:
        """Return the question as it is typed."""
        return " ".join([*([self.words] if self.words else []), *map(_typed, self._given())])

    @property
    def in_words(self) -> str:
        """Return the question as a sentence without its end; empty: it asks for all."""
        said = [f"{LABELS[name].lower()} {value}" for name, value in self._given()]
        said = [text.replace("qa ", "QA ", 1) if text.startswith("qa ") else text for text in said]
        return ", ".join([*([f"“{self.words}”"] if self.words else []), *said])

    def _given(self) -> Iterable[tuple[str, str]]:
        return ((name, self.filters[name]) for name in LABELS if self.filters.get(name))


def question_in(text: str) -> Question:
    """Return what a text asks: the filters it names, and the words that are left."""
    filters = {
        found[1].lower(): (found[3] or found[2].replace('""', '"')).strip()
        for found in _FILTER.finditer(text)
    }
    words = " ".join(_FILTER.sub(" ", text).split())
    return Question(words, {name: value for name, value in filters.items() if value})


def question_from(fields: Mapping[str, str]) -> str:
    """Return the text that a form asks: a saved search where one was chosen and nothing else."""
    given = {name: " ".join(fields.get(name, "").split()) for name in (WORDS, *LABELS)}
    words = given.pop(WORDS)
    typed = Question(words, {name: value for name, value in given.items() if value}).text
    return typed or fields.get(SAVED, "")


def filtered(**filters: str) -> str:
    """Return the text of a question that only these filters ask."""
    return Question("", filters).text


def _typed(given: tuple[str, str]) -> str:
    name, value = given
    if any(letter.isspace() for letter in value) or value.startswith('"'):
        value = '"{}"'.format(value.replace('"', '""'))
    return f"{name}:{value}"
