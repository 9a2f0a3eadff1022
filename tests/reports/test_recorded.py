"""Parts, disc stacks, long texts and photographs on paper."""

import dataclasses
import re
from io import BytesIO

import pytest
from PIL import Image
from pypdf import PdfReader

from benchstation.demo.picture import demo_png
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record
from tests.reports.paper_pages import PLAIN_PAGES
from tests.stepped_bench import make_bench

REMARKS = "Bore polished at 120 mm.\nNext time: new rod, " + "and look at the seat " * 8


def work(folder, family, **notes):
    bench = make_bench(folder)
    technician = bench.technician(family=family)
    technician.plan.notes.update(notes)
    for _ in technician.work():
        bench.run(0.1)
    filed = filed_record(bench.store, bench.session.rebuild.unit_id)
    bench.store.close()
    return filed


@pytest.fixture(scope="module")
def rear(tmp_path_factory):
    return work(tmp_path_factory.mktemp("rear"), "mr-46-rear", remarks=REMARKS)


def read(filed, path):
    reader = PdfReader(write_certificate(filed, path))
    text = " ".join(page.extract_text() for page in reader.pages)
    return reader, " ".join(text.split())


def test_parts_stacks_and_texts_are_printed_whole(rear, tmp_path):
    _, text = read(rear, tmp_path / "a.pdf")
    for part in (
        "RS-14 Rod seal, 14 mm 1 K-88-RS-14",
        "RR-46 Retaining ring, 46 mm 1 fitted",
        "Compression, as found",
        "Rebound, as built",
        "9 discs, 1.80 mm high",
        "Bore polished at 120 mm.",
        "and look at the seat and look at the seat",
    ):
        assert part in text
    assert text.count("9 discs, 1.80 mm high") >= 2


def test_a_photograph_is_printed_with_its_hash(rear, tmp_path):
    reader, text = read(rear, tmp_path / "a.pdf")
    pictures = [image for page in reader.pages for image in page.images]
    assert [picture.image.size for picture in pictures] == [(480, 360)]
    (sha256,) = rear.photos
    assert sha256 in text.replace(" ", "")
    assert "piston with both stacks" in text


def test_the_same_record_gives_the_same_bytes(rear, tmp_path):
    one, two = (write_certificate(rear, tmp_path / f"{n}.pdf").read_bytes() for n in range(2))
    assert one == two


def test_a_large_photograph_is_scaled_down_and_turned(rear, tmp_path):
    file = BytesIO()
    picture = Image.new("RGB", (4000, 3000), "teal")
    exif = picture.getexif()
    # 6: the top of the view is at the picture's right (Exif 2.32, tag 274, orientation).
    exif[274] = 6
    picture.save(file, "JPEG", exif=exif)
    large = dataclasses.replace(rear, photos=dict.fromkeys(rear.photos, file.getvalue()))
    reader, _ = read(large, tmp_path / "a.pdf")
    (printed,) = [image for page in reader.pages for image in page.images]
    assert printed.image.size == (900, 1200)


@pytest.mark.parametrize(
    "data", [None, b"", b"GIF89a", demo_png(1)[:200], b"\xff\xd8\xff\xe0garbage\xff\xd9"]
)
def test_a_photograph_that_is_gone_or_garbled_is_told(rear, tmp_path, data):
    spoilt = dataclasses.replace(rear, photos=dict.fromkeys(rear.photos, data))
    reader, text = read(spoilt, tmp_path / "a.pdf")
    assert "This photograph is missing or damaged in the records." in text
    assert not [image for page in reader.pages for image in page.images]


def test_a_family_that_records_no_more_needs_one_page(tmp_path):
    filed = work(tmp_path, "sledge-36")
    reader, text = read(filed, tmp_path / "a.pdf")
    assert len(reader.pages) == PLAIN_PAGES
    for title in ("Parts", "Disc stacks", "Photographs"):
        assert title not in text


def test_a_photograph_and_a_height_of_one_step_are_printed(tmp_path):
    filed = work(tmp_path, "carrier-50")
    reader, text = read(filed, tmp_path / "a.pdf")
    assert "Valve seat from above: 1 photograph: piston with both stacks" in text
    assert re.search(r"Height of the lip: 2\.\d\d mm, specified 2\.40 ± 0\.10 mm", text)
    assert "Seat clean, its edge without a nick" in text
    (sha256,) = filed.photos
    assert sha256 in text.replace(" ", "")
    assert [image for page in reader.pages for image in page.images]
