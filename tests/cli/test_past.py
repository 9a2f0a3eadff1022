"""The past that another window has made: its maker ends with the window that reads it."""

import subprocess

from benchstation.demo import this_program


def test_it_ends_quietly_when_nobody_reads_it_any_more(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    making = subprocess.Popen(
        this_program.command("demo", "--past", "9"), stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    making.stdout.close()
    said = making.stderr.read()
    making.stderr.close()
    assert (making.wait(60), said) == (1, b"")
