"""What a driver holds in memory, and what its sources reach for."""

import ast
import gc
import inspect
import sys
from types import BuiltinFunctionType, FunctionType, ModuleType

from benchstation.driver_api.contract import Driver

_SHARED = (type, ModuleType, FunctionType, BuiltinFunctionType)
_IMPURE = {
    *("time", "datetime", "threading", "_thread", "asyncio", "concurrent", "queue", "signal"),
    *("socket", "ssl", "select", "selectors", "http", "urllib", "serial"),
    *("os", "io", "pathlib", "tempfile", "shutil", "subprocess", "multiprocessing", "random"),
}
_IMPURE_CALLS = {"open", "input", "print", "exec", "eval"}


def held_bytes(driver: Driver) -> int:
    """Return the size of all objects that only this driver may have made, in bytes."""
    seen: set[int] = set()
    waiting: list[object] = [driver]
    size = 0
    while waiting:
        thing = waiting.pop()
        if id(thing) in seen or isinstance(thing, _SHARED):
            continue
        seen.add(id(thing))
        size += sys.getsizeof(thing)
        waiting += gc.get_referents(thing)
    return size


def impurities(driver: type[Driver]) -> list[str]:
    """Return what a driver must not use, found in its module and its package."""
    top = driver.__module__.partition(".")[0]
    found: list[str] = []
    done: set[str] = set()
    waiting = [driver.__module__]
    while waiting:
        name = waiting.pop()
        module = sys.modules.get(name)
        if name in done or getattr(module, "__file__", None) is None:
            continue
        done.add(name)
        for line, used in _used(inspect.getsource(sys.modules[name])):
            if used.partition(".")[0] in _IMPURE or used in _IMPURE_CALLS:
                found.append(f"{name}:{line} uses {used}")
            elif used.partition(".")[0] == top and not used.startswith("benchstation."):
                waiting += [used, used.rpartition(".")[0]]
    return found


def _used(source: str) -> list[tuple[int, str]]:
    """Return line and name of every import and of every call of a plain name."""
    used: list[tuple[int, str]] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            used += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            used += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            used.append((node.lineno, node.func.id))
    return used
