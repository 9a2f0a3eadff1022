"""Mutated bytes through every parser, and how often damage passes for a reading.

A line with a checksum refuses every wrong bit. A line without one cannot: what it lets through is
measured here, and is why a capture rests on many agreeing frames.
"""

import itertools
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.devices.profile import load_profile, profile_ids
from benchstation.devices.registry import OURS, found_drivers
from benchstation.driver_api.reading import Fault, Reading, Reply
from benchstation.driver_api.testing.inspection import held_bytes
from tests.drivers import damage

CORPUS = [chunk for name in profile_ids() for chunk in damage.chunks_of(name)]
SHORT_BYTES, LONG_BYTES = 50_000, 10_000_000
MOST_KEPT_BYTES = 16_384
PROFILES = damage.profiles()
each = pytest.mark.parametrize("profile", PROFILES, ids=lambda p: p.id)


def chew(profile, total, seed):
    """Feed so many mutated bytes in any pieces; give how many readings and faults came."""
    chance = random.Random(f"{profile.id} {seed}")
    driver = profile.make_driver()
    corpus = damage.chunks_of(profile.id)
    before = held_bytes(driver)
    fed = came = 0
    while fed < total:
        # Mostly what this device sends, spoilt; now and then what any other sends.
        data = damage.mutated(CORPUS if chance.random() < 0.2 else corpus, chance, 4000)
        fed += len(data)
        at = 0
        while at < len(data):
            size = chance.choice((1, 3, 20, 400, 4096))
            for item in driver.feed(data[at : at + size], 1.0):
                came += 1
                assert isinstance(item, Reading | Fault | Reply)
                assert item.raw
                assert item.at == 1.0
                if isinstance(item, Reading):
                    assert math.isfinite(item.value)
            at += size
        if chance.random() < 0.05:
            driver.reset()
    assert held_bytes(driver) - before <= MOST_KEPT_BYTES
    most = driver.counts.frames * len(driver.channels)
    assert most >= driver.counts.readings + driver.counts.rejected
    driver.reset()
    good = damage.good_frames(profile)[0]
    items = [item for _ in range(3) for item in driver.feed(good, 2.0)]
    assert any(isinstance(item, Reading) for item in items), "nothing is read after the noise"
    return came


def test_every_built_in_driver_is_among_them():
    """The drivers are those of the entry points: one that is added needs a profile here."""
    built_in = {name for name, entry in found_drivers().items() if entry.value.startswith(OURS)}
    assert {profile.driver for profile in PROFILES} == built_in


@each
def test_mutated_bytes(profile):
    assert chew(profile, SHORT_BYTES, 1) > 100


@pytest.mark.soak
@pytest.mark.timeout(1200)
@each
def test_ten_million_mutated_bytes(profile):
    assert chew(profile, LONG_BYTES, 2) > 10_000


@settings(max_examples=60)
@given(
    st.sampled_from(PROFILES),
    st.lists(st.binary(max_size=60) | st.sampled_from(CORPUS), max_size=12),
    st.lists(st.integers(0, 500), max_size=8),
)
def test_anything_in_any_pieces(profile, parts, cuts):
    data = b"".join(parts)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    pieces, whole = profile.make_driver(), profile.make_driver()
    items = [i for a, b in itertools.pairwise(edges) for i in pieces.feed(data[a:b], 0.0)]
    assert items == whole.feed(data, 0.0)
    assert pieces.counts == whole.counts


@pytest.mark.parametrize("name", sorted(damage.CHECKED))
def test_a_checksum_lets_no_wrong_bit_through(name):
    counts = damage.rates(load_profile(name), "one bit flipped")
    assert counts["wrong"] == 0
    assert counts["refused"] > 100


@pytest.mark.parametrize("name", sorted(set(profile_ids()) - damage.CHECKED))
def test_what_a_line_without_checksum_lets_through_is_bounded(name):
    """One flipped bit in ten or so makes another digit of a digit; nothing can see that."""
    profile = load_profile(name)
    flips = damage.rates(profile, "one bit flipped")
    assert 0 < flips["wrong"] / flips.total() < 0.35
    if profile.driver == "text_line" and profile.make_driver()._frame.length is not None:
        for kind in ("one byte lost", "one byte twice"):
            counts = damage.rates(profile, kind)
            assert counts["wrong"] == 0, f"{kind}: {counts}"


def test_damage_by_chance_does_not_agree_with_itself():
    """A capture needs many frames that agree: wrong frames by chance are all different.

    Every frame of a steady weight is hit by one wrong bit, far worse than any real line, and still
    no five readings in a row agree on a wrong value.
    """
    chance = random.Random(5)
    profile = load_profile("scale-status-first")
    frame = b"ST,NT,+00123.45  g\r\n"
    good = damage.readings(profile, frame)[0].value
    driver = profile.make_driver()
    values = []
    for _ in range(40_000):
        spoilt = bytearray(frame)
        spoilt[chance.randrange(len(frame))] ^= 1 << chance.randrange(8)
        values += [i.value for i in driver.feed(bytes(spoilt), 0.0) if isinstance(i, Reading)]
    runs = [len(list(run)) for value, run in itertools.groupby(values) if value != good]
    assert len(runs) > 1000
    assert max(runs) < 5
