"""Drivers by entry point; nothing is imported before it is used, and a broken one harms nothing."""

import contextlib
from importlib.metadata import EntryPoint, entry_points

from benchstation.driver_api.contract import API_VERSION, Driver, DriverInfo
from benchstation.driver_api.errors import DriverError

GROUP = "benchstation.drivers"
OURS = "drivers."


def found_drivers() -> dict[str, EntryPoint]:
    """Return the entry points of all installed drivers by name, without importing them.

    A name belongs to the built-in driver that has it, else to the first that took it.
    """
    found: dict[str, EntryPoint] = {}
    for entry in _entries():
        found.setdefault(entry.name, entry)
    return found


def _entries() -> list[EntryPoint]:
    every = list(dict.fromkeys(entry_points(group=GROUP)))
    return sorted(every, key=lambda entry: not entry.value.startswith(OURS))


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
    if not (isinstance(version, int) and 1 <= version <= API_VERSION):
        raise DriverError(
            f"the driver '{driver_id}' is made for version {version} of the driver contract.",
            where="drivers",
            advice=f"This station takes versions 1 to {API_VERSION}; install a driver for them.",
        )
    return loaded


def added_drivers() -> tuple[DriverInfo, ...]:
    """Return what each driver of others that can be used says it is; imports them."""
    found = []
    for name, entry in found_drivers().items():
        if not entry.value.startswith(OURS):
            with contextlib.suppress(DriverError):
                found.append(load_driver(name).info)
    return tuple(found)


def problems() -> dict[str, DriverError]:
    """Return why each installed driver that cannot be used cannot, by name; imports them all."""
    problems: dict[str, DriverError] = {}
    used = found_drivers()
    for entry in _entries():
        if entry.value != used[entry.name].value:
            problems[f"{entry.name} = {entry.value}"] = DriverError(
                f"another driver has the name '{entry.name}' already.",
                where="drivers",
                advice="The other one is used; ask the author to choose another name.",
            )
    for name in sorted(used):
        try:
            load_driver(name)
        except DriverError as error:
            problems[name] = error
    return problems
