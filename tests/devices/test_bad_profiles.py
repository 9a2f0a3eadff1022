"""Bad profiles: whatever stands in one, it is refused in one line that names it, or it is used."""

import copy
import random
import tomllib

import pytest
import tomlkit

from benchstation.devices.frame_fit import fit_frames
from benchstation.devices.profile import profile_from, profile_ids, profile_text
from benchstation.driver_api.errors import StationError

JUNK = (
    *(0, 1, -1, 7, 70_000, 10**30, 0.5, -1e300, True, False, "", "x", "kg", "\u00e9", "\0", "a\nb"),
    *(
        "9" * 300,
        [],
        [1],
        ["g", 7],
        [[]],
        {},
        {"x": 1},
        {"g": "kilo"},
        {"g": []},
        [{"kind": "number"}],
    ),
)
EACH = 60


def places(node, path=()):
    """Return the path of every key and element of a table."""
    if not isinstance(node, dict | list):
        return
    for key, value in node.items() if isinstance(node, dict) else enumerate(node):
        yield (*path, key)
        yield from places(value, (*path, key))


def spoilt(table, chance):
    """Return a table with one place replaced, removed, renamed or doubled."""
    made = copy.deepcopy(table)
    *before, last = chance.choice(list(places(made)))
    holder = made
    for key in before:
        holder = holder[key]
    match chance.randrange(4):
        case 0 if isinstance(holder, dict):
            del holder[last]
        case 1 if isinstance(holder, dict):
            holder[f"{last}x"] = holder.pop(last)
        case 2 if isinstance(holder, list):
            holder.append(holder[last])
        case _:
            holder[last] = copy.deepcopy(chance.choice(JUNK))
    return made


@pytest.mark.parametrize("name", profile_ids())
def test_whatever_stands_in_a_profile_is_refused_in_one_line_or_used(name):
    table = tomllib.loads(profile_text(name))
    chance = random.Random(name)
    refused = 0
    for _ in range(EACH):
        bad = spoilt(table, chance)
        try:
            text = tomlkit.dumps(bad).encode()
        except (ValueError, TypeError, tomlkit.exceptions.TOMLKitError):
            continue
        error = refusal_of(text, name)
        if error is not None:
            refused += 1
            assert "\n" not in str(error), bad
            assert len(str(error)) < 1500, str(error)
            assert name in error.where or "its id is" in str(error), str(error)
    assert refused > EACH // 4


def refusal_of(text, name):
    frames = [b"+00123.45  g\r\n", b"\x01\x03\x02\x00\x00\xb8D"]
    try:
        fit_frames(profile_from(text, name), frames)
    except StationError as error:
        return error
    return None
