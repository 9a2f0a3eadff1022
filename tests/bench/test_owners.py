"""What belongs to the session or to one of its parts is changed by its owner alone."""

import ast
from pathlib import Path

import pytest

import benchstation

ROOT = Path(benchstation.__file__).parent
PARTS = {"session", "_session", "work", "on_bench", "signed_in", "outputs", "idle", "shop"}
OWNERS = {
    "bench/session.py",
    "bench/step_work.py",
    "bench/unit_on_bench.py",
    "bench/signed_in.py",
    "bench/outputs/outputs.py",
}


def changed_from_outside(source: str) -> list[str]:
    """Return the assignments to a field of the session or of one of its parts."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Assign):
            targets = node.targets
        elif isinstance(node, ast.AugAssign | ast.AnnAssign):
            targets = [node.target]
        else:
            continue
        flat = [t for one in targets for t in (one.elts if isinstance(one, ast.Tuple) else [one])]
        found += [ast.unparse(t) for t in flat if _is_part(t)]
    return found


def _is_part(target: ast.expr) -> bool:
    if not isinstance(target, ast.Attribute):
        return False
    base = target.value
    name = base.attr if isinstance(base, ast.Attribute) else getattr(base, "id", "")
    return name in PARTS


def test_no_module_changes_what_another_owns():
    paths = [p for p in ROOT.rglob("*.py") if p.relative_to(ROOT).as_posix() not in OWNERS]
    assert len(paths) > 100
    found = {
        str(path.relative_to(ROOT)): changed
        for path in paths
        if (changed := changed_from_outside(path.read_text(encoding="utf-8")))
    }
    assert found == {}


@pytest.mark.parametrize(
    ("source", "changed"),
    [
        ("session.work.weighing = None", ["session.work.weighing"]),
        ("self._session.message += 'x'", ["self._session.message"]),
        ("before, session.person = 1, 2", ["session.person"]),
        ("work = session.work", []),
        ("session.work.weigh(x)", []),
    ],
)
def test_the_check_sees_every_way_to_assign(source, changed):
    assert changed_from_outside(source) == changed
