"""A file is put in place whole or not at all: seen by its bytes, its inode, and by killing it."""

import os
import signal
import subprocess
import sys
import textwrap

import pytest

from benchstation import atomic_file as whole_file
from benchstation.atomic_file import part_of, put_in_place
from benchstation.config.settings import Settings, load_settings, save_settings
from tests.waiting import let_pass

OLD, NEW = b"old\n" * 3000, b"new\n" * 3000


@pytest.fixture
def place(tmp_path):
    path = tmp_path / "kept.txt"
    path.write_bytes(OLD)
    part_of(path).write_bytes(NEW)
    return path


def test_the_new_file_is_another_file(place):
    """Nothing is written in place: who has the old one open goes on reading the old one."""
    inode = place.stat().st_ino
    with place.open("rb") as reader:
        assert put_in_place(part_of(place), place) == place
        assert reader.read() == OLD
    assert place.read_bytes() == NEW
    assert place.stat().st_ino != inode
    assert not part_of(place).exists()


def test_its_bytes_are_on_disk_before_its_name(place, monkeypatch):
    done = []
    sync, replace = os.fsync, type(place).replace

    def synced(descriptor):
        done.append(("sync", os.readlink(f"/proc/self/fd/{descriptor}")))
        sync(descriptor)

    def replaced(self, target):
        done.append(("name", str(target)))
        return replace(self, target)

    if not os.path.exists("/proc/self/fd"):
        pytest.skip("names of open files are read from /proc")
    monkeypatch.setattr(whole_file.os, "fsync", synced)
    monkeypatch.setattr(type(place), "replace", replaced)
    put_in_place(part_of(place), place)
    assert done == [
        ("sync", str(part_of(place))),
        ("name", str(place)),
        ("sync", str(place.parent)),
    ]


def test_what_fails_leaves_the_old_one_and_no_litter(place, monkeypatch):
    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(whole_file.os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        put_in_place(part_of(place), place)
    assert place.read_bytes() == OLD
    assert [entry.name for entry in place.parent.iterdir()] == [place.name]


WRITER = textwrap.dedent("""
    import sys
    from pathlib import Path
    from benchstation.config.settings import Settings, save_settings
    n = 0
    while True:
        n += 1
        save_settings(Settings(shop=f"shop {n} " + "x" * 60), Path(sys.argv[1]))
        if n == 1:
            print("on", flush=True)
""")


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
def test_killed_while_it_saves_there_are_whole_settings(tmp_path):
    path = tmp_path / "settings.json"
    save_settings(Settings(shop="before"), path)
    for n in range(3):
        child = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
        )
        assert child.stdout.readline() == "on\n"
        let_pass(0.05 + 0.013 * n)
        child.kill()
        child.wait()
        child.stdout.close()
        assert load_settings(path).shop.startswith("shop ")
