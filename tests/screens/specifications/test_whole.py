"""What the approver sees: all of it, and what differs from the revision in force."""

import tomllib
from importlib.resources import files

from benchstation.quantities.formatter import METRIC
from benchstation.screens.specifications.changes import changes
from benchstation.screens.specifications.sheet import Judged, sheet
from benchstation.screens.specifications.whole import whole

FRONT = (files("resources") / "demo" / "specifications" / "mr-46-front.toml").read_text("utf-8")


def parts(text):
    return sheet(tomllib.loads(text), Judged(METRIC))


def groups(text, before=FRONT):
    return whole(parts(text), changes(parts(before), parts(text)))


def test_every_figure_and_every_step_is_there():
    shown = groups(FRONT)
    titles = [group.title for group in shown]
    assert titles[:7] == ["Name", "Sizes", "Oil", "Gas", "Limits", "Stacks", "Sets"]
    steps = tomllib.loads(FRONT)["steps"]
    assert titles[7:] == [f"{n}  {step['title']}" for n, step in enumerate(steps, 1)]
    said = {(g.title, t.label): t.value for g in shown for t in g.terms}
    assert said["Sizes", "Bore"] == "46.00 mm"
    assert said["11  Bleed screw", "Torque"] == "8.0 N m"
    assert said["Stacks", "Compression, from the piston 1"] == "40.00 mm · 0.20 mm · 2"
    assert said["6  Parts", "Parts 1"].startswith("RS-14 · Rod seal, 14 mm")
    assert any("Rod, pushed fully in" in value for value in said.values())
    assert not any(term.strong for group in shown for term in group.terms)


def test_what_differs_is_strong_and_says_what_it_was():
    shown = groups(FRONT.replace('"46 mm"', '"47 mm"').replace('"8 N*m"', '"8.2 N*m"'))
    strong = {t.label: t.source for g in shown for t in g.terms if t.strong}
    assert strong == {"Bore": "was 46.00 mm", "Torque": "was 8.0 N m"}
