from types import SimpleNamespace

import pytest

from benchstation.demo.picture import demo_png
from benchstation.domain import photos
from benchstation.domain.events import PhotoSetAside, StepReopened
from benchstation.domain.inputs.given import Picture
from benchstation.domain.photos import JPEG, PNG, photo_of
from benchstation.domain.rebuild import apply
from benchstation.domain.recorded_inputs import photos_in
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.domain.unit_record import RecordedStep
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words
from tests.picture_headers import jpeg

ONE, TWO = photo_of(demo_png(1), "1.png"), photo_of(demo_png(2), "2.png")


def test_a_picture_is_known_by_its_first_bytes_and_not_by_its_name():
    assert ONE.media_type == PNG
    assert photo_of(jpeg(640, 480) + b" trailer", "x.png").media_type == JPEG


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "no JPEG or PNG"),
        (b"GIF89a", "no JPEG or PNG"),
        (b"%PDF-1.7", "no JPEG or PNG"),
        (demo_png(1)[:-8], "cut off"),
        (b"\xff\xd8\xff\xe0 half", "cut off"),
        (b"\xff\xd8\xff" + bytes(12_000_000), "at most 12 MB"),
    ],
)
def test_what_is_no_whole_picture_is_refused_in_words(data, word):
    with pytest.raises(NotAllowedError, match=word):
        photo_of(data, "it")


def taken(state, fact, *pictures):
    for n, photo in enumerate(pictures):
        for event in photos.take_photo(state, photo, f"view {n}"):
            state = apply(state, fact(event))
    return state


def test_the_step_is_signed_with_its_pictures(rear_at, fact):
    state = taken(rear_at("pictures"), fact, ONE, TWO)
    (event,) = sign_step(state, {})
    assert evidence_in_words(event.evidence, METRIC) == "2 photographs: view 0, view 1"
    (photographed,) = event.evidence
    assert photographed.pictures[0] == Picture(ONE.sha256, len(ONE.data), PNG, "view 0")
    step = RecordedStep("pictures", "Photographs", "ines", "Ines", "", event.evidence)
    record = SimpleNamespace(steps=(step,))
    assert [title for title, _ in photos_in(record)] == ["Photographs"] * 2


def test_too_few_pictures_sign_nothing_but_a_deviation(rear_at):
    with pytest.raises(NotAllowedError, match="0 of 1 photographs"):
        sign_step(rear_at("pictures"), {})
    (event,) = sign_step(rear_at("pictures", deviated=True), {})
    said = evidence_in_words(event.evidence, METRIC)
    assert said == "0 photographs, accepted as a deviation"


def test_the_same_picture_or_one_too_many_is_refused(rear_at, fact):
    state = taken(rear_at("pictures"), fact, ONE)
    with pytest.raises(NotAllowedError, match="this very picture"):
        photos.take_photo(state, ONE, "")
    state = taken(state, fact, *(photo_of(demo_png(n), "n") for n in (2, 3, 4)))
    with pytest.raises(NotAllowedError, match="there are 4 photographs already"):
        photos.take_photo(state, photo_of(demo_png(5), "5"), "")


@pytest.mark.parametrize("caption", ["x" * 201, "bell \x07"])
def test_a_caption_that_cannot_be_printed_is_refused(rear_at, caption):
    with pytest.raises(NotAllowedError, match="caption"):
        photos.take_photo(rear_at("pictures"), ONE, caption)


def test_the_last_picture_can_be_set_aside(rear_at, fact):
    with pytest.raises(NotAllowedError, match="no photograph yet"):
        photos.set_aside(rear_at("pictures"))
    state = taken(rear_at("pictures"), fact, ONE, TWO)
    (event,) = photos.set_aside(state)
    assert event == PhotoSetAside("u1", "pictures", TWO.sha256)
    state = apply(state, fact(event))
    assert [p.photo_sha256 for p in state.photos] == [ONE.sha256]


def test_going_back_asks_for_the_pictures_anew(rear_at, fact):
    state = taken(rear_at("pictures"), fact, ONE)
    assert apply(state, fact(StepReopened("u1", "strip", "again"))).photos == ()
    assert apply(state, fact(StepReopened("u1", "intake", "again"))).photos == ()
