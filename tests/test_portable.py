"""What other systems lack is on no way through: each module is imported, a unit worked, without it.

This is as far as one system can tell of another; the rest is listed in DEVELOPERS.md.
"""

import ast
import json
import subprocess
import sys

import pytest

from benchstation.driver_api.errors import StationError
from benchstation.store.backends import own_server
from tests.import_reader import OURS, ROOT, module_graph, sources

POSIX_ONLY = ("fcntl", "grp", "pty", "pwd", "resource", "syslog", "termios", "tty")
NOT_ON_WINDOWS = ("O_NOFOLLOW", "fchmod", "fork", "geteuid", "getuid", "mkfifo", "nice")
NOT_ON_WINDOWS += ("openpty", "statvfs", "ttyname", "uname", "SIGKILL", "SIGQUIT", "SIGALRM")
GUARDED = {
    "benchstation/screens/records/paper_batch.py": {"nice"},
    "benchstation/store/backends/own_server.py": {"geteuid", "SIGQUIT"},
    "sample_devices/host.py": {"openpty", "ttyname"},
    "sample_devices/thrown_away.py": {"O_NOFOLLOW", "getuid"},
}
"""Where such a name is used, behind a question whether it is there or a refusal."""
LIKE_WINDOWS = f"""
import builtins, importlib, json, os, sys

usual = builtins.__import__

def refusing(name, globals=None, *rest, **named):
    # Libraries chose by the system that they are on, and keep what they found.
    asker = (globals or {{}}).get("__name__", "").partition(".")[0]
    if asker in {OURS!r} and name.partition(".")[0] in {POSIX_ONLY!r}:
        raise ImportError(f"no {{name}} here")
    return usual(name, globals, *rest, **named)

builtins.__import__ = refusing
for name in ("openpty", "nice", "O_NOFOLLOW"):
    delattr(os, name)
"""
IMPORT_ALL = """
left = {}
for module in json.load(sys.stdin):
    try:
        importlib.import_module(module)
    except Exception as error:
        left[module] = repr(error)
print(json.dumps(left))
"""
REHEARSE = """
from benchstation.cli.main import main
sys.exit(main(["rehearse", "--fast"]))
"""


def run(code: str, given: str = "", **options: object) -> str:
    done = subprocess.run(
        [sys.executable, "-c", LIKE_WINDOWS + code],
        input=given,
        capture_output=True,
        text=True,
        **options,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def used(source: str) -> set[str]:
    """Return the names of this kind that a source takes from ``os`` or ``signal``."""
    if not any(name in source for name in NOT_ON_WINDOWS):
        return set()
    return {
        node.attr
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Attribute)
        and node.attr in NOT_ON_WINDOWS
        and isinstance(node.value, ast.Name)
        and node.value.id in ("os", "signal")
    }


def test_every_module_is_imported_without_what_windows_lacks():
    modules = sorted(
        name
        for name in module_graph()
        # Alembic runs these in a context of its own.
        if not name.startswith("benchstation.store.shop.migrations") and "__main__" not in name
    )
    assert len(modules) > 300
    assert json.loads(run(IMPORT_ALL, json.dumps(modules), cwd=ROOT, timeout=120)) == {}


def test_what_is_missing_is_found():
    code = "globals()['__name__'] = 'drivers.x'\ntry: import termios\nexcept ImportError: print(1)"
    assert run(code) == "1\n"
    assert used("import os, signal\nos.getuid()\nsignal.SIGKILL\nx.fork()") == {"getuid", "SIGKILL"}


def test_names_that_windows_lacks_stand_where_they_are_guarded():
    found = {}
    for path in sources().values():
        names = used(path.read_text("utf-8"))
        if names:
            found[path.relative_to(ROOT).as_posix()] = names
    assert found == GUARDED


def test_several_demonstration_benches_are_refused_in_words_where_they_cannot_run(monkeypatch):
    monkeypatch.delattr(own_server.socket, "AF_UNIX")
    with pytest.raises(StationError, match="local sockets"):
        own_server.require_programs()


@pytest.mark.soak
def test_a_unit_is_rehearsed_without_what_windows_lacks(tmp_path):
    said = run(REHEARSE, cwd=tmp_path, timeout=120)
    assert ": pass, " in said
    assert "socket://127.0.0.1:" in said
