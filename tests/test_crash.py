"""Uncaught errors: logged whole, shown once, and a dead interpreter is found at the next start."""

import faulthandler
import logging
import subprocess
import sys
import threading

import pytest

from benchstation.crash import FAULTS_NAME, SWITCH_INTERVAL_S, CrashHooks, prepare_process
from benchstation.driver_api.errors import StationError


@pytest.fixture
def shown():
    return []


@pytest.fixture
def hooks(tmp_path, shown):
    with CrashHooks(tmp_path / "logs", shown.append) as installed:
        yield installed


def fail_here(error):
    """Return ``error`` with a traceback, handed to the hook as the interpreter would."""
    try:
        raise error
    except BaseException as caught:  # noqa: BLE001
        sys.excepthook(type(caught), caught, caught.__traceback__)


def run_in_thread(target):
    thread = threading.Thread(target=target, name="reader of gauge-1")
    thread.start()
    thread.join()


def test_a_bug_is_logged_with_its_traceback_and_shown(hooks, shown):
    fail_here(ZeroDivisionError("pieces"))
    (crash,) = shown
    assert crash.bug
    assert "ZeroDivisionError" in crash.words
    assert str(hooks.log_path) in crash.words
    log = hooks.log_path.read_text("utf-8")
    assert "CRITICAL" in log
    assert "fail_here" in log


def test_a_worded_error_is_shown_in_its_own_words_and_its_detail_logged(hooks, shown):
    fail_here(StationError("the disk is full.", where="journal", advice="Free some.", detail="E28"))
    assert [(crash.bug, crash.words) for crash in shown] == [
        (False, "journal: the disk is full. Free some.")
    ]
    assert "E28" in hooks.log_path.read_text("utf-8")


def test_a_thread_that_dies_is_named(hooks, shown):
    def die():
        raise RuntimeError("no more bytes")

    run_in_thread(die)
    assert [crash.thread for crash in shown] == ["reader of gauge-1"]
    assert "no more bytes" in hooks.log_path.read_text("utf-8")


def test_the_same_place_is_shown_once_and_logged_every_time(hooks, shown):
    for _ in range(5):
        fail_here(ValueError("again"))
    fail_here(KeyError("another"))
    assert [type(crash.error) for crash in shown] == [ValueError, KeyError]
    assert hooks.log_path.read_text("utf-8").count("ValueError: again") == 5


def test_showing_that_fails_does_not_raise(tmp_path):
    def cannot_show(crash):
        raise RuntimeError("no window")

    with CrashHooks(tmp_path, cannot_show) as hooks:
        fail_here(ValueError("x"))
    assert "no window" in hooks.log_path.read_text("utf-8")


def test_leaving_on_purpose_is_no_crash(hooks, shown, capsys):
    run_in_thread(sys.exit)
    fail_here(KeyboardInterrupt())
    assert shown == []
    assert "KeyboardInterrupt" in capsys.readouterr().err


def test_an_error_in_a_finalizer_is_logged(hooks, shown):
    class Odd:
        def __del__(self):
            raise ValueError("while going away")

    Odd()
    assert "while going away" in hooks.log_path.read_text("utf-8")
    assert shown == []


def test_everything_is_put_back(tmp_path):
    before = (sys.excepthook, threading.excepthook, sys.unraisablehook)
    state = (faulthandler.is_enabled(), logging.getLogger().level, logging.getLogger().handlers[:])
    with CrashHooks(tmp_path):
        assert sys.excepthook is not before[0]
    assert (sys.excepthook, threading.excepthook, sys.unraisablehook) == before
    root = logging.getLogger()
    assert (faulthandler.is_enabled(), root.level, root.handlers) == state


def test_a_folder_that_cannot_be_made_is_worded(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(StationError, match="log cannot be written"):
        CrashHooks(tmp_path / "file" / "logs").install()


def test_the_next_start_finds_the_stacks_of_a_dead_interpreter(tmp_path):
    code = (
        "import faulthandler, pathlib, sys; from benchstation.crash import CrashHooks;"
        "CrashHooks(pathlib.Path(sys.argv[1])).install(); faulthandler._sigabrt()"
    )
    died = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)],
        env={"PYTHONPATH": ":".join(sys.path)},
        check=False,
        timeout=60,
    )
    assert died.returncode != 0
    with CrashHooks(tmp_path) as hooks:
        assert "Fatal Python error" in hooks.previous_fault
    with CrashHooks(tmp_path) as again:
        assert again.previous_fault == ""
    assert (tmp_path / FAULTS_NAME).with_suffix(".previous.log").exists()


def test_threads_get_their_turn_quickly():
    before = sys.getswitchinterval()
    try:
        prepare_process()
        assert sys.getswitchinterval() == pytest.approx(SWITCH_INTERVAL_S)
    finally:
        sys.setswitchinterval(before)
