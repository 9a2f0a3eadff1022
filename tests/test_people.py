"""Sign-in: PINs that are kept as hashes, and the pause that grows with wrong tries."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.people import (
    FIRST_PAUSE_S,
    FREE_TRIES,
    LONGEST_PAUSE_S,
    Lockout,
    Person,
    PinError,
    Role,
    check_pin,
    hash_pin,
)


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


def test_five_tries_are_free_then_the_pause_doubles_up_to_a_quarter_of_an_hour():
    state, pauses = Lockout(), []
    for _ in range(FREE_TRIES + 6):
        state = state.failed(100.0)
        pauses.append(state.wait_s(100.0))
    assert pauses[: FREE_TRIES - 1] == [0.0] * (FREE_TRIES - 1)
    assert pauses[FREE_TRIES - 1 :] == [30.0, 60.0, 120.0, 240.0, 480.0, 900.0, 900.0]
    assert state.passed() == Lockout()


@given(st.integers(0, 10**9), st.floats(0, 1e10))
def test_a_pause_never_shrinks_and_always_ends(failures, at):
    state = Lockout(failures, 0.0).failed(at)
    more = state.failed(at)
    assert more.wait_s(at) >= state.wait_s(at)
    assert more.wait_s(at + LONGEST_PAUSE_S + 1) == 0.0
    assert FIRST_PAUSE_S <= LONGEST_PAUSE_S
