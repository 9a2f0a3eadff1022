"""Commands of the shop: one PostgreSQL for several benches."""

import argparse
import getpass
import os
import sys
from datetime import UTC, datetime

from benchstation.store.backends.postgresql import ShopAddress, shop_address, shop_engine
from benchstation.store.backends.postgresql_errors import in_shop_words
from benchstation.store.shop.form import bring_up_to_date

PASSWORD_VARIABLE = "BENCHSTATION_SHOP_PASSWORD"  # noqa: S105
ADDRESS = "its address without the password, such as postgresql://owner@server/shop"


def add_commands(parser: argparse.ArgumentParser) -> None:
    """Declare the commands below ``shop``."""
    commands = parser.add_subparsers(dest="shop_command", title="commands", required=True)
    founded = commands.add_parser(
        "init", help="make the shop's tables in a PostgreSQL database, or bring them up to date"
    )
    founded.add_argument("url", help=ADDRESS)


def run(options: argparse.Namespace) -> tuple[str, int]:
    """Run one of the commands; return what to print, and how it ended."""
    address = asked_address(options.url)
    engine = shop_engine(address, statement_timeout_s=0)
    try:
        with in_shop_words(address.where):
            new = bring_up_to_date(engine, datetime.now(UTC))
    finally:
        engine.dispose()
    return f"{address.where}: the shop is {'made' if new else 'up to date'}.", 0


def asked_address(url: str) -> ShopAddress:
    """Return the address with its password: from the environment, or typed where one can type.

    Without either, libpq looks where it always does (a password file, a service, a certificate).
    """
    password = os.environ.get(PASSWORD_VARIABLE, "")
    address = shop_address(url)
    if not password and sys.stdin.isatty():
        password = getpass.getpass(f"Password for {address.where} (empty: none): ")
    return shop_address(url, password)
