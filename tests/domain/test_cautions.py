"""Built-in cautions stand where they matter, whatever a specification says."""

from importlib.resources import files

import pytest

from benchstation.demo.shop import specifications
from benchstation.domain.cautions import CAUTIONS, Moment, cautions_at, moments_of
from benchstation.domain.specification import StepKind

FAMILIES = tuple(specifications().values())


@pytest.mark.parametrize("family", FAMILIES, ids=lambda s: s.id)
def test_every_family_has_each_caution_at_its_moment(family):
    at = {step.id: moments_of(family, step) for step in family.steps}
    assert sorted({m for found in at.values() for m in found}) == sorted(Moment)
    assert Moment.RELEASE in at[family.step_of(StepKind.RELEASE).id]
    assert Moment.CHARGE in at[family.step_of(StepKind.CHARGE).id]
    opened = family.steps[family.steps.index(family.step_of(StepKind.RELEASE)) + 1]
    assert Moment.OPENING in at[opened.id]


@pytest.mark.parametrize("family", FAMILIES, ids=lambda s: s.id)
def test_a_specification_may_add_and_never_remove(family):
    own = ("Mind the ratchet",)
    without, more = (
        family.model_copy(
            update={"steps": tuple(s.model_copy(update={"cautions": c}) for s in family.steps)}
        )
        for c in ((), own)
    )
    for plain, added in zip(without.steps, more.steps, strict=True):
        built_in = tuple(CAUTIONS[m].line for m in moments_of(without, plain))
        assert cautions_at(without, plain) == built_in
        assert cautions_at(more, added) == built_in + own


def test_each_is_one_short_line_with_more_and_a_source():
    for caution in CAUTIONS.values():
        assert len(caution.line) <= 100
        assert "\n" not in caution.line
        assert caution.more
        assert caution.source
        assert "safety device" not in caution.line


def test_the_help_tells_more_of_each_with_its_source():
    text = (files("resources") / "help" / "bench.md").read_text("utf-8")
    told = " ".join(text.split())
    for caution in CAUTIONS.values():
        assert f"**{caution.line}** {caution.more} Source: {caution.source}." in told
