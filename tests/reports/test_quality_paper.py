"""A chart on paper, before judges of archives and of accessible files that nobody here wrote."""

from datetime import UTC, datetime

import page
import pytest
from pypdf import PdfReader

from benchstation.quantities.units import UnitSystem
from benchstation.reports.quality_paper import write_quality_paper
from benchstation.screens.model.quality import QualityQuestion
from benchstation.screens.quality.study import runs_in_words
from tests.ui.fake_quality import FAMILIES, study

WHEN = datetime(2026, 3, 4, tzinfo=UTC)


def written(path, question, count=200):
    one = study(question, UnitSystem.METRIC, count)
    groups = (("Rules that fired", runs_in_words(one)), *one.groups)
    heading = f"{one.whose}; {one.span}"
    standing = "bench-1, entry 812"
    return write_quality_paper(
        path, one.title, heading, one.found, one.axis, groups, standing, WHEN
    )


@pytest.mark.parametrize("profile", ["3a", "ua1"])
def test_judges_of_archives_and_of_accessible_files_accept_it(tmp_path, profile):
    path = written(tmp_path / "leak.pdf", QualityQuestion("leak", FAMILIES[1]))
    found = page.validate_pdf_bytes(path.read_bytes(), profile=profile)
    assert [(f.rule_id, f.message) for f in found.failures] == []
    assert found.rules.total > 100


def test_the_same_chart_gives_the_same_bytes(tmp_path):
    question = QualityQuestion(family=FAMILIES[1])
    one, other = (written(tmp_path / name, question, 30) for name in ("a.pdf", "b.pdf"))
    assert one.read_bytes() == other.read_bytes()


def test_a_chart_that_cannot_be_drawn_is_told(tmp_path):
    path = written(tmp_path / "few.pdf", QualityQuestion(family=FAMILIES[1]), 2)
    with PdfReader(path) as read:
        text = " ".join(" ".join(one.extract_text().split()) for one in read.pages)
    assert "it needs 3 values at least, and has 2" in text
    assert "bench-1, entry 812" in text
