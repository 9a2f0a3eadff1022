"""What a device may show: its profile's range with a margin, and what no device can show."""

from math import isfinite

from benchstation.devices.profile import Profile

RANGE_MARGIN = 0.5 / 16
"""How far beyond its range a device still tells the truth: NAMUR NE 43 takes 20.5 mA of 4 to 20."""
_POSSIBLE = {
    "mass": (-1e5, 1e5),
    "pressure": (-1.1e5, 1e9),
    "temperature": (0.0, 3000.0),
    "humidity": (0.0, 1.05),
}
"""What an instrument of a kind can show at all, SI; a vacuum is -1.1e5 Pa gauge at the most."""


def _possible(profile: Profile) -> tuple[float, float]:
    low, high = _POSSIBLE[profile.kind]
    return (0.0 if profile.channel.reference == "absolute" else low), high


def reading_range(profile: Profile) -> tuple[float, float]:
    """Return the least and the most that a profile's device may show, SI.

    Beyond the profile's range by :data:`RANGE_MARGIN` of its span nothing is a value, and where the
    profile leaves an end open nothing beyond what a device of its kind can show. A scale shows less
    than its low end when what was tared is taken off.
    """
    low, high = profile.channel.low, profile.channel.high
    least, greatest = _possible(profile)
    span = high - low if low is not None and high is not None else abs(high or low or 0.0)
    most = greatest if high is None else high + RANGE_MARGIN * span
    if low is None or (profile.kind == "mass" and high is None):
        return least, most
    return (low - most if profile.kind == "mass" else low - RANGE_MARGIN * span), most


def is_possible(profile: Profile, value: float) -> bool:
    """Return True for a value that an instrument of this kind can show, whatever its range."""
    low, high = _possible(profile)
    return isfinite(value) and low <= value <= high


def is_in_range(profile: Profile, value: float) -> bool:
    """Return True for a value that this profile's device can show."""
    low, high = possible_range(profile)
    return low <= value <= high


def possible_range(profile: Profile) -> tuple[float, float]:
    """Return the least and the most of all values that this profile's device can show, SI."""
    (low, high), (least, most) = reading_range(profile), _possible(profile)
    return max(low, least), min(high, most)


def is_near_range(profile: Profile, value: float) -> bool:
    """Return True for a value that a like device of another range may show: worth telling."""
    ends = [abs(end) for end in (profile.channel.low, profile.channel.high) if end is not None]
    return is_possible(profile, value) and abs(value) <= 10.0 * max(ends, default=0.0)
