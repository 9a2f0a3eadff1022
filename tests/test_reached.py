"""Every module is reached from the program, but for a list by name that must stay true."""

import tomllib

from tests.import_reader import ROOT, module_graph

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
MIGRATIONS = "benchstation.store.shop.migrations."
NOT_SHOWN_YET = {
    "benchstation.metrology.budget_table",
    "benchstation.metrology.net_mass",
    "benchstation.metrology.scale_rules",
    "benchstation.physics.oil_60f",
}
"""Finished and tested; no page shows them yet."""


def reached(graph: dict[str, set[str]], roots: set[str]) -> set[str]:
    """Return what the roots import, at any remove, with the packages that it stands in."""
    found: set[str] = set()
    left = list(roots)
    while left:
        module = left.pop()
        if module and module not in found:
            found.add(module)
            left += [*graph.get(module, ()), module.rpartition(".")[0]]
    return found


def roots() -> set[str]:
    """Return what is started: ``python -m``, the commands, drivers by their entry points.

    The steps of the shop's tables are found by Alembic, in their folder.
    """
    drivers = PROJECT["entry-points"]["benchstation.drivers"]
    named = [*PROJECT["scripts"].values(), *drivers.values()]
    steps = (name for name in module_graph() if name.startswith(MIGRATIONS))
    return {"benchstation.__main__", *steps, *(name.partition(":")[0] for name in named)}


def test_every_module_is_reached_from_the_program_but_those_listed():
    graph = module_graph(with_types=False)
    ours = {name for name in graph if name.split(".")[0] in ("benchstation", "drivers")}
    left = ours - reached(graph, roots())
    assert left == NOT_SHOWN_YET


def test_a_module_that_only_types_name_is_not_reached():
    graph = {"a": {"b.c"}, "b.c": set(), "b": set(), "d": {"a"}}
    assert reached(graph, {"a"}) == {"a", "b", "b.c"}
