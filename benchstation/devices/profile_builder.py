"""A profile made from marks on frames that were really heard: what is number, unit, state, sign.

Pure: it gives the profile's text. Whether every frame fits says ``frame_fit``, with the driver that
will read the device at the bench. Columns are counted from 0, without the frame's start and end.
Where the number is as wide in every frame, columns count from the left; where it varies, what
stands behind it is counted from the frame's end.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache

from benchstation.devices.adding import line_table, quoted
from benchstation.devices.frame_fit import FrameFit, frames_in
from benchstation.devices.profile import Profile, profile_from
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.errors import DriverError
from benchstation.driver_api.reading import Fault, Item, Reading

ENDS = (b"\r\n", b"\n\r", b"\n", b"\r", b"\x03")
STX = b"\x02"
MOST_FRAMES = 400
SENT = "device"
"""A transcript's word for what came."""
LONGEST_NUMBER = 12
STRAY_SHARE = 0.1
"""More frames than these in which the number stands otherwise: it has no width of its own."""
STATES = ("stable", "moving", "zero", "overload", "underload", "error")
_NUMBER = re.compile(rb"[+-]?\d+(?:[.,]\d+)?")
_PADDED = re.compile(rb" *[+-]?\d+(?:[.,]\d+)?")
_UNIT = re.compile(rb" *([A-Za-z%/]+)")


class Mark(StrEnum):
    """What a run of columns is."""

    NUMBER = "number"
    UNIT = "unit"
    STATE = "state"
    SIGN = "sign"


@dataclass(frozen=True, slots=True)
class Span:
    """A run of columns of the frame that was marked, from ``start`` up to before ``end``."""

    mark: Mark
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Draft:
    """A profile on its way; ``texts`` are different frames without start and end, the usual first.

    ``marked`` is the frame that the marks were made on, by its place among them.
    """

    end: bytes
    start: bytes
    texts: tuple[bytes, ...]
    kind: str
    marked: int = 0
    spans: tuple[Span, ...] = ()
    states: Mapping[str, str] = field(default_factory=dict)
    """What each text of the state means, where somebody said it."""
    units: Mapping[str, str] = field(default_factory=dict)
    """The unit that each text stands for; what is not said is taken as it stands."""
    unit: str = ""
    """The unit of the number, where none stands in the frame."""
    title: str = ""
    low: str = ""
    high: str = ""
    reference: str = "gauge"
    """Of a pressure: what it counts from."""
    rate_hz: float = 10.0
    line: LineSettings | None = None

    @property
    def frames(self) -> list[bytes]:
        """Return the different frames whole, as they came."""
        return [self.start + text + self.end for text in self.texts]

    def span(self, mark: Mark) -> Span | None:
        """Return where a mark stands."""
        return next((span for span in self.spans if span.mark is mark), None)

    def with_mark(self, mark: Mark, frame: int, start: int, end: int) -> "Draft":
        """Return the draft with a mark in place of another of its kind, and of those it covers.

        Raises :class:`DriverError` for columns that the frame does not have.
        """
        if not 0 <= frame < len(self.texts) or not 0 <= start < end <= len(self.texts[frame]):
            raise DriverError(
                "nothing is chosen that could be marked.",
                where="Profile",
                advice="Choose characters of one frame first, with mouse or Shift and arrows.",
            )
        kept = tuple(
            span
            for span in (self.spans if frame == self.marked else ())
            if span.mark is not mark and (span.end <= start or span.start >= end)
        )
        spans = sorted((*kept, Span(mark, start, end)), key=lambda span: span.start)
        return replace(self, marked=frame, spans=tuple(spans))

    def without(self, mark: Mark) -> "Draft":
        """Return the draft without a mark."""
        return replace(self, spans=tuple(span for span in self.spans if span.mark is not mark))

    def texts_of(self, mark: Mark) -> tuple[str, ...]:
        """Return the different texts at a mark over all frames, the most frequent first."""
        span = self.span(mark)
        if span is None:
            return ()
        found = Counter(_columns(self, span, text) for text in self.texts)
        return tuple(text.decode("ascii", "replace") for text, _ in found.most_common())


def draft_from(data: bytes, kind: str, seconds: float, line: LineSettings | None) -> Draft | None:
    """Return a draft on what was heard, with what can be guessed marked; ``None``: no frames.

    ``seconds`` is how long it was listened to.
    """
    end = next((end for end in ENDS if data.count(end) >= 2), b"")
    if not end:
        return None
    heard = frames_in(data, end)[:MOST_FRAMES]
    start = STX if heard and all(frame.startswith(STX) for frame in heard) else b""
    texts = Counter(frame[len(start) : -len(end)] for frame in heard)
    usual = [t for t, _ in texts.most_common() if t and t.isascii()]
    if not usual:
        return None
    rate = max(0.1, round(len(heard) / seconds, 1)) if seconds > 0.0 else 10.0
    return _guessed(Draft(end, start, tuple(usual), kind, rate_hz=rate, line=line))


def _guessed(draft: Draft) -> Draft:
    """Return a draft with the number marked, and sign and unit beside it."""
    texts = draft.texts
    numbered = [n for n, text in enumerate(texts) if _NUMBER.search(text)]
    if not numbered:
        return draft
    # A frame that shows its unit tells more than one that leaves it out.
    frame = next((n for n in numbered if _unit_after(texts[n]) is not None), numbered[0])
    text = texts[frame]
    start, end = _number_in(text).span()
    while start > 0 and text[start - 1 : start] == b" ":
        # The blanks before a number are its columns too: a larger one fills them.
        start -= 1
    if start > 0 and _is_sign(texts, start - 1):
        draft = draft.with_mark(Mark.SIGN, frame, start - 1, start)
    elif _is_sign(texts, start):
        draft = draft.with_mark(Mark.SIGN, frame, start, start + 1)
        start += 1
    draft = draft.with_mark(Mark.NUMBER, frame, start, end)
    unit = _unit_after(text)
    if unit is None:
        return draft
    start, end = unit.span(1)
    fixed = not _varies(draft)
    while fixed and end < len(text) and any(other[end : end + 1].isalpha() for other in texts):
        # Where the unit changes, a longer one fills columns that are blank here.
        end += 1
    return draft.with_mark(Mark.UNIT, frame, start, end)


def _is_sign(texts: tuple[bytes, ...], column: int) -> bool:
    """Return True when a column holds nothing but signs, blanks among them."""
    found = {text[column : column + 1] for text in texts if not _is_report(text)}
    return bool(found & {b"+", b"-"}) and found <= {b"+", b"-", b" "}


def _number_in(text: bytes) -> re.Match[bytes]:
    return max(_NUMBER.finditer(text), key=lambda found: len(found[0]))


def _unit_after(text: bytes) -> re.Match[bytes] | None:
    return _UNIT.match(text, _number_in(text).end())


def _varies(draft: Draft) -> bool:
    """Return True when the number is not as wide in every frame."""
    span = draft.span(Mark.NUMBER)
    return span is not None and _varies_in(span, draft.texts)


@lru_cache(maxsize=8)
def _varies_in(span: Span, texts: tuple[bytes, ...]) -> bool:
    """Return it for a number in these frames; asked for each frame, so it is kept."""
    numbers = [text for text in texts if not _is_report(text)]
    other = sum(not _stands_in(span, text) for text in numbers)
    return other > STRAY_SHARE * len(numbers)


def _stands_in(span: Span, text: bytes) -> bool:
    """Return True when a whole number stands in these columns, and goes on beyond on no side."""
    sides = text[max(0, span.start - 1) : span.start] + text[span.end : span.end + 1]
    part_of_it = any(character in b"0123456789.," for character in sides)
    inside = text[span.start : span.end]
    whole = len(inside) == span.end - span.start
    return whole and bool(_PADDED.fullmatch(inside)) and not part_of_it


def _is_report(text: bytes) -> bool:
    """Return True for a frame that holds no number at all: overload, an error."""
    return not any(character in b"0123456789" for character in text)


def _columns(draft: Draft, span: Span, text: bytes) -> bytes:
    """Return what stands at a mark in a frame."""
    number = draft.span(Mark.NUMBER)
    if number is not None and span.start >= number.end and _varies(draft):
        from_end = len(draft.texts[draft.marked])
        start, end = len(text) - (from_end - span.start), len(text) - (from_end - span.end)
        return text[max(0, start) : max(0, end)]
    return text[span.start : span.end]


# --- the profile's text --------------------------------------------------------------------------


def profile_id(title: str) -> str:
    """Return the name of a profile's file: plain small letters, digits and hyphens."""
    plain = re.sub(r"[^a-z0-9]+", "-", title.casefold().encode("ascii", "ignore").decode())
    return plain.strip("-")[:60].strip("-") or "my-device"


def text_of(draft: Draft) -> str:
    """Return the profile as it is written. Raises :class:`DriverError` without a number."""
    if draft.span(Mark.NUMBER) is None:
        raise DriverError(
            "no number is marked.", where="Profile", advice="Choose its digits, then mark them."
        )
    name = profile_id(draft.title)
    texts = draft.texts_of(Mark.UNIT)
    units = {text.strip(): draft.units.get(text.strip(), text.strip()) for text in texts}
    if not units:
        units = {draft.unit: draft.unit}
    options = [f"terminator = {_bytes(draft.end)}"]
    if draft.start:
        options.append(f"start = {_bytes(draft.start)}")
    if any("," in _number_text(draft, text) for text in draft.texts):
        options.append('decimal = ","')
    if not texts:
        options.append(f"unit = {quoted(draft.unit)}")
    listed = ", ".join(f"{quoted(t)} = {quoted(u)}" for t, u in units.items() if t)
    options.append(f"units = {{ {listed} }}")
    fields = "".join(f"  {{ {one} }},\n" for one in _fields(draft))
    ends = (("low", draft.low), ("high", draft.high))
    channel = [f"{end} = {quoted(text)}" for end, text in ends if text]
    if draft.kind == "pressure":
        channel.append(f"reference = {quoted(draft.reference)}")
    parts = [
        f"# Made from frames that were heard, such as\n#   {_comment(draft)}",
        f"id = {quoted(name)}",
        f"title = {quoted(draft.title or name)}",
        f"kind = {quoted(draft.kind)}",
        'driver = "text_line"',
        f"\n{line_table(draft.line)}" if draft.line is not None else "",
        f"\n[rate]\nexpected_hz = {draft.rate_hz!r}",
        "\n[channel]\n" + "\n".join(channel) if channel else "",
        "\n[options]\n" + "\n".join(options) + f"\nfields = [\n{fields}]",
    ]
    return "\n".join(part for part in parts if part) + "\n"


def _comment(draft: Draft) -> str:
    return draft.texts[draft.marked].decode("ascii", "replace").encode("unicode_escape").decode()


def _bytes(data: bytes) -> str:
    return '"' + "".join(f"\\u{byte:04x}" if byte < 32 else chr(byte) for byte in data) + '"'


def _number_text(draft: Draft, text: bytes) -> str:
    span = draft.span(Mark.NUMBER)
    assert span is not None
    found = _NUMBER.search(text, span.start) if _varies(draft) else None
    inside = found[0] if found else text[span.start : span.end]
    return inside.decode("ascii", "replace")


def _fields(draft: Draft) -> list[str]:
    """Return the columns in their order: what is marked, and what stands between."""
    found: list[str] = []
    at = 0
    for span in draft.spans:
        found += _between(draft, at, span.start)
        found.append(_MAKERS[span.mark](draft, span))
        at = span.end
    return [*found, *_between(draft, at, len(draft.texts[draft.marked]))]


def _between(draft: Draft, start: int, end: int) -> list[str]:
    """Return a gap: a literal where it is the same in every frame, else text that says nothing."""
    if start >= end:
        return []
    gap = Span(Mark.STATE, start, end)
    texts = {_columns(draft, gap, text) for text in draft.texts if not _is_report(text)}
    here = draft.texts[draft.marked][start:end]
    if texts <= {here}:
        return [f'kind = "literal", text = {quoted(here.decode("ascii"))}']
    if all(set(text) <= set(b"0123456789 ") for text in texts):
        return [f'kind = "other", width = {end - start}, holds = "digits"']
    return [f'kind = "other", width = {end - start}, holds = "printable"']


def _number(draft: Draft, span: Span) -> str:
    texts = [_number_text(draft, text) for text in draft.texts if not _is_report(text)]
    floating = ", floating_minus = true" if any("-" in t for t in texts) else ""
    floating += ", floating_plus = true" if any("+" in t for t in texts) else ""
    if _varies(draft):
        longest = max(LONGEST_NUMBER, *(len(text) for text in texts))
        return f'kind = "number", longest = {longest}{floating}'
    pad = "space" if any(text.startswith(" ") for text in texts) else "zero"
    return f'kind = "number", width = {span.end - span.start}, pad = "{pad}"{floating}'


def _unit(draft: Draft, span: Span) -> str:
    texts = draft.texts_of(Mark.UNIT)
    align = "right" if any(text.startswith(" ") and text.strip() for text in texts) else "left"
    blank = ", blank_when_moving = true" if any(not text.strip() for text in texts) else ""
    return f'kind = "unit", width = {span.end - span.start}, align = "{align}"{blank}'


def meanings(draft: Draft) -> dict[str, str]:
    """Return what each text of the state means, the most frequent first.

    What is not said yet is steady for the most frequent, and moving for the others: nothing is
    captured then that is not meant to be.
    """
    texts = draft.texts_of(Mark.STATE)
    return {text: draft.states.get(text, STATES[n > 0]) for n, text in enumerate(texts)}


def _state(draft: Draft, span: Span) -> str:
    codes = ", ".join(
        f"{quoted(text)} = {quoted(means)}" for text, means in meanings(draft).items()
    )
    return f'kind = "status", codes = {{ {codes} }}'


def _sign(draft: Draft, span: Span) -> str:
    plus = next((text for text in draft.texts_of(Mark.SIGN) if text != "-"), "+")
    return f'kind = "sign", plus = {quoted(plus)}, minus = "-"'


_MAKERS = {Mark.NUMBER: _number, Mark.UNIT: _unit, Mark.STATE: _state, Mark.SIGN: _sign}


def profile_of(draft: Draft) -> Profile:
    """Return the profile that a draft says. Raises ``StationError`` that says what is wrong."""
    profile = profile_from(text_of(draft).encode("utf-8"), profile_id(draft.title))
    profile.make_driver()
    return profile


def transcript_of(draft: Draft, fits: Sequence[FrameFit]) -> str:
    """Return a transcript of the frames that fit: what the device sent, and what comes of it."""
    lines = [f"# {draft.title}: frames that were heard at the bench."]
    for fit in fits:
        if fit.understood:
            lines += [f"{SENT}  {fit.frame!r}", *map(_expected, fit.items)]
    return "\n".join(lines) + "\n"


def _expected(item: Item) -> str:
    if isinstance(item, Fault):
        return f"fault   {item.kind}"
    assert isinstance(item, Reading)
    flags = {True: " stable", False: " moving", None: ""}[item.stable]
    flags += {True: " net", False: " gross", None: ""}[item.net]
    step = f" step {item.resolution!r}" if item.resolution is not None else ""
    return f"reading {item.channel} {item.value!r} {item.unit}{flags}{step}"
