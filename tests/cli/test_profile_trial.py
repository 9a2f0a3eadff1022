"""``devices try-profile``: what an author hears of a profile, right and wrong."""

import pytest

from benchstation.cli.main import main
from benchstation.cli.profile_trial import ProfileTrialError, try_profile
from benchstation.devices.profile import load_profile, profile_text
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Reading

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
    assert "is requested by b'W\\r\\n'" in said
    assert any("tare b'T\\r\\n'" in line for line in said)
    assert "nothing was read with it yet" in said[-1]


def test_a_conversation_that_is_as_written(profile, tmp_path):
    text = 'poll b"W\\r\\n"\ndevice b"W S     123.45 g\\r\\n"\nreading mass 0.12345 g stable\n'
    said = list(try_profile(profile, transcript(tmp_path, text)))
    assert said[-3] == "  W S     123.45 g..  123.45 g, steady"
    assert said[-2] == "2 steps, 1 of them from the device: as written."
    assert said[-1].startswith("Put it into ")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('device b"W S     123.45 g\\r\\n"\nreading mass 0.2 g stable\n', "t.txt, line 2"),
        (
            'device b"W S     123.45 g\\r\\n"\nreading mass 0.2 g stable\n',
            "written is 200.00 g, steady; it reads 123.45 g, steady",
        ),
        ('device b"W S     123.45 g\\r\\n"\n', "it reads 123.45 g, steady"),
        (
            'device b"W X     123.45 g\\r\\n"\nreading mass 0.12345 g stable\n',
            "differs at W >X     123.45 g",
        ),
        ('device b"W I\\r\\n"\nfault over range\n', "written is over range; it reads device error"),
        ('device b"W S     123.45 g\\r"\nreading mass 0.12345 g stable\n', "nothing comes"),
        ('poll b"P\\r"\n', "sends b'W\\r\\n' and not"),
        ('command print b"P\\r"\n', "print"),
        ('poll b"W\\r\\n"\n', "no reading came out"),
        ("device 5g\n", "no transcript"),
        ("hello\n", "'hello' is no step. See the help, 'Drivers'"),
    ],
)
def test_what_comes_out_otherwise_is_told_by_its_line(profile, tmp_path, text, words):
    with pytest.raises(ProfileTrialError) as refused:
        list(try_profile(profile, transcript(tmp_path, text)))
    assert words in str(refused.value)


def test_what_a_person_wrote_need_not_be_exact(profile, tmp_path):
    """One pound-force per square inch is no round number of pascals."""
    path = tmp_path / "gauge-value-unit.toml"
    path.write_text(profile_text("gauge-value-unit"), "utf-8")
    rounded = 'device b"+0150.00 psi\\r\\n"\nreading pressure 1034213.6 psi\n'
    assert "as written" in list(try_profile(path, transcript(tmp_path, rounded)))[-2]
    coarse = transcript(tmp_path, rounded.replace("1034213.6", "1034000"))
    with pytest.raises(ProfileTrialError, match="reads it otherwise"):
        list(try_profile(path, coarse))
    assert "as written" in list(try_profile(path, coarse, 1e-3))[-2]


def test_a_recording_may_begin_amid_a_frame(profile, tmp_path):
    good = 'device b"W S     123.45 g\\r\\n"\nreading mass 0.12345 g stable\n'
    for begun in (
        'device b"3.45 g\\r\\n"\n',
        'device b"3.45 g\\r\\nW I\\r\\n"\nfault device error\n',
    ):
        said = list(try_profile(profile, transcript(tmp_path, begun + good)))
        assert "as written" in said[-2]
        with pytest.raises(ProfileTrialError, match=r"line [34]: "):
            list(try_profile(profile, transcript(tmp_path, good + begun)))


def test_a_number_of_any_width_is_read_from_the_first_line_on(tmp_path):
    """A driver that joins a stream waits for a line's end; a transcript begins behind one."""
    path = tmp_path / "loose.toml"
    path.write_text(
        profile_text("gauge-bare-number")
        .replace('poll = "P\\r"', "")
        .replace("poll_hz = 10.0", "")
        .replace("gauge-bare-number", "loose"),
        "utf-8",
    )
    text = 'device b"15.32\\r"\nreading pressure 1532000 bar\ndevice b"15.33\\r"\n'
    said = list(try_profile(path, transcript(tmp_path, text + "reading pressure 1533000 bar\n")))
    assert "  15.32.  15.32 bar" in said
    with pytest.raises(ProfileTrialError, match=r"line 3: .*it reads 15.33 bar"):
        list(try_profile(path, transcript(tmp_path, text)))


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
    near = ["devices", "try-profile", str(profile), "--transcript", str(bad), "--tolerance"]
    assert main([*near, "0.9"]) == 0
    assert main([*near, "2"]) == 2
    assert "--tolerance 2 is none" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("step_kg", "unit", "words"),
    [
        (1e-5, "g", "123.45 g"),
        (5e-5, "g", "123.45 g"),
        (2.5e-4, "g", "123.45 g"),
        (1e-4, "g", "123.5 g"),
        (2e-3, "g", "123 g"),
        (5e-5, "kg", "0.12345 kg"),
        (None, "g", "123.45 g"),
    ],
)
def test_a_reading_has_the_digits_of_its_resolution(step_kg, unit, words):
    """A scale that goes in steps of 50 mg shows hundredths of a gram."""
    reading = Reading("mass", 0.12345, 0.0, unit, b"", resolution=step_kg)
    assert load_profile("scale-status-first").in_unit(reading) == words
