"""A profile made from marks on frames: every shape is read back by the driver that reads it."""

from dataclasses import replace
from pathlib import Path

import pytest

from benchstation.devices.frame_fit import fit_frames
from benchstation.devices.profile import load_profile
from benchstation.devices.profile_builder import (
    Draft,
    Mark,
    draft_from,
    profile_id,
    profile_of,
    text_of,
    transcript_of,
)
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.testing.transcript import (
    FromDevice,
    parse_transcript,
    read_transcripts,
    replay,
)


def heard(*texts, end=b"\r\n", start=b""):
    """Return bytes as they come: the first frame was begun before, the last is not whole."""
    whole = b"".join(start + text + end for text in texts)
    return b"45" + end + whole + whole + start + texts[0][:3]


def drafted(*texts, kind="mass", **ends):
    made = draft_from(heard(*texts, **ends), kind, 3.0, None)
    assert made is not None
    return replace(made, title="My scale")


def values(draft):
    fits = fit_frames(profile_of(draft), draft.frames)
    assert all(fit.fits for fit in fits), [fit.words for fit in fits if not fit.fits]
    return {
        text.decode(): [(round(i.value, 9), i.stable) for i in fit.items]
        for text, fit in zip(draft.texts, fits, strict=True)
    }


def test_number_unit_and_sign_are_guessed():
    found = drafted(b"+0015.32 bar", b"-0000.01 bar", b"+0000.00 bar", kind="pressure")
    assert [span.mark for span in found.spans] == [Mark.SIGN, Mark.NUMBER, Mark.UNIT]
    assert values(found) == {
        "+0015.32 bar": [(1532000.0, None)],
        "-0000.01 bar": [(-1000.0, None)],
        "+0000.00 bar": [(0.0, None)],
    }


def test_a_state_in_front_is_marked_by_hand_and_its_texts_are_told_apart():
    found = drafted(b"ST,+00123.45  g", b"US,+00120.10  g", b"ST,-00000.02  g")
    found = found.with_mark(Mark.STATE, 0, 0, 2)
    assert set(found.texts_of(Mark.STATE)) == {"ST", "US"}
    found = replace(found, states={"ST": "stable", "US": "moving"})
    assert values(found) == {
        "ST,+00123.45  g": [(0.12345, True)],
        "US,+00120.10  g": [(0.1201, False)],
        "ST,-00000.02  g": [(-2e-05, True)],
    }


def test_a_mark_that_stands_there_only_while_it_moves():
    found = drafted(b"   123.45 g", b"  1120.10 g ?", b"     9.10 g ?")
    found = found.with_mark(Mark.STATE, 1, 11, 13)
    found = found.with_mark(Mark.NUMBER, 1, 0, 9).with_mark(Mark.UNIT, 1, 10, 11)
    assert set(found.texts_of(Mark.STATE)) == {"", " ?"}
    found = replace(found, states={"": "stable", " ?": "moving"})
    assert values(found)["   123.45 g"] == [(0.12345, True)]
    assert values(found)["     9.10 g ?"] == [(0.0091, False)]


def test_a_number_without_a_width_of_its_own():
    found = drafted(b"9.98 g S", b"123.45 g S", b"-0.02 g D", b"1123.4 g D")
    found = found.with_mark(Mark.STATE, found.marked, *at(found, b"S", b"D"))
    found = replace(found, states={"S": "stable", "D": "moving"})
    assert "longest" in text_of(found)
    assert values(found) == {
        "9.98 g S": [(0.00998, True)],
        "123.45 g S": [(0.12345, True)],
        "-0.02 g D": [(-2e-05, False)],
        "1123.4 g D": [(1.1234, False)],
    }


def at(draft, *texts):
    """Return where one of these stands last in the marked frame."""
    frame = draft.texts[draft.marked]
    start = max(frame.rfind(text) for text in texts)
    return start, start + 1


def test_a_decimal_comma_and_units_that_change():
    found = drafted(b"   123,45 g ", b"     0,12 kg", b"     9,00 g ")
    found = found.with_mark(Mark.UNIT, 0, 10, 12)
    assert values(found)["     0,12 kg"] == [(0.12, None)]
    assert values(found)["   123,45 g "] == [(0.12345, None)]


def test_a_bare_number_takes_its_unit_from_the_form():
    found = drafted(b"15.320", b"15.310", kind="pressure", end=b"\r")
    found = replace(found, unit="bar")
    assert values(found) == {"15.320": [(1532000.0, None)], "15.310": [(1531000.0, None)]}


def test_what_differs_from_frame_to_frame_and_means_nothing_is_skipped():
    found = drafted(b"N0001 00123.45 g", b"N0002 00123.46 g", b"N0003 00123.46 g")
    found = found.with_mark(Mark.NUMBER, 0, 6, 14)
    assert 'kind = "other", width = 6' in text_of(found)
    assert values(found)["N0002 00123.46 g"] == [(0.12346, None)]


def test_a_frame_between_two_characters():
    found = drafted(b"+012.34 bar", b"+012.35 bar", kind="pressure", start=b"\x02", end=b"\x03")
    assert (found.start, found.end) == (b"\x02", b"\x03")
    assert values(found)["+012.34 bar"] == [(1234000.0, None)]


def test_an_overload_is_told_by_its_state():
    found = drafted(b"ST,+00123.45 g", b"OL,+99999.99 g")
    found = found.with_mark(Mark.STATE, 0, 0, 2)
    found = replace(found, states={"OL": "overload"})
    fits = fit_frames(profile_of(found), found.frames)
    assert [fit.understood for fit in fits] == [True, True]
    assert sum(fit.fits for fit in fits) == 1


def test_a_frame_that_does_not_fit_says_where():
    found = drafted(*(b"+00%02d.32 bar" % n for n in range(20)), b"+00x5.32 bar", kind="pressure")
    fits = fit_frames(profile_of(found), found.frames)
    (odd,) = [fit for fit in fits if not fit.fits]
    assert odd.place == 1


def test_a_mark_takes_the_place_of_what_it_covers_and_can_be_taken_off():
    found = drafted(b"ST,+00123.45 g", b"ST,+00123.46 g")
    wider = found.with_mark(Mark.NUMBER, 0, 3, 12)
    assert wider.span(Mark.SIGN) is None
    assert wider.span(Mark.NUMBER).start == 3
    assert wider.without(Mark.NUMBER).span(Mark.NUMBER) is None
    elsewhere = found.with_mark(Mark.STATE, 1, 0, 2)
    assert [span.mark for span in elsewhere.spans] == [Mark.STATE]


@pytest.mark.parametrize(("frame", "start", "end"), [(0, 3, 3), (0, 5, 2), (9, 0, 2), (0, 0, 99)])
def test_nothing_chosen_marks_nothing(frame, start, end):
    with pytest.raises(StationError, match="nothing is chosen"):
        drafted(b"+012.34 g", b"+012.35 g").with_mark(Mark.STATE, frame, start, end)


def test_no_number_no_profile():
    found = drafted(b"READY", b"BUSY")
    assert found.spans == ()
    with pytest.raises(StationError, match="no number is marked"):
        text_of(found)


@pytest.mark.parametrize("data", [b"", b"\x00\x01\x02", b"one line\r\n", b"\xff\xfe\r\n" * 5])
def test_bytes_without_text_frames_give_no_draft(data):
    assert draft_from(data, "mass", 3.0, None) is None


def test_a_unit_that_is_none_is_refused_in_words():
    found = drafted(b"+012.34 zz", b"+012.35 zz")
    with pytest.raises(StationError, match="zz"):
        profile_of(found)
    assert values(replace(found, units={"zz": "g"}))["+012.34 zz"] == [(0.01234, None)]


def test_what_a_person_types_is_no_markup():
    found = replace(drafted(b"+012.34 g", b"+012.35 g"), title='A "scale"\n[options]')
    profile = profile_of(found)
    assert profile.title == 'A "scale"?[options]'
    assert profile.id == "a-scale-options"
    assert profile_id("Überschrift 12") == "berschrift-12"
    assert profile_id("µ") == "my-device"


def test_line_range_and_rate_are_written():
    line = LineSettings(1200, 7, "E", 1)
    found = draft_from(heard(b"+012.34 bar", b"+012.35 bar"), "pressure", 2.0, line)
    found = replace(found, title="G", low="0 bar", high="40 bar", reference="gauge")
    profile = profile_of(found)
    assert profile.line_settings == line
    assert profile.channel.high == pytest.approx(4e6)
    assert profile.channel.reference == "gauge"
    assert profile.rate.expected_hz == 2.0


def test_the_transcript_is_read_back_by_the_kit():
    found = drafted(b"ST,+00123.45 g", b"US,+00123.46 g", b"OL,+99999.99 g")
    found = found.with_mark(Mark.STATE, 0, 0, 2)
    found = replace(found, states={"US": "moving", "OL": "overload"})
    profile = profile_of(found)
    text = transcript_of(found, fit_frames(profile, found.frames))
    items = replay(parse_transcript(text), profile.make_driver())
    assert len(items) == 3
    assert isinstance(found, Draft)


TRANSCRIPTS = Path(__file__).parent.parent / "transcripts"
SHAPES = sorted(path.name for path in TRANSCRIPTS.iterdir() if path.is_dir())


@pytest.mark.parametrize("shape", SHAPES)
def test_what_is_guessed_of_any_known_device_is_a_profile_or_refused_in_words(shape):
    """Frames of every shipped shape, those of Modbus too: never a fault of this program."""
    steps = [s for t in read_transcripts(TRANSCRIPTS / shape) for s in t.steps]
    sent = [s.data for s in steps if isinstance(s, FromDevice)]
    kind = load_profile(shape).kind
    made = draft_from(b"".join(sent) * 2, kind, 3.0, None)
    if made is None:
        return
    made = replace(made, title="Guessed", unit="g" if kind == "mass" else "bar")
    assert outcome(made) in ("refused", len(made.texts))


def outcome(draft):
    """Return how many frames were judged, or that the profile was refused in words."""
    try:
        return len(fit_frames(profile_of(draft), draft.frames))
    except StationError:
        return "refused"


GUESSED = (
    "barometer-value-unit",
    "gauge-bare-number",
    "gauge-value-unit",
    "hygrometer-value-unit",
    "scale-decimal-comma",
    "scale-mark-while-moving",
    "scale-status-word",
    "scale-weight-first",
    "thermometer-value-unit",
)


@pytest.mark.parametrize("shape", GUESSED)
def test_number_sign_and_unit_of_these_shapes_are_guessed_whole(shape):
    (readings,) = [t for t in read_transcripts(TRANSCRIPTS / shape) if t.name == "readings"]
    sent = [step.data for step in readings.steps if isinstance(step, FromDevice)]
    kind = load_profile(shape).kind
    made = draft_from(b"".join(sent) * 2, kind, 3.0, None)
    made = replace(made, title="Guessed", unit="g" if kind == "mass" else "bar")
    assert all(fit.fits for fit in fit_frames(profile_of(made), made.frames))
