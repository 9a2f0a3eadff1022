"""Reaching a PostgreSQL: its address, without the password, and the engine for it.

What the address says beyond host, database and user goes to libpq as it stands (``sslmode``,
``sslrootcert``, ``channel_binding``, ``service`` ...). The password never stands in it.
"""

from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import URL, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError

from benchstation.store.errors import StoreError

DRIVER = "postgresql+psycopg"
SECRETS = ("password", "sslpassword", "passfile", "sslkey_password")
DEFAULTS = {
    "connect_timeout": "3",
    "application_name": "benchstation",
    # A cut line is noticed within half a minute, not after the system's two hours.
    "keepalives_idle": "10",
    "keepalives_interval": "5",
    "keepalives_count": "3",
    "tcp_user_timeout": "20000",
}
STATEMENT_TIMEOUT_S = 60
LOCK_TIMEOUT_S = 10
POOL_SIZE = 4


@dataclass(frozen=True, slots=True)
class ShopAddress:
    """Where the shop's database is and who asks; ``password`` is shown nowhere."""

    url: URL
    password: str = field(default="", repr=False)

    @property
    def where(self) -> str:
        """Return the address as it may be shown: no password, no parameters."""
        shown = self.url.set(query={})
        return shown.render_as_string(hide_password=True).replace(DRIVER, "postgresql", 1)

    @property
    def text(self) -> str:
        """Return the whole address without a password, as settings keep it."""
        return self.url.render_as_string(hide_password=True).replace(DRIVER, "postgresql", 1)

    def as_user(self, user: str, password: str) -> "ShopAddress":
        """Return the address of the same database for somebody else."""
        return ShopAddress(self.url.set(username=user), password)


def shop_address(text: str, password: str = "") -> ShopAddress:
    """Return the address that a text states. Raises :class:`StoreError` for one that is none."""
    try:
        url = make_url(text.strip())
        kind = url.get_backend_name()
    except (ArgumentError, ValueError) as error:
        raise _no_address("this is no address of a database.") from error
    if kind != "postgresql" or not url.database:
        raise _no_address("this is no address of a PostgreSQL database.")
    if url.password is not None or any(name in url.query for name in SECRETS):
        raise StoreError(
            "the address holds a password; it would stand where others can read it.",
            where="the shop's address",
            advice="Take it out, and give it in the environment's BENCHSTATION_SHOP_PASSWORD.",
        )
    return ShopAddress(url.set(drivername=DRIVER), password)


def _no_address(what: str) -> StoreError:
    # The text is not repeated: it may hold a password that was typed in the wrong place.
    return StoreError(
        what,
        where="the shop's address",
        advice="It looks like postgresql://owner@server/shop",
    )


def shop_engine(
    address: ShopAddress, *, statement_timeout_s: float = STATEMENT_TIMEOUT_S
) -> Engine:
    """Return an engine; nothing is connected yet. A broken connection is replaced at its next use.

    Raises :class:`StoreError` when the extra ``shop`` is not installed.
    """
    limits = {
        "statement_timeout": round(statement_timeout_s * 1000),
        "lock_timeout": round(LOCK_TIMEOUT_S * 1000),
        "idle_in_transaction_session_timeout": 600_000,
    }
    options = " ".join(f"-c {name}={value}" for name, value in limits.items())
    given = {name: value for name, value in DEFAULTS.items() if name not in address.url.query}
    if "options" not in address.url.query:
        given["options"] = options
    try:
        engine = create_engine(
            address.url,
            connect_args=given,
            pool_pre_ping=True,
            pool_size=POOL_SIZE,
            max_overflow=2 * POOL_SIZE,
            hide_parameters=True,
        )
    except ModuleNotFoundError as error:
        raise StoreError(
            "what speaks to PostgreSQL is not installed.",
            advice="Install it: pip install 'benchstation[shop]'",
            detail=repr(error),
        ) from error

    # Given at the last moment, so that no engine, URL or traceback holds it.
    @event.listens_for(engine, "do_connect")
    def _give_password(_: Any, __: Any, ___: Any, parameters: dict[str, Any]) -> None:
        if address.password:
            parameters["password"] = address.password

    return engine
