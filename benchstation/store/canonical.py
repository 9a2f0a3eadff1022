"""Canonical JSON, RFC 8785: one sequence of bytes for one value, so that it can be hashed.

The common cases are written here, since a record is written while someone waits; whatever is not
plainly simple (large exponents, keys outside ASCII, numbers out of range) goes through ``rfc8785``,
which the tests compare with.
"""

import json
from json.encoder import encode_basestring as encode
from typing import Any

import rfc8785

from benchstation.store.errors import NotStorableError

# Beyond this RFC 8785 writes a float with an integer's digits.
SAFE_INTEGER = 2**53 - 1


_Shape = tuple[tuple[str, str], ...]
_SHAPES: dict[tuple[Any, ...], _Shape] = {}
SHAPES_KEPT = 2_000


def canonical(value: Any) -> bytes:
    """Return the canonical JSON of ``value``. Raises :class:`NotStorableError`.

    Not-a-number, infinity, whole numbers beyond 2^53 and broken text have no form there.
    """
    try:
        return _text(value).encode()
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as error:
        raise NotStorableError(
            f"this cannot be kept exactly: {error}.",
            where="journal",
            advice="Nothing of it was kept. Measure or type the value again.",
            detail=repr(error),
        ) from error


def parsed(body: bytes) -> dict[str, Any]:
    """Return the mapping of a canonical body. Raises ``ValueError`` when it is none."""
    found = _DECODER.decode(body.decode())
    if not isinstance(found, dict):
        raise ValueError("a body is a mapping")
    return found


def _number(digits: str) -> int | float:
    whole = int(digits)
    return whole if abs(whole) <= SAFE_INTEGER else float(digits)


_DECODER = json.JSONDecoder(parse_int=_number)


def _text(value: Any) -> str:
    kind = type(value)
    if kind is str:
        # The same escapes as RFC 8785, 3.2.2.2; a lone surrogate fails when it is encoded.
        return encode(value)
    if kind is float:
        digits = repr(value)
        # The shortest form is the same in both but for ".0", exponents, nan and inf.
        if digits[-2:] == ".0":
            return digits[:-2] if value else "0"
        if "e-" in digits:
            return _small(digits)
        if "e" not in digits and "n" not in digits:
            return digits
    elif kind is dict:
        keys = tuple(value)
        shape = _SHAPES.get(keys) or _shape(keys)
        if shape is not None:
            inside = [
                # Most members are texts: one call less for each.
                f"{lead}{encode(item) if type(item) is str else _text(item)}"
                for lead, item in [(lead, value[key]) for key, lead in shape]
            ]
            return "{" + ",".join(inside) + "}"
    elif kind is list or kind is tuple:
        return "[" + ",".join([_text(item) for item in value]) + "]"
    elif kind is int:
        if -SAFE_INTEGER <= value <= SAFE_INTEGER:
            return repr(value)
    elif value is None:
        return "null"
    elif kind is bool:
        return "true" if value else "false"
    return rfc8785.dumps(value).decode()


def _small(digits: str) -> str:
    # Python writes an exponent below 1e-4, RFC 8785 only below 1e-6 and without leading zeros.
    mantissa, _, tail = digits.partition("e-")
    exponent = int(tail)
    if exponent > 6:
        return f"{mantissa}e-{exponent}"
    sign = "-" if mantissa[0] == "-" else ""
    return f"{sign}0.{'0' * (exponent - 1)}{mantissa.lstrip('-').replace('.', '')}"


def _shape(keys: tuple[Any, ...]) -> _Shape | None:
    """Return a mapping's keys in their order, as they are written; ``None``: not plainly simple."""
    # Code points sort like the UTF-16 units of RFC 8785 within ASCII.
    try:
        if not "".join(keys).isascii():
            return None
    except TypeError:
        return None
    shape = tuple((key, f"{encode(key)}:") for key in sorted(keys))
    # The fields of events are few sets of keys; what a person names may be any number.
    if len(_SHAPES) < SHAPES_KEPT:
        _SHAPES[keys] = shape
    return shape
