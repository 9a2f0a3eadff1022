"""Edits of an exported record, each of which changes what it says: for tests that must find them.

Every edit is made by its name alone; none depends on chance, keys or the layout of a file.
"""

import copy
import hashlib
import json

import pikepdf
import rfc8785

from benchstation.store.bench_key import bench_key

WHOLE_LISTS = 6
"""Of a longer list of numbers the first and the last are edited."""


def leaves(value, path=()):
    """Return the path of every value that stands in JSON."""
    if isinstance(value, dict):
        for key in value:
            yield from leaves(value[key], (*path, key))
    elif isinstance(value, list):
        places = range(len(value))
        numbers = all(isinstance(v, int | float) for v in value)
        if numbers and len(value) > WHOLE_LISTS:
            places = (0, len(value) - 1)
        for place in places:
            yield from leaves(value[place], (*path, place))
    else:
        yield path


def at(data, path):
    for part in path:
        data = data[part]
    return data


def another(value):
    """Return a value of the same kind that says something else."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, float):
        return value * 1.01 if value else 0.01
    if value is None:
        return 1.0
    if value and value[-1] in "0123456789abcdef":
        return value[:-1] + ("0" if value[-1] != "0" else "1")
    return f"{value}x"


def changed(data, path):
    """Return the data with one value changed."""
    made = copy.deepcopy(data)
    at(made, path[:-1])[path[-1]] = another(at(data, path))
    return made


def rehashed(data):
    """Return the data with the record's hash made again, as a forger does."""
    digest = hashlib.sha256(rfc8785.dumps(data["record"])).hexdigest()
    return {**data, "record_sha256": digest}


def resigned(data, folder):
    """Return the data signed with a key of the forger's own, the whole proof left as it was."""
    from benchstation.reports.export import signed_bytes

    key = bench_key(folder)
    signature = {"public_key": key.public, "signature": key.signature_over(signed_bytes(data))}
    return {**data, "signature": signature}


def as_bytes(data):
    return json.dumps(data, ensure_ascii=False).encode()


# --- edits of a whole part ----------------------------------------------------------------------


def parts(data):
    """Return edits of more than one value, by name."""

    def edit(change):
        made = copy.deepcopy(data)
        change(made)
        return rehashed(made)

    qa = {
        "standing": "released",
        "reason": "looked over",
        "person": "Selma Oberhauser",
        "utc": data["standing"]["told_to_utc"],
        "entry": data["standing"]["told_to_entry"],
    }
    pour = data["traces"]["pour"]
    return {
        "a word of QA is added": edit(lambda d: d["standing"]["qa"].append(qa)),
        "QA's words are gone": edit(lambda d: d["standing"].update(qa=[], now="not released yet")),
        "it is released": edit(lambda d: d["standing"].update(now="released")),
        "it tells up to a later entry": edit(
            lambda d: d["standing"].update(told_to_entry=d["standing"]["told_to_entry"] + 7)
        ),
        "a trace is gone": edit(lambda d: d["traces"].pop("pour")),
        "a trace is another's": edit(lambda d: d["traces"].update(pour=d["traces"]["hold"])),
        "a trace is shorter": edit(
            lambda d: d["traces"].update(
                pour={**pour, "seconds": pour["seconds"][:-1]},
            )
        ),
        "a channel is added": edit(
            lambda d: d["traces"]["pour"]["channels"].update(gauge_pa=pour["seconds"])
        ),
        "what is stored of a trace is gone": edit(lambda d: d["traces"]["pour"].update(stored="")),
        "the last step is gone": edit(lambda d: d["record"]["steps"].pop()),
        "the alarms are gone": edit(
            lambda d: d["record"].update(alarms=[], title=d["record"]["title"] + " ")
        ),
        "an instrument is gone": edit(lambda d: d["record"]["instruments"].pop()),
        "a field is added": edit(lambda d: d.update(checked="yes")),
        "a field of the record is added": edit(lambda d: d["record"].update(remark="fine")),
        "the record has no order": edit(lambda d: d["record"].pop("order")),
        "it names an older form": edit(lambda d: d.update(form=2, record_sha256="")),
        "the journal is another bench's": edit(lambda d: d["journal"].update(bench="bench-9")),
        "it is an entry later": edit(
            lambda d: d["journal"].update(entry=d["journal"]["entry"] + 1)
        ),
    }


# --- edits of a PDF -----------------------------------------------------------------------------


def pdf_edits(content, other_json):
    """Return PDFs of which something was edited, by name."""

    def edit(change):
        from io import BytesIO

        with pikepdf.open(BytesIO(content)) as pdf:
            change(pdf)
            out = BytesIO()
            pdf.save(out, fix_metadata_version=False)
        return out.getvalue()

    def drawn(old, new):
        def change(pdf):
            page = pdf.pages[0]
            data = page.Contents.read_bytes()
            assert old in data
            page.Contents = pdf.make_stream(data.replace(old, new, 1))

        return change

    def attach(data):
        def change(pdf):
            pdf.Root.AF[0].EF.F.write(data)

        return change

    def second_name(pdf):
        other = pdf.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.Filespec, F="x", UF="x"))
        pdf.Root.Names.EmbeddedFiles.Names.extend([pikepdf.String("x"), other])

    def font_file(pdf):
        font = next(iter(pdf.pages[0].Resources.Font.values())).FontDescriptor.FontFile2
        data = bytearray(font.read_bytes())
        data[-5] ^= 0x40
        font.write(bytes(data))

    def to_unicode(pdf):
        font = next(iter(pdf.pages[0].Resources.Font.values()))
        font.ToUnicode.write(font.ToUnicode.read_bytes().replace(b"<35> <0035>", b"<35> <0036>"))

    def widths(pdf):
        next(iter(pdf.pages[0].Resources.Font.values())).Widths[40] = 999

    def note(pdf):
        square = pikepdf.Dictionary(
            Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.Square, Rect=[300, 700, 500, 800],
            IC=[1, 1, 1],
        )  # fmt: skip
        pdf.pages[0].Annots = pikepdf.Array([pdf.make_indirect(square)])

    def over(pdf):
        page = pdf.pages[0]
        data = page.Contents.read_bytes()
        page.Contents = pdf.make_stream(data + b"\n1 g 400 700 150 80 re f\n")

    def told(pdf):
        def walk(element):
            if "/Alt" in element:
                element.Alt = pikepdf.String("Trace of another pour")
                return True
            kids = element.get("/K", [])
            if not isinstance(kids, pikepdf.Array):
                return False
            return any(walk(k) for k in kids if isinstance(k, pikepdf.Dictionary))

        assert walk(pdf.Root.StructTreeRoot.K[0])

    def turned(pdf):
        first, second = pdf.pages[0].obj, pdf.pages[1].obj
        first.Contents, second.Contents = second.Contents, first.Contents

    return {
        "a figure on the page": edit(drawn(b"pass;", b"fail;")),
        "the verdict": edit(drawn(b"(ON HOLD)", b"(RELEASED)")),
        "a mass": edit(drawn(b"Target, as the scale shows", b"Target, as the scale showed")),
        "the serial": edit(drawn(b"Rebuild record", b"Rebuild Record")),
        "a colour": edit(drawn(b".372549", b".972549")),
        "a cover over the page": edit(over),
        "a note over the page": edit(note),
        "pages in another order": edit(turned),
        "a page is gone": edit(lambda pdf: pdf.pages.__delitem__(1)),
        "a page twice": edit(lambda pdf: pdf.pages.append(pdf.pages[0])),
        "a glyph of a font": edit(font_file),
        "what a glyph is read as": edit(to_unicode),
        "the width of a glyph": edit(widths),
        "what a figure is said to show": edit(told),
        "the title": edit(lambda pdf: pdf.docinfo.__setitem__("/Title", "Rebuild record X-9")),
        "the date": edit(lambda pdf: pdf.docinfo.__setitem__("/CreationDate", "D:20200101000000Z")),
        "the metadata": edit(
            lambda pdf: pdf.Root.Metadata.write(
                pdf.Root.Metadata.read_bytes().replace(b"Rebuild record", b"Another record")
            )
        ),
        "the size of the page": edit(
            lambda pdf: pdf.pages[0].__setattr__("mediabox", [0, 0, 595, 600])
        ),
        "the attached record": edit(attach(other_json)),
        "nothing attached": edit(lambda pdf: pdf.Root.__delitem__("/AF")),
        "an empty attachment": edit(attach(b"{}")),
        "another file attached": edit(second_name),
        "the attachment is no source": edit(
            lambda pdf: pdf.Root.AF[0].__setattr__("AFRelationship", pikepdf.Name.Data)
        ),
    }


def reattached(content, data):
    """Return a PDF with other data attached, all else left as it was."""
    from io import BytesIO

    with pikepdf.open(BytesIO(content)) as pdf:
        pdf.Root.AF[0].EF.F.write(data)
        out = BytesIO()
        pdf.save(out, fix_metadata_version=False)
    return out.getvalue()
