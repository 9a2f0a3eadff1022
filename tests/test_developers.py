"""The paper for developers: paths that are there, decisions that are numbered and complete."""

import re

from tests.spoken_text import ROOT

TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
WAY, CHANGES, DECISIONS = (
    TEXT.partition(f"## {title}\n")[2].partition("\n## ")[0]
    for title in ("The way through", "Changes and what they touch", "Decisions")
)
NEW = re.compile(r"`([^`]+)` \(new\)")


def test_every_path_that_is_named_is_there_unless_it_is_new():
    new = set(NEW.findall(CHANGES))
    named = re.findall(r"`((?:benchstation|drivers|sample_devices|resources|tests)/[^` ]*)`", TEXT)
    assert len(named) > 40
    missing = [path for path in named if path not in new and "*" not in path]
    assert [path for path in missing if not (ROOT / path).exists()] == []
    assert [path for path in new if (ROOT / path).exists()] == []


def test_short_paths_in_decisions_are_there():
    named = re.findall(r"`((?:[a-z_]+/)+[a-z_]+\.py)`", DECISIONS)
    assert len(named) > 15
    roots = (ROOT, ROOT / "benchstation")
    assert [path for path in named if not any((root / path).exists() for root in roots)] == []


def test_a_change_touches_four_files_at_most_unless_the_reason_stands_below():
    table, _, below = CHANGES.partition("What stands in the way")
    rows = [line.split("|")[1:3] for line in table.splitlines() if line.startswith("| ")][1:]
    reasons = [name.lower() for name in re.findall(r"\*([^*]+)\*", below)]
    assert len(rows) >= 10
    for change, files in rows:
        if len(re.findall(r"`benchstation/[^`]*`", files)) > 4:
            assert any(change.strip().startswith(name) for name in reasons), change


def test_decisions_are_numbered_and_have_context_choice_and_consequence():
    sections = re.split(r"^### ", DECISIONS, flags=re.MULTILINE)[1:]
    assert [section.partition(".")[0] for section in sections] == [
        str(n) for n in range(1, len(sections) + 1)
    ]
    for section in sections:
        title, *lines = section.strip().splitlines()
        begun = [line.partition(":")[0] for line in lines]
        replaced = len(lines) == 1 and re.match(r"Replaced by \d+\.", lines[0])
        assert replaced or begun == ["Context", "Choice", "Consequence"], title
