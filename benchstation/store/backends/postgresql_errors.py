"""What PostgreSQL's errors mean, in words.

The server gives each error a state of five characters, which says what it is in any language. Only
what fails before the server took the connection has none: there libpq's English text is all.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from benchstation.store.errors import (
    NotInOrderError,
    StoreCorruptError,
    StoreError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
)
from benchstation.store.shop import rules


class ShopAwayError(StoreError):
    """The shop's database cannot be reached now; it may be later."""


class ShopRefusesError(StoreError):
    """The shop's database does not let this program in as it asks: a person must see to it."""


_Words = tuple[type[StoreError], str, str]
_AWAY: _Words = (
    ShopAwayError,
    "the shop's database does not answer.",
    "Check the network and the server; the bench works on without it.",
)
_RIGHT: _Words = (
    ShopRefusesError,
    "the shop's database does not permit this; nothing of this was kept.",
    "Log in as somebody who may do it; making and joining a shop is for the database's owner.",
)
_PASSWORD: _Words = (
    ShopRefusesError,
    "the shop's database refuses user or password.",
    "Check the user in the address, and give the password in BENCHSTATION_SHOP_PASSWORD.",
)
_BY_STATE: dict[str, _Words] = {
    "28P01": _PASSWORD,
    "28000": _PASSWORD,
    "3D000": (
        ShopRefusesError,
        "there is no such database on this server.",
        "Make it first: createdb shop",
    ),
    "42501": _RIGHT,
    "42P01": (
        StoreCorruptError,
        "this database does not hold a shop of this program.",
        "Name another one, or make it with 'benchstation shop init'.",
    ),
    "25006": (
        StoreReadOnlyError,
        "the shop's database can be read but not written; nothing of this was kept.",
        "Use the server that takes writes, not a copy of it.",
    ),
    "53100": (
        StoreFullError,
        "the disk of the shop's server is full; nothing of this was kept.",
        "Free some space on the server.",
    ),
    "55P03": (
        StoreLockedError,
        "another program holds this chain in the shop's database; nothing of this was kept.",
        "Do it again.",
    ),
    "57014": (
        ShopAwayError,
        "the shop's database took too long; nothing of this was kept.",
        "Do it again; check how busy the server is.",
    ),
    rules.APPEND_ONLY: (
        StoreReadOnlyError,
        "what is on record in the shop is never changed or deleted.",
        "Nothing was changed. A correction is a new entry.",
    ),
    rules.NOT_YOUR_CHAIN: (
        ShopRefusesError,
        "this login may not add to that chain; nothing of this was kept.",
        "Join this bench again with 'benchstation shop join'.",
    ),
    rules.NOT_YOUR_KIND: (
        ShopRefusesError,
        "a bench may not add such an entry to the shop's own chain; nothing of this was kept.",
        "QA does it, in the window of the whole shop.",
    ),
    rules.NOT_NEXT: (
        NotInOrderError,
        "an entry does not follow what stands in the shop; nothing of this was kept.",
        "Verify the records of this bench.",
    ),
    "23505": (
        NotInOrderError,
        "another entry stands in the shop under this number; nothing of this was kept.",
        "Verify the records of this bench.",
    ),
}
_BY_CLASS: dict[str, _Words] = {
    "08": _AWAY,
    "53": (
        ShopAwayError,
        "the shop's server has no room for one more connection.",
        "Do it again later; the bench works on without it.",
    ),
    "57": _AWAY,
    "58": _AWAY,
    "40": (
        StoreLockedError,
        "another program was quicker in the shop's database; nothing of this was kept.",
        "Do it again.",
    ),
    "XX": (
        StoreCorruptError,
        "the shop's database is damaged; nothing of this was kept.",
        "Change nothing for now, and tell who looks after the server.",
    ),
}
# The order matters: libpq names the host first, and a server's refusal ends the text.
_BY_TEXT: tuple[tuple[str, _Words], ...] = (
    (
        r"does not support SSL",
        (
            ShopRefusesError,
            "the shop's server does not speak TLS, and the address asks for it.",
            "Turn TLS on at the server; who looks after it can.",
        ),
    ),
    (
        r"certificate|root\.crt|SSL error|server common name|sslmode value",
        (
            ShopRefusesError,
            "the certificate of the shop's server is not one that the address trusts.",
            "Check sslmode and sslrootcert in the address, and the server's name.",
        ),
    ),
    (r"password|authentication|channel binding|no pg_hba\.conf|role .* does not exist", _PASSWORD),
    (r"database .* does not exist", _BY_STATE["3D000"]),
    (r"permission denied for database", _RIGHT),
    (r"too many (clients|connections)|remaining connection slots", _BY_CLASS["53"]),
    (r"invalid (connection option|.* value)", (
        ShopRefusesError,
        "the shop's address has a parameter that PostgreSQL does not know.",
        "Correct the address.",
    )),
)  # fmt: skip


def worded(error: BaseException, where: str) -> StoreError | None:
    """Return the worded form of a database error; ``None`` when it is a mistake of this program."""
    if isinstance(error, PoolTimeoutError):
        kind, what, advice = _BY_CLASS["53"]
        return kind(what, where=where, advice=advice, detail=repr(error))
    if not isinstance(error, DBAPIError) or error.orig is None:
        return None
    found = _words_for(error)
    if found is None:
        return None
    kind, what, advice = found
    return kind(what, where=where, advice=advice, detail=repr(error.orig))


def _words_for(error: DBAPIError) -> _Words | None:
    state = getattr(error.orig, "sqlstate", None)
    if state is not None:
        return _BY_STATE.get(state) or _BY_CLASS.get(state[:2])
    if type(error.orig).__name__ not in ("OperationalError", "ConnectionTimeout"):
        return _BY_TEXT[-1][1] if "connection option" in str(error.orig) else None
    for pattern, words in _BY_TEXT:
        if re.search(pattern, str(error.orig)):
            return words
    return _AWAY


@contextmanager
def in_shop_words(where: str) -> Iterator[None]:
    """Turn database errors of the world into worded ones; bugs pass through."""
    try:
        yield
    except (DBAPIError, PoolTimeoutError) as error:
        known = worded(error, where)
        if known is None:
            raise
        raise known from error
