"""What every module of the project imports, read from its source: in functions and by text too."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent
OURS = ("benchstation", "drivers", "sample_devices", "resources")
BY_TEXT = ("import_module", "__import__", "files")
"""What takes a module's name as text; ``files`` is that of ``importlib.resources``."""
NOT_WRITTEN_OUT = "a name that is not written out"


@dataclass(frozen=True, slots=True)
class Imported:
    """One import: the line, the full name with what was taken from the module, and how."""

    line: int
    name: str
    for_types: bool = False
    """It stands under ``if TYPE_CHECKING``."""


def imports_of(source: str, module: str, *, package: bool = False) -> Iterator[Imported]:
    """Return everything that ``source`` imports, wherever it stands."""
    tree = ast.parse(source)
    for_types = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and _last_name(node.test) == "TYPE_CHECKING"
        for statement in node.body
        for inner in ast.walk(statement)
    }
    for node in ast.walk(tree):
        for name in _names(node, module, package=package):
            yield Imported(node.lineno, name, id(node) in for_types)


def _names(node: ast.AST, module: str, *, package: bool) -> Iterator[str]:
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    elif isinstance(node, ast.ImportFrom):
        home = module.split(".") if package else module.split(".")[:-1]
        base = home[: len(home) - node.level + 1] if node.level else []
        stem = ".".join([*base, *([node.module] if node.module else [])])
        yield from (f"{stem}.{alias.name}" for alias in node.names)
    elif isinstance(node, ast.Call) and node.args and _last_name(node.func) in BY_TEXT:
        yield _written(node.args[0])
    elif isinstance(node, ast.Name) and node.id == "__import__":
        yield NOT_WRITTEN_OUT


def _last_name(node: ast.expr) -> str:
    return str(getattr(node, "attr", getattr(node, "id", "")))


def _written(name: ast.expr) -> str:
    """Return a name that is given as text; of one that is put together, the package before it."""
    if isinstance(name, ast.JoinedStr):
        first = name.values[0]
        if isinstance(first, ast.Constant) and str(first.value).endswith("."):
            return f"{first.value}*"
    if isinstance(name, ast.Constant) and isinstance(name.value, str):
        return name.value
    return NOT_WRITTEN_OUT


def sources() -> dict[str, Path]:
    """Return the file of each of the project's modules, by its full name."""
    paths = sorted(path for top in OURS for path in (ROOT / top).rglob("*.py"))
    return {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for path in paths
    }


@cache
def project_imports() -> dict[str, tuple[Imported, ...]]:
    """Return what each of the project's modules imports."""
    return {
        module: tuple(
            imports_of(path.read_text("utf-8"), module, package=path.name == "__init__.py")
        )
        for module, path in sources().items()
    }


def module_graph(*, with_types: bool = True) -> dict[str, set[str]]:
    """Return the project's modules that each of them imports."""
    found = sources()
    graph: dict[str, set[str]] = {}
    for module, imports in project_imports().items():
        names = {i.name for i in imports if with_types or not i.for_types}
        graph[module] = {other for name in names for other in _modules(name, found)} - {module}
    return graph


def _modules(name: str, found: dict[str, Path]) -> Iterator[str]:
    if name.endswith(".*"):
        yield from (other for other in found if other.startswith(name[:-1]))
        return
    while name and name not in found:
        name = name.rpartition(".")[0]
    if name:
        yield name
