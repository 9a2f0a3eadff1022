"""Drivers by entry point; nothing is imported before it is used, and a broken one harms nothing."""

from importlib.metadata import EntryPoint, entry_points

from benchstation.driver_api.contract import API_VERSION, Driver
from benchstation.driver_api.errors import DriverError

GROUP = "benchstation.drivers"


def found_drivers() -> dict[str, EntryPoint]:
    """Give the entry points of all installed drivers by name, without importing them."""
    return {entry.name: entry for entry in entry_points(group=GROUP)}


def load_driver(driver_id: str) -> type[Driver]:
    """Import a driver's class. Raises :class:`DriverError` when there is none or it is broken."""
    entries = found_drivers()
    if driver_id not in entries:
        raise DriverError(
            f"there is no driver '{driver_id}'.",
            where="drivers",
            advice=f"Installed are: {', '.join(sorted(entries)) or 'none'}.",
        )
    try:
        loaded = entries[driver_id].load()
    except (Exception, SystemExit) as error:  # a third party's module may raise anything
        raise DriverError(
            f"the driver '{driver_id}' cannot be loaded: {error!r}.",
            where="drivers",
            advice="Reinstall it or ask its author; all other drivers work.",
        ) from error
    if not (isinstance(loaded, type) and issubclass(loaded, Driver)):
        raise DriverError(
            f"the driver '{driver_id}' is not a driver class.",
            where="drivers",
            advice="Ask its author to check it with the conformance kit.",
        )
    version = getattr(getattr(loaded, "info", None), "api_version", None)
    if version != API_VERSION:
        raise DriverError(
            f"the driver '{driver_id}' is made for version {version} of the driver contract.",
            where="drivers",
            advice=f"This station has version {API_VERSION}; install a driver made for it.",
        )
    return loaded


def problems() -> dict[str, DriverError]:
    """Give why each installed driver that cannot be used cannot, by name; imports them all."""
    found = {}
    for name in sorted(found_drivers()):
        try:
            load_driver(name)
        except DriverError as error:
            found[name] = error
    return found
