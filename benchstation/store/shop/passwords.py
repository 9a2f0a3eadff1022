"""Where the password to the shop's database is: the system's keyring, else the environment.

It stands in no settings, no log and no message. The keyring has it under this very login; in the
environment there may still be the owner's, who let this bench in.
"""

import os

from benchstation.store.backends.postgresql import ShopAddress, shop_address

PASSWORD_VARIABLE = "BENCHSTATION_SHOP_PASSWORD"  # noqa: S105
SERVICE = "benchstation"


def login_at(url: str) -> ShopAddress:
    """Return the address that settings name, with its password.

    Empty where nobody keeps one: then libpq looks where it always does (a password file, a
    service, a certificate).
    """
    address = shop_address(url)
    return shop_address(url, _kept(address) or os.environ.get(PASSWORD_VARIABLE, ""))


def keep_password(address: ShopAddress) -> bool:
    """Keep the password in the keyring; False where this system has none."""
    import keyring
    from keyring.errors import KeyringError

    try:
        keyring.set_password(SERVICE, address.where, address.password)
        return keyring.get_password(SERVICE, address.where) == address.password
    except KeyringError:
        return False


def _kept(address: ShopAddress) -> str:
    import keyring
    from keyring.errors import KeyringError

    try:
        return keyring.get_password(SERVICE, address.where) or ""
    except KeyringError:
        return ""
