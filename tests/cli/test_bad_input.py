"""Whatever is wrong in what a command is given: one line that says so, exit 2, and soon.

The commands, their options and their files come from the parser itself: a new one is swept too.
"""

import argparse
import time
from importlib.resources import files
from pathlib import Path

import pytest

from benchstation.cli.calc import SHEETS
from benchstation.cli.main import _parser, main
from benchstation.driver_api.errors import StationError
from benchstation.screens.queue.page import Queue

SOON_S = 5.0
FRONT = str(files("resources") / "demo" / "specifications" / "mr-46-front.toml")
PROFILE = str(files("resources") / "profiles" / "scale-status-first.toml")
LARGE = 100_000_000


def commands(parser=None, path=()):
    """Return every command by its words, with its own parser."""
    parser = parser or _parser(["calc", "devices", *SHEETS])
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            found = {}
            for name, one in action.choices.items():
                found |= commands(one, (*path, name))
            return found
    return {path: parser}


COMMANDS = commands()
GIVEN = {
    "oil": {"--volume": "262 mL", "--density": "0.85 g/mL"},
    "gas": {"--charge": "15 bar"},
    "damper": {"--specification": FRONT},
    "leak": {"--volume": "90 mL", "--first": "15 bar", "--last": "14.9 bar", "--duration": "30 s"},
    "bottle": {
        "--bottle": "10 L", "--gauge": "150 bar", "--charge": "15 bar", "--gas-volume": "90 mL",
    },
    "ship": {"--specification": FRONT},
}  # fmt: skip
VALUES = {
    "nothing": "",
    "no number": "much",
    "not a number": "nan",
    "infinite": "inf",
    "too large": "1e999",
    "NUL": "1 mL\0",
    "another dimension": "5 candela",
    "no unit there is": "12 parsnip",
    "a tower of powers": "2**9**9**9 mL",
    "five thousand digits": "9" * 5000,
    "a unit without end": "1 " + "m*" * 3000 + "m",
    "brackets": "(" * 500 + "1",
}
"""What is no quantity of any option; each is refused."""


def said(capsys, *arguments):
    """Run a command; return its exit code and the lines of its refusal. It is soon over."""
    begin = time.monotonic()
    try:
        code = main(arguments)
    except SystemExit as left:
        code = left.code
    assert time.monotonic() - begin < SOON_S
    return code, capsys.readouterr().err.splitlines()


def refused(capsys, *arguments):
    code, lines = said(capsys, *arguments)
    assert (code, len(lines)) == (2, 1), lines
    return lines[0]


def quantities():
    """Return every option of ``calc`` that takes a quantity, with its sheet."""
    for path, parser in COMMANDS.items():
        if path[0] == "calc":
            for action in parser._actions:
                named = action.option_strings and action.nargs != 0
                if named and action.dest != "specification":
                    yield path[1], action.option_strings[0]


@pytest.mark.parametrize(("sheet", "option"), list(quantities()), ids=str)
def test_what_is_no_quantity_is_refused(capsys, sheet, option):
    rest = [f"{k}={v}" for k, v in GIVEN[sheet].items() if k != option]
    for what, value in VALUES.items():
        code, lines = said(capsys, "calc", sheet, *rest, f"{option}={value}")
        assert (code, len(lines)) == (2, 1), (what, lines)


@pytest.mark.parametrize(("sheet", "option"), list(quantities()), ids=str)
def test_zero_is_computed_or_refused(capsys, sheet, option):
    rest = [f"{k}={v}" for k, v in GIVEN[sheet].items() if k != option]
    for zero in ("0", "-0", "0.0", "1e-300"):
        code, lines = said(capsys, "calc", sheet, *rest, f"{option}={zero}")
        assert code == 0 or (code, len(lines)) == (2, 1), (zero, lines)


def spoilt(folder: Path) -> dict[str, str]:
    """Return files that are none of any kind, by what is wrong with each."""
    deep = 100_000
    contents = {
        "empty": b"",
        "NUL": b'a = "\0"\n',
        "zeros": bytes(4096),
        "no UTF-8": b"\xff\xfe\xe9",
        "words": b"hello world\n",
        "a number": b"12345",
        "a list": b"[1, 2]",
        "not numbers": b'{"form": NaN, "format": 1e999}',
        "deep lists": b"a = " + b"[" * deep + b"]" * deep,
        "deep JSON": b"[" * deep + b"]" * deep,
        "deep tables": b"a = " + b"{a = " * deep + b"1" + b"}" * deep,
        "deep keys": b"a" + b".a" * deep + b" = 1",
        "a huge number": b'{"form": ' + b"9" * 6000 + b"}",
        "a huge TOML number": b"a = " + b"9" * 6000,
    }
    paths = {}
    for number, (what, data) in enumerate(contents.items()):
        for end in ("toml", "json"):
            path = folder / f"{number}.{end}"
            path.write_bytes(data)
            paths[f"{what}, {end}"] = str(path)
    large = folder / "large.json"
    with large.open("wb") as file:
        file.truncate(LARGE)
    paths["100 MB"] = str(large)
    paths |= {"a folder": str(folder), "nothing there": str(folder / "none.toml")}
    paths |= {"NUL in its name": "a\0b", "a long name": "x" * 5000, "without end": "/dev/zero"}
    return paths


BESIDE = {
    ("devices", "replay"): ("--profile", "scale-status-first", "--seconds", "0.1"),
    ("devices", "record"): ("socket://127.0.0.1:1",),
    ("calc", "gas"): ("--charge", "15 bar", "--to", "5 degC"),
}


def file_arguments():
    """Return every argument that names a file to be read: the command, and where the name goes."""
    for path, parser in COMMANDS.items():
        if path == ("devices", "record"):
            continue  # its file is written
        for action in parser._actions:
            if action.dest == "file":
                yield path, ""
            elif action.dest in ("specification", "transcript"):
                yield path, action.option_strings[0]


@pytest.mark.parametrize(("command", "option"), list(file_arguments()), ids=str)
def test_a_file_of_another_kind_is_refused(capsys, tmp_path, monkeypatch, command, option):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    for what, file in spoilt(tmp_path).items():
        beside = [*BESIDE.get(command, ())]
        if option == "--transcript":
            beside = [PROFILE]
        named = [f"{option}={file}"] if option else [file]
        code, lines = said(capsys, *command, *beside, *named)
        assert (code, len(lines)) == (2, 1), (what, lines)


def test_every_kind_of_file_is_swept():
    kinds = {(command[-1], option) for command, option in file_arguments()}
    assert kinds >= {
        ("set-up", ""), ("check-specification", ""), ("verify", ""), ("try-profile", ""),
        ("try-profile", "--transcript"), ("replay", ""), ("damper", "--specification"),
    }  # fmt: skip


def test_spoilt_settings_are_refused(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    from benchstation.config.settings import default_settings_path

    settings = default_settings_path()
    settings.parent.mkdir(parents=True)
    for what, file in spoilt(tmp_path).items():
        if not Path(file).is_file() if "\0" not in file and len(file) < 1000 else True:
            continue
        with Path(file).open("rb") as source:
            settings.write_bytes(source.read(2_000_000))
        code, lines = said(capsys, "verify")
        assert (code, len(lines)) == (2, 1), (what, lines)


def test_a_spoilt_list_of_units_is_refused(tmp_path):
    for what, file in spoilt(tmp_path).items():
        try:
            Queue(None, lambda: [], lambda: None).read(Path(file))
        except StationError:
            continue
        pytest.fail(what)


def test_a_refusal_speaks_in_the_units_that_were_typed(capsys):
    far = refused(capsys, "calc", "oil", "--volume", "20 gal", "--density", "0.85 g/mL")
    assert far.endswith("gal.")
    assert "mL" not in far
    full = refused(
        capsys, "calc", "damper", "--specification", FRONT, "--oil", "18 fl oz",
        "--charge", "200 psi",
    )  # fmt: skip
    assert "fl oz" in full
    assert " mL" not in full
    assert " bar" not in full


def test_words_that_are_none_of_the_commands(capsys):
    for words in (["fly"], ["calc"], ["calc", "moon"], ["devices"], ["devices", "eat"], ["--fly"],
                  ["rehearse", "--seed", "x"], ["verify", "--anchor", "1:2"],
                  ["rehearse", "--fault", "no\0ne"]):  # fmt: skip
        refused(capsys, *words)
