"""What a device may show: its profile's range with a margin, and what no device can show."""

from math import inf, isfinite

from benchstation.devices.profile import Channel, Profile

RANGE_MARGIN = 0.5 / 16
"""How far beyond its range a device still tells the truth: NAMUR NE 43 takes 20.5 mA of 4 to 20."""
_POSSIBLE = {
    "mass": (-1e5, 1e5),
    "pressure": (-1.1e5, 1e9),
    "temperature": (0.0, 3000.0),
    "humidity": (0.0, 1.05),
}
"""What an instrument of a kind can show at all, SI; a vacuum is -1.1e5 Pa gauge at the most."""


def reading_range(channel: Channel, *, tared: bool) -> tuple[float, float]:
    """Return the least and the most that a device may show, SI; an open end is infinite.

    Beyond the profile's range by :data:`RANGE_MARGIN` of its span nothing is a value. A scale that
    is ``tared`` shows less than its low end when what was tared is taken off.
    """
    low, high = channel.low, channel.high
    span = high - low if low is not None and high is not None else abs(high or low or 0.0)
    most = inf if high is None else high + RANGE_MARGIN * span
    if tared and low is not None:
        return (-inf if high is None else low - most), most
    return (-inf if low is None else low - RANGE_MARGIN * span), most


def is_possible(profile: Profile, value: float) -> bool:
    """Return True for a value that an instrument of this kind can show, whatever its range."""
    low, high = _POSSIBLE[profile.kind]
    return isfinite(value) and low <= value <= high


def is_in_range(profile: Profile, value: float) -> bool:
    """Return True for a value that this profile's device can show."""
    low, high = reading_range(profile.channel, tared=profile.kind == "mass")
    return is_possible(profile, value) and low <= value <= high


def is_near_range(profile: Profile, value: float) -> bool:
    """Return True for a value that a like device of another range may show: worth telling."""
    ends = [abs(end) for end in (profile.channel.low, profile.channel.high) if end is not None]
    return is_possible(profile, value) and abs(value) <= 10.0 * max(ends, default=0.0)
