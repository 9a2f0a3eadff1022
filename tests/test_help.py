"""The help's worked examples are recomputed, and every topic can be shown."""

import re
import shlex
from importlib.resources import files

import pytest

from benchstation.cli import main

FOLDER = files("resources") / "help"
TOPICS = sorted(f.name for f in FOLDER.iterdir() if f.name.endswith(".md"))


def worked() -> list[tuple[str, list[str]]]:
    """Give every worked example: its command, and what its lines must say."""
    found = []
    for name in TOPICS:
        text = (FOLDER / name).read_text("utf-8")
        for block in re.findall(r"```worked\n(.*?)```", text, re.DOTALL):
            command, *lines = block.strip().splitlines()
            found.append((command, [line.removeprefix("> ") for line in lines]))
    return found


def test_there_are_examples_for_every_kind_of_figure():
    kinds = {shlex.split(command)[1] for command, _ in worked()}
    assert kinds >= {"oil", "gas", "leak", "bottle", "damper", "ship"}


@pytest.mark.parametrize(("command", "lines"), worked(), ids=lambda value: str(value)[:40])
def test_a_worked_example_gives_what_the_help_says(capsys, command, lines):
    family = str(files("resources") / "demo" / "specifications" / "mr-46-front.toml")
    assert main([family if word == "FAMILY" else word for word in shlex.split(command)]) == 0
    said = [" ".join(line.split()) for line in capsys.readouterr().out.splitlines()]
    for line in lines:
        assert any(line in shown for shown in said), (line, said)


@pytest.mark.parametrize("name", TOPICS)
def test_every_topic_has_a_heading_and_says_something(name):
    text = (FOLDER / name).read_text("utf-8")
    assert text.startswith("# ")
    assert len(text) > 400
