"""Sign-in: PINs that are kept as hashes, and the pause that grows with wrong tries."""

import hashlib
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.domain import people
from benchstation.domain.people import (
    COST,
    FIRST_PAUSE_S,
    FREE_TRIES,
    LONGEST_PAUSE_S,
    BadgeError,
    Lockout,
    Person,
    PinError,
    Role,
    badge_mark,
    badge_owner,
    check_pin,
    hash_badge,
    hash_pin,
    new_badge_salt,
)


@pytest.fixture(autouse=True)
def at_full_cost(monkeypatch):
    """Hash as the program does; ``COST`` was taken before anything was made quicker."""
    monkeypatch.setattr(people, "COST", COST)


def test_a_new_hash_costs_what_the_text_says_and_names_it():
    assert people.hash_pin("271828").startswith("scrypt$16384$8$1$")
    assert people.hash_badge("B-271828").startswith("scrypt$16384$8$1$")


def person(pin_hash):
    return Person("p1", "Ada", frozenset({Role.TECHNICIAN}), pin_hash)


def test_scrypt_of_this_library_is_that_of_rfc_7914():
    # RFC 7914 section 12, third test vector, first 16 of 64 bytes.
    key = hashlib.scrypt(b"pleaseletmein", salt=b"SodiumChloride", n=16384, r=8, p=1, dklen=64)
    assert key[:16].hex(" ") == "70 23 bd cb 3a fd 73 48 46 1c 06 cd 81 fd 38 eb"


def test_a_pin_opens_only_with_itself_and_is_salted():
    first, second = hash_pin("271828"), hash_pin("271828")
    assert first != second
    assert "271828" not in first
    assert check_pin(person(first), "271828")
    assert not check_pin(person(first), "271829")
    assert not check_pin(person(first), "")


@pytest.mark.parametrize(
    "pin", ["", "12345", "abcdef", "12345x", "٣١٤١٥٩", "-31415", "3" * 33, "3" * 1000]
)
def test_a_pin_has_six_to_thirty_two_digits(pin):
    with pytest.raises(PinError, match="6 to 32 digits"):
        hash_pin(pin)


@pytest.mark.parametrize("pin", ["000000", "777777", "123456", "890123", "654321"])
def test_a_pin_that_is_guessed_first_is_refused(pin):
    with pytest.raises(PinError, match="easy to guess"):
        hash_pin(pin)


@pytest.mark.parametrize(
    "stored",
    [
        "",
        "scrypt",
        "plain$1$1$1$AAAA$AAAA",
        "scrypt$16384$8$1$!!$AAAA",
        "scrypt$16384$8$1$AAAA$",
        "scrypt$1073741824$8$1$AAAA$" + "A" * 43 + "=",
        "scrypt$3$8$1$AAAA$" + "A" * 43 + "=",
        "scrypt$-2$8$1$AAAA$" + "A" * 43 + "=",
    ],
)
def test_a_missing_or_damaged_hash_opens_for_nobody(stored):
    assert not check_pin(person(stored), "271828")


def test_roles_are_asked_for_by_name():
    ada = person("")
    assert ada.has(Role.TECHNICIAN, Role.LEAD)
    assert not ada.has(Role.QA)


def test_first_tries_are_free_then_the_pause_doubles_up_to_the_longest():
    doublings = math.ceil(math.log2(LONGEST_PAUSE_S / FIRST_PAUSE_S))
    state, pauses = Lockout(), []
    for _ in range(FREE_TRIES + doublings + 1):
        state = state.failed(100.0)
        pauses.append(state.wait_s(100.0))
    doubled = [FIRST_PAUSE_S * 2**n for n in range(doublings)]
    free = [0.0] * (FREE_TRIES - 1)
    assert pauses == [*free, *doubled, LONGEST_PAUSE_S, LONGEST_PAUSE_S]
    assert state.passed() == Lockout()


@given(st.integers(0, 10**9), st.floats(0, 1e10))
def test_a_pause_never_shrinks_and_always_ends(failures, at):
    state = Lockout(failures, 0.0).failed(at)
    more = state.failed(at)
    assert more.wait_s(at) >= state.wait_s(at)
    assert more.wait_s(at + LONGEST_PAUSE_S + 1) == 0.0
    assert FIRST_PAUSE_S <= LONGEST_PAUSE_S


def with_badge(name, text, salt):
    return Person(name, name, frozenset(), "", badge_mark(text, salt), hash_badge(text))


def test_a_badge_is_found_among_many_and_is_nobody_elses():
    salt = new_badge_salt()
    people = [with_badge(f"p{n}", f"badge-{n:04}", salt) for n in range(12)]
    assert badge_owner(people, " badge-0007\n", [salt]) is people[7]
    assert badge_owner(people, "badge-0012", [salt]) is None
    assert badge_owner(people, "badge-0007", [new_badge_salt()]) is not people[3]
    assert badge_owner(people, "", [salt]) is None
    assert badge_owner(people, "badge-0007", ()) is None


def test_the_badge_of_who_left_is_nobodys():
    salt = new_badge_salt()
    gone = replace(with_badge("p1", "badge-0001", salt), left=True)
    assert badge_owner([gone], "badge-0001", [salt]) is None
    assert not gone.can_sign_in


def test_the_mark_of_a_badge_is_eight_bits_of_rfc_4231():
    # RFC 4231 section 4.3: HMAC-SHA-256 of this text under the key "Jefe" begins with 5b dc c1 46.
    assert badge_mark("what do ya want for nothing?", "Jefe") == "5b"


def test_a_mark_takes_no_slow_hash_for_other_badges(monkeypatch):
    slow = []
    monkeypatch.setattr(hashlib, "scrypt", lambda *args, **more: slow.append(1) or b"x" * 32)
    salt = "salt"
    people = [with_badge(f"p{n}", f"badge-{n:04}", salt) for n in range(50)]
    slow.clear()
    badge_owner(people, "unknown", [salt])
    alike = sum(p.badge_mark == badge_mark("unknown", salt) for p in people)
    assert len(slow) == alike < 5


def test_marks_do_not_tell_the_text_apart_from_many():
    marks = {badge_mark(f"badge-{n}", "s") for n in range(5000)}
    assert len(marks) == 256


@pytest.mark.parametrize("text", ["", "short", "x" * 201, "tab\tinside", "bell\x07bell"])
def test_a_badge_that_cannot_be_scanned_is_refused(text):
    with pytest.raises(BadgeError):
        hash_badge(text)


@given(st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=6, max_size=40))
@settings(max_examples=5)
def test_no_text_of_a_badge_stands_in_what_is_stored(text):
    owner = with_badge("p1", text, "salt")
    assert text not in owner.badge_hash + owner.badge_mark
    assert badge_owner([owner], text, ["salt"]) is owner
