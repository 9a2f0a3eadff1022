"""A profile that is being written, held against the frames just heard."""

import pytest

from benchstation.devices.frame_fit import fit_frames, frames_in
from benchstation.devices.profile import ProfileError, load_profile, profile_from
from benchstation.driver_api.errors import StationError

DRAFT = b"""
id = "draft"
title = "Draft"
kind = "mass"
driver = "text_line"
[rate]
expected_hz = 5.0
[options]
units = { g = "g", kg = "kg" }
fields = [
  { kind = "sign", plus = "+", minus = "-" },
  { kind = "number", width = 7, pad = "space", codes = { "-------" = "overload" } },
  { kind = "literal", text = " " },
  { kind = "unit", width = 2, align = "left" },
  { kind = "status", codes = { "" = "stable", "?" = "moving" } },
]
"""


def fits(*frames, text=DRAFT):
    return fit_frames(profile_from(text, "draft"), frames)


def test_each_frame_is_told_as_what_it_is_read():
    steady, moving, kilos = fits(b"+ 123.45 g \r\n", b"-   0.20 g ?\r\n", b"+  1.250 kg\r\n")
    assert [fit.fits for fit in (steady, moving, kilos)] == [True] * 3
    assert steady.words == "123.45 g, steady"
    assert moving.words == "-0.20 g, moving"
    assert kilos.words == "1.250 kg, steady"
    assert steady.items[0].value == pytest.approx(0.12345)


@pytest.mark.parametrize(
    ("frame", "place"),
    [
        (b" 123.45 g \r\n", 0),
        (b"+ 123,45 g \r\n", 1),
        (b"+ 123.45g  \r\n", 8),
        (b"+ 123.45 lb\r\n", 9),
        (b"+ 123.45 g !\r\n", 11),
    ],
)
def test_the_first_place_that_differs_is_named(frame, place):
    (fit,) = fits(frame)
    assert (fit.fits, fit.understood, fit.place) == (False, False, place)
    assert frame[place : place + 1]


def test_an_overload_does_not_fit_and_is_understood():
    (fit,) = fits(b"+------- g \r\n")
    assert (fit.fits, fit.understood, fit.place) == (False, True, None)
    assert "overload" in fit.words


def test_a_wrong_end_is_told_apart_from_a_wrong_column():
    (fit,) = fits(b"+ 123.45 g \r")
    assert (fit.fits, fit.understood, fit.place) == (False, False, None)
    assert "start or end" in fit.words


def test_a_damaged_end_is_a_place():
    (fit,) = fits(b"+ 123.45 g \n")
    assert (fit.fits, fit.place) == (False, 11)


def test_every_value_of_a_line_is_told():
    text = (
        DRAFT.replace(b'kind = "mass"', b'kind = "temperature"')
        .replace(b'units = { g = "g", kg = "kg" }', b'units = { C = "degC" }')
        .replace(
            b'{ kind = "status", codes = { "" = "stable", "?" = "moving" } }',
            b'{ kind = "number", of = "humidity", width = 5, pad = "space" },'
            b'{ kind = "unit", of = "humidity" }',
        )
        + b'[options.also.humidity]\nunits = { "%" = "%" }\n'
    )
    (fit,) = fits(b"+  21.40 C  45.2%\r\n", text=text)
    assert fit.words == "21.40 C; 45.2 %"
    assert fit.fits


def test_frames_are_cut_at_their_ends_and_the_first_part_is_left_out():
    heard = b"45 g \r\n+ 123.45 g \r\n+ 123.46 g \r\n+ 12"
    assert frames_in(heard, b"\r\n") == [b"+ 123.45 g \r\n", b"+ 123.46 g \r\n"]
    assert frames_in(b"3\x03\x02+1\x03\x02+2\x03\x02", b"\x03", b"\x02") == [
        b"\x02+1\x03",
        b"\x02+2\x03",
    ]


def test_registers_fit_or_say_why():
    profile = load_profile("thermometer-registers")
    good, spoilt = fit_frames(
        profile, [bytes.fromhex("020404 00d60000 297c"), bytes.fromhex("020404 00d70000 297c")]
    )
    assert (good.fits, good.words) == (True, "21.4 degC")
    assert (spoilt.fits, spoilt.place) == (False, None)
    assert "bad checksum" in spoilt.words


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b'kg = "kg"', b'kg = "kilo"', "units.kg: 'kilo' is not a mass"),
        (b'kg = "kg"', b'kg = "bar"', "units.kg: 'bar' is not a mass"),
        (b"width = 7", b"width = 70", "fields 2: option 'width'"),
        (
            b'codes = { "" ',
            b'kodes = { "" ',
            "fields 5: option 'codes' is missing; 'kodes' stands",
        ),
        (b'kind = "mass"', b'kind = "colour"', "kind"),
        (b"[rate]", b"[rate", "line 6"),
        (b"expected_hz = 5.0", b"expected_hz = -5.0", "expected_hz"),
    ],
)
def test_a_bad_draft_is_one_line_that_says_what_and_where(old, new, said):
    with pytest.raises(StationError) as refused:
        fits(b"+ 123.45 g \r\n", text=DRAFT.replace(old, new, 1))
    text = str(refused.value)
    assert said in text
    assert "\n" not in text


def test_a_draft_has_the_name_that_it_is_kept_under():
    with pytest.raises(ProfileError, match="not the name of its file"):
        profile_from(DRAFT, "another")
