"""The certificate as a file to keep, before judges that nobody here wrote.

``page`` judges PDF/A-3a and PDF/UA-1, qpdf the file, poppler its fonts, zxing what is scanned.
"""

import hashlib
import json
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import UTC
from io import BytesIO

import page
import pikepdf
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from benchstation.driver_api.errors import StationError
from benchstation.reports.archive import ATTACHED, attached_in
from benchstation.reports.certificate import certificate
from benchstation.reports.doubts import NONE, TITLE, doubt_lines
from benchstation.reports.export import signed_json
from benchstation.reports.label import write_label
from benchstation.reports.record_code import certificate_text, label_text

NO_QPDF = pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed here")
NO_POPPLER = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="poppler is not installed here"
)


@pytest.fixture(scope="module", params=[0, 1], ids=["good", "troubled"])
def printed(filed, request):
    record = filed[request.param]
    return record, certificate(record)


@pytest.mark.parametrize("profile", ["3a", "ua1"])
def test_a_judge_of_archives_and_one_of_accessible_files_accept_it(printed, profile):
    found = page.validate_pdf_bytes(printed[1], profile=profile)
    assert [(f.rule_id, f.message) for f in found.failures] == []
    assert found.is_compliant
    assert found.rules.total > 100


def test_the_judge_is_one(printed):
    with pikepdf.open(BytesIO(printed[1])) as pdf:
        del pdf.Root.OutputIntents
        out = BytesIO()
        pdf.save(out)
    assert not page.validate_pdf_bytes(out.getvalue(), profile="3a").is_compliant


@NO_QPDF
def test_qpdf_finds_no_error(printed, tmp_path):
    (tmp_path / "a.pdf").write_bytes(printed[1])
    done = subprocess.run(
        ["qpdf", "--check", str(tmp_path / "a.pdf")], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "No syntax or stream encoding errors found" in done.stdout


@NO_POPPLER
def test_every_font_is_embedded(printed, tmp_path):
    (tmp_path / "a.pdf").write_bytes(printed[1])
    told = subprocess.run(["pdffonts", str(tmp_path / "a.pdf")], capture_output=True, text=True)
    _, _, *fonts = told.stdout.splitlines()
    assert len(fonts) == 2
    assert all(re.search(r"TrueType +WinAnsi +yes yes yes", font) for font in fonts)


def test_the_record_is_attached_as_its_source(printed):
    filed, content = printed
    with pikepdf.open(BytesIO(content)) as pdf:
        (given,) = pdf.Root.AF
        assert (str(given.UF), given.AFRelationship) == (ATTACHED, pikepdf.Name.Source)
        assert given.EF.F.Subtype == "/application/json"
        data = given.EF.F.read_bytes()
        assert int(given.EF.F.Params.Size) == len(data)
        digest = hashlib.md5(data, usedforsecurity=False).digest()
        assert bytes(given.EF.F.Params.CheckSum) == digest
    attached, pages = attached_in(content, "a.pdf")
    found = json.loads(attached)
    assert found.pop("paper") == {"what": "certificate", "pages_sha256": pages}
    assert found == json.loads(json.dumps(signed_json(filed)))


def test_it_is_dated_by_what_it_tells(printed):
    filed, content = printed
    told = filed.disposition.told_to_utc.astimezone(UTC)
    about = PdfReader(BytesIO(content)).metadata
    assert about.creation_date == told.replace(microsecond=0)
    assert about.title == f"Rebuild record {filed.record.serial}"
    assert about.author == filed.record.filed_by.name


def test_it_reads_in_order_with_headings_tables_and_figures(printed):
    with pikepdf.open(BytesIO(printed[1])) as pdf:
        document = pdf.Root.StructTreeRoot.K[0]
        tags = list(_tags(document))
        assert pdf.Root.Lang == "en-GB"
        assert pdf.Root.MarkInfo.Marked
    assert (tags[0], tags[1]) == ("/Document", "/H1")
    assert tags.count("/H1") == 1
    assert tags.count("/H2") >= 7
    assert tags.count("/Figure") == 4
    assert tags.count("/TH") > 20
    assert set(tags) <= {f"/{t}" for t in ("Document", "H1", "H2", "P", "Table", "TR", "TH", "TD",
                                           "Figure")}  # fmt: skip


def _tags(element):
    yield str(element.S)
    for child in element.K:
        if isinstance(child, pikepdf.Dictionary):
            yield from _tags(child)


def test_each_page_says_of_how_many_it_is(printed):
    pages = PdfReader(BytesIO(printed[1])).pages
    for number, one in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in one.extract_text()


def words_of(content):
    return " ".join(" ".join(p.extract_text().split()) for p in PdfReader(BytesIO(content)).pages)


def test_what_rests_on_a_word_stands_in_its_box(printed):
    box = words_of(printed[1]).partition(TITLE)[2]
    assert "At the charge, unit temperature" in box
    assert "in this room since" in box


def test_an_empty_box_says_that_it_is_empty(filed):
    record = filed[0].record
    sure = replace(record, charge=replace(record.charge, conditions=()))
    assert doubt_lines(sure, None, str) == []
    assert NONE in words_of(certificate(replace(filed[0], record=sure)))


@NO_POPPLER
@pytest.mark.parametrize("dpi", [203, 300])
def test_codes_are_read_from_the_page_and_from_the_label(printed, tmp_path, dpi):
    filed, content = printed
    (tmp_path / "paper.pdf").write_bytes(content)
    write_label(filed, tmp_path / "label.pdf")
    assert scanned(tmp_path / "paper.pdf", dpi) == {("QRCode", certificate_text(filed))}
    assert scanned(tmp_path / "label.pdf", dpi) == {
        ("QRCode", label_text(filed)),
        ("Code128", filed.record.serial),
    }


def scanned(path, dpi):
    """Return what a reader of codes finds at the head of a page, drawn in dots of black or none."""
    drawn = path.with_suffix("")
    head = ("-x", "0", "-y", "0", "-W", str(9 * dpi), "-H", str(2 * dpi))
    grain = ("-r", str(dpi), "-gray", "-singlefile")
    subprocess.run(["pdftoppm", *grain, *head, str(path), str(drawn)], check=True)
    with Image.open(f"{drawn}.pgm") as picture:
        found = zxingcpp.read_barcodes(picture.point(lambda grey: 255 * (grey > 127)))
    return {(str(code.format).rpartition(".")[2].replace(" ", ""), code.text) for code in found}


def test_a_paper_without_a_record_is_refused_in_words(filed, tmp_path):
    label = write_label(filed[0], tmp_path / "label.pdf").read_bytes()
    with pytest.raises(StationError, match="holds no record for programs"):
        attached_in(label, "label.pdf")


def test_a_paper_that_is_cut_short_is_said_to_be_damaged(filed, printed, tmp_path):
    label = write_label(filed[0], tmp_path / "label.pdf").read_bytes()
    whole = printed[1]
    cuts = [whole[:at] for at in (20, 1000, len(whole) // 2, len(whole) - 300)]
    for content in (*cuts, label[: len(label) // 2], b"%PDF-1.7 and nothing more", b"", b"text"):
        with pytest.raises(StationError, match="damaged or cut short"):
            attached_in(content, "paper.pdf")


def test_a_paper_under_a_password_is_said_to_be_locked(printed, tmp_path):
    with pikepdf.open(BytesIO(printed[1])) as pdf:
        pdf.save(tmp_path / "locked.pdf", encryption=pikepdf.Encryption(user="u", owner="o"))
    with pytest.raises(StationError, match="locked by a password"):
        attached_in((tmp_path / "locked.pdf").read_bytes(), "locked.pdf")
