"""No profile can hang the reader: what a field took it never gives back, and lines are short.

Shown in two ways. By structure: in the pattern of a frame every repeat is possessive and every
choice atomic, so a line is walked once however it looks. By measurement: the worst lines that fit
under the cap, through any profile that can be made of the fields there are. Time is that of the
processor, so that a busy machine tells nothing.
"""

import time
from re import _constants, _parser

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from benchstation.devices.profile import load_profile, profile_ids
from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.framing import DEFAULT_CAP
from drivers.text_line import TextLineDriver

UNITS = {"g": 0.001, "kg": 1.0, "00": 1.0, "-": 1.0, ".0": 1.0}
SLOWEST_LINE_S = 0.002
texts = st.text(st.sampled_from("0-. ?,S"), min_size=1, max_size=3)


def codes(*meanings):
    return st.dictionaries(
        st.text(st.sampled_from("0-. ?S"), max_size=3),
        st.sampled_from(meanings),
        min_size=1,
        max_size=4,
    )


def field(kind, **parts):
    optional = parts.pop("optional", {})
    return st.fixed_dictionaries({"kind": st.just(kind), **parts}, optional=optional)


widths = st.integers(1, 16)
NUMBER = st.one_of(
    field(
        "number",
        optional={
            "longest": widths,
            "floating_minus": st.booleans(),
            "floating_plus": st.booleans(),
            "decimals": st.just(2),
            "thousands": st.sampled_from((",", " ")),
        },
    ),
    field(
        "number",
        width=widths,
        pad=st.sampled_from(("space", "zero")),
        optional={"floating_minus": st.booleans(), "thousands": st.sampled_from((",", " "))},
    ),
)
FIELDS = st.one_of(
    field("literal", text=texts, optional={"optional": st.booleans()}),
    field("status", codes=codes("stable", "moving", "overload")),
    field("net", codes=codes("net", "gross")),
    field(
        "sign",
        plus=st.sampled_from(" +0"),
        minus=st.sampled_from("-0"),
        optional={"optional": st.booleans()},
    ),
    NUMBER,
    field("unit", optional={"blank_when_moving": st.booleans()}),
    field(
        "unit",
        width=st.integers(2, 5),
        align=st.sampled_from(("left", "right")),
        optional={"blank_when_moving": st.booleans()},
    ),
    field("other", width=widths, holds=st.sampled_from(("digits", "printable"))),
    field("other", longest=st.just(200), holds=st.sampled_from(("digits", "printable"))),
    field(
        "bits",
        bits=st.just([{"mask": 1, "value": 1, "means": "net"}]),
        optional={"always": st.just({"mask": 2, "value": 2})},
    ),
    field("checksum", algorithm=st.sampled_from(("xor", "sum", "crc16"))),
)


@st.composite
def layouts(draw):
    """Return fields in an order that is mostly allowed: each kind once, a checksum last."""
    drawn = draw(st.lists(FIELDS, min_size=1, max_size=7))
    fields = {}
    for number, one in enumerate(drawn):
        kind = one["kind"]
        fields[kind if kind not in ("literal", "other", "bits") else number] = one
    if "number" not in fields:
        fields["number"] = draw(NUMBER)
    last = fields.pop("checksum", None)
    return [*fields.values(), *([last] if last else [])]


WORST = [character * (DEFAULT_CAP - 3) for character in (b"0", b"-", b" ", b".", b"S", b"\xff")]
WORST += [b"0." * 126, b" 0" * 126, b"-0" * 126, b" " * 120 + b"0" * 120 + b"x"]


def giving_back(tree, held=False):
    """Return what of a parsed pattern can be walked in more than one way."""
    found = []
    for operator, argument in tree:
        match operator:
            case _constants.MAX_REPEAT | _constants.MIN_REPEAT:
                low, high, body = argument
                found += [(low, high)] * (low != high and not held)
                found += giving_back(body, held)
            case _constants.POSSESSIVE_REPEAT:
                found += giving_back(argument[2], True)
            case _constants.ATOMIC_GROUP:
                found += giving_back(argument, True)
            case _constants.SUBPATTERN:
                found += giving_back(argument[3], held)
            case _constants.ASSERT | _constants.ASSERT_NOT:
                found += giving_back(argument[1], True)
            case _constants.BRANCH:
                found += ["|"] * (not held)
                found += [one for branch in argument[1] for one in giving_back(branch, held)]
            case _:
                # Single characters, sets of them, and places: nothing inside to walk.
                assert operator in _PLAIN, operator
    return found


_PLAIN = {
    _constants.LITERAL,
    _constants.NOT_LITERAL,
    _constants.ANY,
    _constants.IN,
    _constants.AT,
}


def made(fields):
    options = {"channel": {"quantity": "mass"}, "units": UNITS, "fields": fields, "poll": "P"}
    try:
        return TextLineDriver({**options, "unit": "g"})
    except OptionError:
        pass
    try:
        return TextLineDriver(options)
    except OptionError:
        return None


@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(layouts())
def test_no_profile_is_slow_on_any_line(fields):
    driver = made(fields)
    assume(driver is not None)
    patterns = [driver._frame.pattern, *(form for _, form in driver._frame.forms)]
    assert not giving_back(_parser.parse(patterns[0].pattern))
    # A form stands inside at most twenty columns; its texts for faults are tried one by one.
    assert set().union(*(giving_back(_parser.parse(form.pattern)) for form in patterns[1:])) <= {
        "|"
    }
    for line in WORST:
        start = time.thread_time()
        driver.feed((line + b"\r\n") * 20, 0.0)
        spent = (time.thread_time() - start) / 20
        # One more try for a machine that was busy elsewhere.
        if spent > SLOWEST_LINE_S:
            start = time.thread_time()
            driver.feed((line + b"\r\n") * 20, 0.0)
            spent = (time.thread_time() - start) / 20
        assert spent < SLOWEST_LINE_S, f"{fields} takes {spent:.4f} s for {line[:8]!r}..."


@pytest.mark.parametrize("profile_id", profile_ids())
def test_no_shipped_profile_is_slow_on_any_bytes(profile_id):
    """A second of the worst noise at 115,200 baud takes less than a fifth of a second."""
    driver = load_profile(profile_id).make_driver()
    poll = driver.poll() or b""
    for line in [*WORST, poll * 9, bytes(range(256))]:
        for end in (b"\r\n", b"\r", b"\x03", b"\x02"):
            data = line + end
            count = 11_520 // len(data)
            # What is slow by its bytes is slow each time; what the machine does beside, is not.
            taken = [fed_in_s(driver, data * count) for _ in range(2)]
            assert min(taken) < 0.2, (line[:8], end)


def fed_in_s(driver, data: bytes) -> float:
    start = time.thread_time()
    driver.feed(data, 0.0)
    return time.thread_time() - start


def test_what_could_give_back_would_be_seen():
    for pattern in (b"[0-9]+x", b"a?b", b"(?:ab|a)c", b"(?P<n>[0-9]*?)x", b"(?>a)(?:b+)"):
        assert giving_back(_parser.parse(pattern)), pattern
    for pattern in (b"[0-9]{3}x", b"a?+b", b"(?>ab|a)c", b"(?P<n>[0-9]*+)x", b"(?=a{1,3}+(?!a))"):
        assert not giving_back(_parser.parse(pattern)), pattern
