"""The English of screens and papers: plain words of the trade, one for each thing."""

import re

import pytest

from tests.spoken_text import NEVER, Never, Spoken, spoken_texts, texts_of_source


@pytest.fixture(scope="module")
def texts():
    return tuple(spoken_texts())


@pytest.mark.parametrize("never", NEVER, ids=[never.pattern for never in NEVER])
def test_no_text_says_what_is_never_said(texts, never):
    found = [f"{spoken.place}: {spoken.text!r}" for spoken in texts if never.found_in(spoken)]
    assert found == [], f"say: {never.say}"


AT_THE_UNIT = (
    *("benchstation/screens/bench/", "benchstation/bench/capture/", "benchstation/bench/locks"),
    *("benchstation/bench/commands/capturing", "benchstation/bench/commands/weighing"),
    *("benchstation/domain/cautions", "benchstation/domain/inputs/"),
    *("benchstation/domain/unit_commands", "benchstation/ui/widgets/readout/"),
)
"""Where somebody reads with oily hands."""
MOST_WORDS = 12


def test_sentences_at_the_unit_are_short(texts):
    long = [
        f"{spoken.place}: {sentence!r}"
        for spoken in texts
        if spoken.place.startswith(AT_THE_UNIT)
        for sentence in re.split(r"(?<=[.:;?])\s+|\n", spoken.text)
        if sum(bool(re.search(r"[A-Za-z…]", word)) for word in sentence.split()) > MOST_WORDS
    ]
    assert long == []


def test_texts_of_every_kind_are_read(texts):
    places = {spoken.place.rpartition(":")[0] or spoken.place for spoken in texts}
    for place in (
        "benchstation/screens/bench/charge.py",
        "benchstation/reports/certificate.py",
        "benchstation/domain/unit_commands.py",
        "benchstation/ui/widgets/readout/actions.py",
        "drivers/text_line.py",
        "resources/help/bench.md",
        "README.md",
    ):
        assert place in places
    assert len(texts) > 3000


@pytest.mark.parametrize("never", NEVER, ids=[never.pattern for never in NEVER])
def test_an_exception_is_needed_and_reasoned(texts, never):
    spoken = [s for s in texts if not never.only_in or s.place.startswith(never.only_in)]
    for allowed, reason in never.except_in.items():
        alone = Never(allowed, "")
        assert any(alone.found_in(s) for s in spoken), f"{allowed} excuses nothing"
        assert len(reason.split()) >= 3


def test_the_word_is_found_beside_its_exception_and_the_exception_is_let_be():
    (device,) = (never for never in NEVER if "evices" in never.pattern)
    place = "benchstation/screens/x.py:1"
    assert device.found_in(Spoken(place, "the device is no safety device"))
    assert not device.found_in(Spoken(place, "it is no safety device"))
    assert not device.found_in(Spoken("benchstation/demo/x.py:1", "the device is silent"))


def test_a_source_gives_its_texts_and_neither_docstrings_nor_names(tmp_path, monkeypatch):
    lines = (
        '"""A module."""',
        'x = f"read {y} now"',
        'name = "desk"; label = "Whole"; z = {"k": "a b"}',
        "w = f\"{y} {'in' if y else 'out'}side\"",
    )
    source = "\n".join(lines)
    (tmp_path / "one.py").write_text(source, encoding="utf-8")
    monkeypatch.setattr("tests.spoken_text.ROOT", tmp_path)
    said = {spoken.text for spoken in texts_of_source(tmp_path / "one.py")}
    assert said == {"read … now", "Whole", "a b", "… inside", "… outside"}
