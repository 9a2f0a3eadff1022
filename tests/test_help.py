"""The help's worked examples are recomputed, and every topic can be shown."""

import ast
import re
import shlex
from importlib.resources import files
from pathlib import Path

import pytest

import benchstation
from benchstation.cli.main import main
from benchstation.devices.adding import usable
from benchstation.devices.discovery import rank
from benchstation.screens.instruments.page import KEYS
from benchstation.screens.model.records import UNITS_OF, UNITS_SINCE

FOLDER = files("resources") / "help"
TOPICS = sorted(f.name for f in FOLDER.iterdir() if f.name.endswith(".md"))


def worked() -> list[tuple[str, list[str]]]:
    """Return every worked example: its command, and what its lines must say."""
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


@pytest.fixture(scope="module")
def program():
    """The sources of the program."""
    paths = Path(benchstation.__file__).parent.rglob("*.py")
    return [path.read_text("utf-8") for path in paths]


KEY = r"((?:(?:Ctrl|Alt|Shift)\+)*(?:F\d+|Delete|Return|Space|[A-Z0-9]))"


def named_keys() -> list[tuple[str, str]]:
    """Return every (label, key) that a topic names, as *Label* (Key) or *Label*, Key."""
    found: dict[tuple[str, str], None] = {}
    for name in TOPICS:
        text = " ".join((FOLDER / name).read_text("utf-8").split())
        pairs = re.findall(rf"\*+([A-Z][^*()]{{2,40}})\*+(?: \(|, ){KEY}(?=[ );:])", text)
        found |= dict.fromkeys(pairs)
    return list(found)


@pytest.mark.parametrize(("label", "key"), named_keys())
def test_a_key_in_the_help_is_the_key_of_its_action(program, label, key):
    sources = [source for source in program if label.lower() in source.lower()]
    code = "\n".join(sources)
    word = re.escape(label)
    written = rf'"[^"\n]*{word}[^"\n]*"'
    # Where the label is chosen first, the action has the name that it was given.
    chosen = re.findall(rf"(\w+) = .*{written}", code)
    drawn = "|".join([written, *(rf"\b{name}" for name in chosen)])
    # What stands once for each instrument has its key from a table in the same source.
    listed = [s for s in sources if re.search(rf"(?i)(?:{drawn}),\s*keys(?:\[\w+\]|\.get\()", s)]
    direct = re.search(rf'(?i)(?:{drawn}),\s*"{re.escape(key)}"', code)
    assert direct or any(f'"{key}"' in s for s in listed), f"{label}: not on {key}"


def test_the_help_names_enough_keys_to_be_checked():
    assert len(named_keys()) >= 20


WIDEST_BLOCK = 84
"""Letters of a line that does not wrap, in a window of 1280 pixels."""


@pytest.mark.parametrize("name", ["devices.md", "drivers.md", "profiles.md"])
def test_what_is_typed_off_can_be_read_without_scrolling_aside(name):
    text = (FOLDER / name).read_text("utf-8")
    lines = "".join(re.findall(r"```\w*\n(.*?)```", text, re.DOTALL)).splitlines()
    assert lines
    assert [line for line in lines if len(line) > WIDEST_BLOCK] == []


def blocks(name: str, kind: str) -> str:
    """Return the blocks of one kind in a topic, one after the other."""
    text = (FOLDER / name).read_text("utf-8")
    return "".join(re.findall(rf"```{kind}\n(.*?)```", text, re.DOTALL))


@pytest.fixture
def shed_scale(tmp_path):
    """The worked example of a device, as an author writes it down."""
    (tmp_path / "shed-scale.toml").write_text(blocks("devices.md", "toml"), "utf-8")
    (tmp_path / "shed-scale.txt").write_text(blocks("devices.md", "transcript"), "utf-8")
    return tmp_path


def test_the_worked_device_is_read_as_the_help_says(shed_scale, capsys, monkeypatch):
    monkeypatch.chdir(shed_scale)
    (command,) = re.findall(
        r"^benchstation (devices try-profile .*)$", (FOLDER / "devices.md").read_text("utf-8"), re.M
    )
    assert main(shlex.split(command)) == 0
    said = capsys.readouterr().out
    assert "line 4800 7E1, 8 readings a second" in said
    assert "8 steps, 6 of them from the device: as written." in said


def test_the_worked_device_is_found_among_all(shed_scale):
    """A stream of it is its own profile's and no other's."""
    profiles, left_out = usable([shed_scale])
    assert left_out == []
    frames = [b"=s  123.45 g \r", b"=m  123.40 g \r", b"=s 1234.45 g \r"] * 10
    matches = rank(profiles, frames)
    assert [match.profile.id for match in matches][:1] == ["shed-scale"]
    assert matches[0].share > 0.95


BY_TOPIC = {"bench.md": "screens/bench", "materials.md": "screens/materials"}
EVERYWHERE = ("Return", "Esc", "Space")


def actions_of(folder: str) -> list[tuple[str, str]]:
    """Return every (label, key) of an action that a page's builders write down."""
    found = []
    for path in sorted((Path(benchstation.__file__).parent / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call) or len(node.args) < 3:
                continue
            texts = [one.value for one in node.args[:3] if isinstance(one, ast.Constant)]
            made = isinstance(node.func, ast.Name) and node.func.id in ("ActionView", "_either")
            if made and len(texts) == 3 and texts[2] not in EVERYWHERE:
                found.append((texts[1], texts[2]))
    return found


@pytest.mark.parametrize("topic", BY_TOPIC)
def test_every_key_of_a_page_is_in_its_topic(topic):
    text = " ".join((FOLDER / topic).read_text("utf-8").split())
    actions = actions_of(BY_TOPIC[topic])
    assert len(actions) > 5
    said = [
        (label, key)
        for label, key in actions
        if not re.search(rf"\*+{re.escape(label)}\*+(?: \(|, ){re.escape(key)}(?![\w+])", text)
    ]
    assert said == []


def test_the_table_of_the_instruments_keys_is_theirs():
    names = {
        "check weight, or zero of the open line": "check",
        "empty pan: prove zero": "prove_empty",
        "zero the scale": "zero",
        "withdraw the newest check": "withdraw_check",
        "records of its units": UNITS_OF,
        "those since the last good check": UNITS_SINCE,
    }
    rows = re.findall(r"^\| (.+?) \| (\S*) ?\| ?(\S*) ?\|$", _instruments(), re.M)
    table = {names[name]: (scale, gauge) for name, scale, gauge in rows if name in names}
    actions = dict.fromkeys(name for keys in KEYS.values() for name in keys)
    assert table == {
        name: tuple(keys.get(name, "") for keys in (KEYS["scale"], KEYS["gauge"]))
        for name in actions
    }


def _instruments() -> str:
    return (FOLDER / "instruments.md").read_text("utf-8")
