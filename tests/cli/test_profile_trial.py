"""``devices try-profile``: what an author hears of a profile, right and wrong."""

import pytest

from benchstation.cli.main import main
from benchstation.cli.profile_trial import ProfileTrialError, try_profile
from benchstation.devices.profile import profile_text
from benchstation.driver_api.errors import StationError

NAME = "scale-request-reply"


@pytest.fixture
def profile(tmp_path):
    path = tmp_path / f"{NAME}.toml"
    path.write_text(profile_text(NAME), "utf-8")
    return path


def transcript(tmp_path, text: str):
    path = tmp_path / "t.txt"
    path.write_text(text, "utf-8")
    return path


def test_a_profile_alone_is_described(profile):
    said = list(try_profile(profile))
    assert "is asked by b'W\\r\\n'" in said
    assert any("tare b'T\\r\\n'" in line for line in said)
    assert "nothing was read with it yet" in said[-1]


def test_a_conversation_that_is_as_written(profile, tmp_path):
    text = 'poll b"W\\r\\n"\ndevice b"W S     123.45 g\\r\\n"\nreading mass 0.12345 g stable\n'
    said = list(try_profile(profile, transcript(tmp_path, text)))
    assert said[-2] == "2 steps, 1 of them from the device: as written."
    assert said[-1].startswith("Put it into ")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('device b"W S     123.45 g\\r\\n"\nreading mass 0.2 g stable\n', "t, line 2"),
        ('device b"W S     123.45 g\\r\\n"\n', "1 items and not 0"),
        ('device b"W X     123.45 g\\r\\n"\nreading mass 0.12345 g stable\n', "came instead"),
        ('poll b"P\\r"\n', "sends b'W\\r\\n' and not"),
        ('command print b"P\\r"\n', "print"),
        ('poll b"W\\r\\n"\n', "no reading came out"),
        ("device 5g\n", "no transcript"),
        ("hello\n", "'hello' is no step"),
    ],
)
def test_what_comes_out_otherwise_is_told_by_its_line(profile, tmp_path, text, words):
    with pytest.raises(ProfileTrialError) as refused:
        list(try_profile(profile, transcript(tmp_path, text)))
    assert words in str(refused.value)


def test_files_that_cannot_be_used(profile, tmp_path):
    with pytest.raises(ProfileTrialError, match="cannot be read"):
        list(try_profile(profile, tmp_path / "absent.txt"))
    other = tmp_path / "other.toml"
    other.write_text(profile.read_text("utf-8"), "utf-8")
    with pytest.raises(StationError, match="not the name of its file"):
        list(try_profile(other))
    with pytest.raises(StationError, match="cannot be used"):
        list(try_profile(tmp_path / "absent.toml"))


def test_on_the_command_line(profile, tmp_path, capsys):
    good = transcript(tmp_path, 'device b"W S     123.45 g\\r\\n"\nreading mass 0.12345 g stable\n')
    assert main(["devices", "try-profile", str(profile), "--transcript", str(good)]) == 0
    bad = transcript(tmp_path, 'device b"W S     123.45 g\\r\\n"\nreading mass 1 g stable\n')
    assert main(["devices", "try-profile", str(profile), "--transcript", str(bad)]) == 2
    assert "reads it otherwise" in capsys.readouterr().err
