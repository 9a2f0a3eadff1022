"""Commands of the shop: one PostgreSQL for several benches."""

import argparse
import getpass
import os
import platform
import sys
from datetime import UTC, datetime

from benchstation.bench.staff import people_from
from benchstation.cli.trust import signing_lead
from benchstation.config.settings import home_folder, load_settings, save_settings
from benchstation.driver_api.errors import StationError
from benchstation.store.backends.postgresql import ShopAddress, shop_address
from benchstation.store.bench_key import bench_key
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.shop.giving_back import give_back
from benchstation.store.shop.joining import Login, found_shop, join_bench, join_desk
from benchstation.store.shop.passwords import PASSWORD_VARIABLE, keep_password, login_at
from benchstation.store.shop.shop_store import ShopStore, open_shop
from benchstation.store.shop.status import ChainStatus, status_of
from benchstation.store.trust import SYSTEM, Acceptance, trust_at

NOT_WELL = 1
ADDRESS = "its address without the password, such as postgresql://owner@server/shop"


def add_commands(parser: argparse.ArgumentParser) -> None:
    """Declare the commands below ``shop``."""
    commands = parser.add_subparsers(dest="shop_command", title="commands", required=True)
    founded = commands.add_parser(
        "init", help="make the shop in an empty PostgreSQL database, or bring it up to date"
    )
    founded.add_argument("url", help=ADDRESS)
    founded.add_argument("--name", default="", help="the shop's name (the database's)")
    joined = commands.add_parser("join", help="let this bench into the shop; a lead signs")
    joined.add_argument("url", help=ADDRESS)
    joined.add_argument("--person", required=True, help="the lead's name in the records")
    seen = commands.add_parser("desk", help="the window of the whole shop, without instruments")
    seen.add_argument("url", nargs="?", help=f"the first time: {ADDRESS}")
    commands.add_parser("status", help="how each bench stands in the shop; 0: all is well")


def run(options: argparse.Namespace) -> tuple[str, int]:
    """Run one of the commands; return what to print, and how it ended."""
    match options.shop_command:
        case "init":
            return _init(options), 0
        case "join":
            return _join(options), 0
        case "desk":
            return _desk(options)
        case _:
            return _status()


def _init(options: argparse.Namespace) -> str:
    address = asked_address(options.url)
    new = found_shop(address, options.name.strip(), datetime.now(UTC))
    return f"{address.where}: the shop is {'made' if new else 'up to date'}."


def _join(options: argparse.Namespace) -> str:
    from benchstation.app import STORE_FILE

    settings = load_settings()
    file = settings.data_path / STORE_FILE
    if not file.is_file():
        raise StationError(
            "there are no records of this bench yet.",
            where=str(file),
            advice="Set the bench up first, then let it join.",
        )
    address = asked_address(options.url)
    with open_store(file, settings.bench_id, trust=trust_at(home_folder())) as store:
        lead = signing_lead(people_from(store).get(options.person), options.person)
        login = join_bench(address, store, lead.person_id, datetime.now(UTC))
    kept = keep_password(login.address)
    save_settings(settings.model_copy(update={"shop_url": login.address.text}))
    return _welcome(f"The bench {settings.bench_id}", login, kept)


def _welcome(who: str, login: Login, kept: bool) -> str:
    said = f"{who} belongs to the shop '{login.name}' and logs in as {login.address.url.username}."
    if kept:
        return f"{said}\nIts password is in the keyring of this user."
    # Where there is no keyring somebody has to put it where only the program sees it.
    return (
        f"{said}\nThis system has no keyring. Its password, shown this once:\n"
        f"  {login.address.password}\n"
        f"Give it to the program as {PASSWORD_VARIABLE}."
    )


def _desk(options: argparse.Namespace) -> tuple[str, int]:
    from benchstation.app import require_display, run_whole_shop

    settings, said = load_settings(), ""
    if options.url is not None:
        login = join_desk(
            asked_address(options.url),
            platform.node() or "desk",
            bench_key(home_folder()).public,
            datetime.now(UTC),
        )
        kept = keep_password(login.address)
        settings = settings.model_copy(update={"desk_url": login.address.text})
        save_settings(settings)
        said = _welcome("This computer", login, kept)
        if not kept:
            return said, 0
    if settings.desk_url is None:
        raise StationError(
            "this computer does not belong to a shop yet.",
            advice="Give the shop's address, as the database's owner: benchstation shop desk URL",
        )
    require_display()
    return said, run_whole_shop(settings, login_at(settings.desk_url))


def _status() -> tuple[str, int]:
    with open_shop(shop_login()) as store:
        found = status_of(store)
        own = _waiting(store, found)
    lines = [f"{store.where}", *(_line(chain) for chain in found)]
    if own:
        lines.append(own)
    well = all(chain.well for chain in found)
    lines.append("All is well." if well else "Somebody has to see to this.")
    return "\n".join(lines), 0 if well else NOT_WELL


def _line(chain: ChainStatus) -> str:
    last = chain.last_utc or chain.joined_utc
    line = (
        f"{chain.bench:<20} {chain.entries:>8} entries, last {last.astimezone():%Y-%m-%d %H:%M %Z}"
        f", head {chain.head[:12]}"
    )
    if chain.forks:
        line += f", {chain.forks} FORK{'S' * (chain.forks > 1)}"
    if chain.conflicts:
        line += f", {chain.conflicts} to settle"
    return line


def _waiting(store: ShopStore, found: list[ChainStatus]) -> str:
    """Return what of this bench the shop does not have yet."""
    from benchstation.app import STORE_FILE

    settings = load_settings()
    file = settings.data_path / STORE_FILE
    there = next((c.entries for c in found if c.bench == settings.bench_id), None)
    if there is None or not file.is_file():
        return ""
    with open_store(file, "", read_only=True) as own:
        waiting = own.head()[0] - there
    return f"{waiting} entries of this bench wait." if waiting > 0 else ""


def restored_from_shop(url: str) -> str:
    """Bring back what the shop holds of this bench and its file lacks; gives what is said of it.

    ``url`` is for a new computer that has no login of its own yet; empty is the bench's own.
    """
    from benchstation.app import STORE_FILE

    address, settings = asked_address(url) if url else shop_login(), load_settings()
    file = settings.data_path / STORE_FILE
    # Without its key nothing is added at the opening, and what is missing is no reason to refuse.
    with open_store(file, settings.bench_id, accepted=Acceptance(SYSTEM, "")) as store:
        done = give_back(store, address)
        problem = store.verify(known=KnownHeads(home_folder())).problem
    came = done.now - done.before
    if not came:
        said = "the shop holds nothing more of this bench than is here"
    else:
        said = f"{came} entries came back from {address.where}"
    lines = [f"{file}: {done.now} entries; {said}."]
    if problem:
        lines.append(
            f"{problem} To continue without what is missing: benchstation accept-loss (a lead "
            "signs)"
        )
    return "\n".join(lines)


def shop_login() -> ShopAddress:
    """Return the login that this bench or desk has. Raises where it has none."""
    settings = load_settings()
    url = settings.shop_url or settings.desk_url
    if url is None:
        raise StationError(
            "this bench belongs to no shop.", advice="Join one with 'benchstation shop join'."
        )
    return login_at(url)


def asked_address(url: str) -> ShopAddress:
    """Return the owner's address with its password: from the environment, or typed.

    Without either, libpq looks where it always does (a password file, a service, a certificate).
    """
    password = os.environ.get(PASSWORD_VARIABLE, "")
    address = shop_address(url)
    if not password and sys.stdin.isatty():
        password = getpass.getpass(f"Password for {address.where} (empty: none): ")
    return shop_address(url, password)
