"""Pages of a paper to keep: drawn with their structure, and with the record attached."""

from collections.abc import Sequence
from io import BytesIO

from reportlab.lib.pagesizes import A4
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from benchstation.reports.archive import About, Archive
from benchstation.reports.export import FiledRecord, as_text, signed_json
from benchstation.reports.fonts import BODY, register_fonts
from benchstation.reports.tagged import Element, Footer, TaggedCanvas


def draw_pages(
    story: Sequence[Flowable], margin: float, footer: Footer, foot: float = 0.0
) -> tuple[bytes, Element]:
    """Return A4 pages and their structure; ``foot`` is kept free above the lower margin."""
    register_fonts()
    out = BytesIO()
    width, height = A4
    document = BaseDocTemplate(
        out,
        pagesize=A4,
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=margin + foot,
        initialFontName=BODY,
        invariant=1,
    )
    body = Frame(margin, margin + foot, width - 2 * margin, height - 2 * margin - foot, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate(frames=[body]))
    made: list[TaggedCanvas] = []

    def canvas(*args: object, **options: object) -> TaggedCanvas:
        made.append(TaggedCanvas(*args, **options))
        made[0].footer = footer
        return made[0]

    document.build(list(story), canvasmaker=canvas)
    return out.getvalue(), made[0].structure


def with_record(filed: FiledRecord, pages: tuple[bytes, Element], about: About, what: str) -> bytes:
    """Return a paper of a filed unit as PDF/A-3 with the exported record attached.

    ``what`` names the paper in that record, beside the hash of its pages.
    """
    archive = Archive(*pages, about)
    paper = {"what": what, "pages_sha256": archive.pages_sha256}
    text = as_text(signed_json(filed, paper))
    archive.attach(text.encode(), f"The record of {filed.serial} for programs")
    return archive.content()
