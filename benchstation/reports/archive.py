"""A printed record as a file to keep: PDF/A-3 (ISO 19005-3) with its data attached.

The report library draws the pages; here the file gets what an archive asks of it: the structure of
its text, metadata (XMP), what its colours mean, its language, and the record as JSON for programs.
"""

import base64
import hashlib
import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import Any, Final
from xml.sax.saxutils import escape

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf, Stream, String

from benchstation import __version__
from benchstation.driver_api.errors import StationError
from benchstation.reports.tagged import Element

ATTACHED: Final = "record.json"
LANGUAGE: Final = "en-GB"
PRODUCER: Final = f"benchstation {__version__}"
_NOT_PAGES: Final = ("/AF", "/Names")
"""What of a file's catalogue is the attachment itself."""
_NO_CHARACTER: Final = b"<0000>"
_CHARACTER: Final = re.compile(rb"<[0-9A-F]{2}> <[0-9A-F]{4,}>")
_MOST_ROWS: Final = 100
"""So many characters in one block (Adobe Technical Note 5014)."""
_XMP: Final = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about=""
 xmlns:dc="http://purl.org/dc/elements/1.1/"
 xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
 xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
 xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#"
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt></dc:description>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreateDate>{utc}</xmp:CreateDate>
<xmp:ModifyDate>{utc}</xmp:ModifyDate>
<xmp:MetadataDate>{utc}</xmp:MetadataDate>
<xmp:CreatorTool>{producer}</xmp:CreatorTool>
<pdf:Producer>{producer}</pdf:Producer>
<pdfaid:part>3</pdfaid:part>
<pdfaid:conformance>A</pdfaid:conformance>
<pdfuaid:part>1</pdfuaid:part>
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>part of ISO 14289 that the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>"""


@dataclass(frozen=True, slots=True)
class About:
    """What a file says of itself; ``utc`` is the time up to which it tells."""

    title: str
    author: str
    subject: str
    utc: datetime


class Archive:
    """A drawn file that becomes one to keep."""

    def __init__(self, drawn: bytes, structure: Element, about: About) -> None:
        """Take the pages as drawn, with their structure."""
        self._pdf = Pdf.open(BytesIO(drawn))
        self._utc = about.utc.astimezone(UTC).replace(microsecond=0)
        self._mend_fonts()
        self._tag(structure)
        self._describe(about)

    @property
    def pages_sha256(self) -> str:
        """Return the hash of all that is shown or said, but for what is attached."""
        return _pages_sha256(self._pdf)

    def attach(self, text: bytes, what: str) -> None:
        """Attach the data that the pages were made from (AFRelationship ``Source``)."""
        pdf = self._pdf
        file = Stream(pdf, text)
        file.Type, file.Subtype = Name.EmbeddedFile, Name("/application/json")
        digest = hashlib.md5(text, usedforsecurity=False).digest()
        date = String(_pdf_date(self._utc))
        file.Params = Dictionary(
            Size=len(text), CreationDate=date, ModDate=date, CheckSum=String(digest)
        )
        held = pdf.make_indirect(file)
        named = pdf.make_indirect(
            Dictionary(
                Type=Name.Filespec,
                F=String(ATTACHED),
                UF=String(ATTACHED),
                Desc=String(what),
                AFRelationship=Name.Source,
                EF=Dictionary(F=held, UF=held),
            )
        )
        pdf.Root.AF = Array([named])
        pdf.Root.Names = Dictionary(
            EmbeddedFiles=Dictionary(Names=Array([String(ATTACHED), named]))
        )

    def content(self) -> bytes:
        """Return the file; the same content gives the same bytes."""
        for held in self._pdf.objects:
            if isinstance(held, Stream) and held.get("/Subtype") != Name.Image:
                _pack(held)
        out = BytesIO()
        self._pdf.save(
            out,
            deterministic_id=True,
            min_version="1.7",
            fix_metadata_version=False,
            compress_streams=False,
            stream_decode_level=pikepdf.StreamDecodeLevel.none,
        )
        return out.getvalue()

    def _mend_fonts(self) -> None:
        """Let no unused place of a font stand for a character."""
        for page in self._pdf.pages:
            fonts = page.obj.Resources.Font
            for font in fonts.values():
                if _NO_CHARACTER in (named := font.ToUnicode.read_bytes()):
                    font.ToUnicode = Stream(self._pdf, _characters_of(named))

    def _describe(self, about: About) -> None:
        pdf, utc = self._pdf, self._utc
        values = {
            "title": about.title,
            "author": about.author,
            "subject": about.subject,
            "language": LANGUAGE,
            "utc": utc.isoformat(),
            "producer": PRODUCER,
        }
        metadata = Stream(
            pdf, _XMP.format(**{k: escape(_written(v)) for k, v in values.items()}).encode()
        )
        metadata.Type, metadata.Subtype = Name.Metadata, Name.XML
        root = pdf.Root
        root.Metadata = pdf.make_indirect(metadata)
        root.Lang = String(LANGUAGE)
        root.MarkInfo = Dictionary(Marked=True)
        root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        profile = Stream(pdf, _srgb())
        profile.N = 3
        root.OutputIntents = Array(
            [
                Dictionary(
                    Type=Name.OutputIntent,
                    S=Name.GTS_PDFA1,
                    OutputConditionIdentifier=String("sRGB IEC61966-2.1"),
                    Info=String("sRGB IEC61966-2.1"),
                    DestOutputProfile=pdf.make_indirect(profile),
                )
            ]
        )
        date = String(_pdf_date(utc))
        pdf.trailer.Info = pdf.make_indirect(
            Dictionary(
                Title=String(values["title"]),
                Author=String(values["author"]),
                Subject=String(values["subject"]),
                Creator=String(PRODUCER),
                Producer=String(PRODUCER),
                CreationDate=date,
                ModDate=date,
            )
        )

    def _tag(self, structure: Element) -> None:
        pdf = self._pdf
        pages = [page.obj for page in pdf.pages]
        places: list[dict[int, Any]] = [{} for _ in pages]
        root = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        root.K = Array([self._made(structure, root, pages, places)])
        numbers = Array()
        for number, (page, found) in enumerate(zip(pages, places, strict=True)):
            page.StructParents = number
            page.Tabs = Name.S
            numbers.append(number)
            numbers.append(pdf.make_indirect(Array([found[mark] for mark in sorted(found)])))
        root.ParentTree = pdf.make_indirect(Dictionary(Nums=numbers))
        root.ParentTreeNextKey = len(pages)
        pdf.Root.StructTreeRoot = root

    def _made(
        self, element: Element, parent: Any, pages: list[Any], places: list[dict[int, Any]]
    ) -> Any:
        made = self._pdf.make_indirect(
            Dictionary(Type=Name.StructElem, S=Name(f"/{element.tag}"), P=parent)
        )
        if element.alternative:
            made.Alt = String(_written(element.alternative))
        if element.scope:
            made.A = Dictionary(O=Name.Table, Scope=Name(f"/{element.scope}"))
        children = Array()
        for child in element.children:
            if isinstance(child, Element):
                children.append(self._made(child, made, pages, places))
                continue
            page, mark = child
            places[page][mark] = made
            made.Pg = pages[page]
            children.append(mark)
        made.K = children
        return made


def _pack(held: Any) -> None:
    """Compress a stream so that its end cannot be taken for a part of the line's end after it."""
    packed = zlib.compress(held.read_bytes())
    if packed.endswith(b"\r"):
        held.write(
            base64.a85encode(packed) + b"~>",
            filter=Array([Name.ASCII85Decode, Name.FlateDecode]),
        )
    else:
        held.write(packed, filter=Name.FlateDecode)


def attached_in(content: bytes, where: str) -> tuple[bytes, str]:
    """Return the data attached to a file, and the hash of its pages as they are now.

    Raises ``StationError`` for a file that has none, is locked, or is no whole PDF.
    """
    try:
        # Repaired, a file that was cut short would read as one whose pages were changed.
        with Pdf.open(BytesIO(content), attempt_recovery=False) as pdf:
            specified = pdf.Root.AF[0]
            if len(pdf.Root.AF) != 1 or specified.AFRelationship != Name.Source:
                raise ValueError("not one attached source")
            _require_one(pdf, specified)
            return specified.EF.F.read_bytes(), _pages_sha256(pdf)
    except (pikepdf.PdfError, pikepdf.PasswordError) as error:
        locked = isinstance(error, pikepdf.PasswordError)
        raise StationError(
            "this PDF is locked by a password."
            if locked
            else "this file is no readable PDF: it is damaged or cut short.",
            where=where[:200],
            advice="Fetch it once more from where it came from.",
            detail=repr(error)[:500],
        ) from error
    except (AttributeError, KeyError, TypeError, ValueError, IndexError) as error:
        raise StationError(
            "this PDF holds no record for programs.",
            where=where[:200],
            advice="Labels and papers of before hold none. A certificate that was printed again "
            "or saved by another program may have lost it.",
            detail=repr(error)[:500],
        ) from error


def _require_one(pdf: Pdf, specified: Any) -> None:
    """Raise ``ValueError`` where a viewer would show other attached data than are checked."""
    names = pdf.Root.Names.EmbeddedFiles.Names
    if len(names) != 2 or names[1].objgen != specified.objgen:
        raise ValueError("another file is attached")
    if specified.EF.F.objgen != specified.EF.UF.objgen:
        raise ValueError("two files are attached under one name")


def _pages_sha256(pdf: Pdf) -> str:
    digest = hashlib.sha256()
    root = {key: pdf.Root[key] for key in sorted(pdf.Root.keys()) if key not in _NOT_PAGES}
    seen: dict[tuple[int, int], int] = {}
    for piece in _pieces(root, seen):
        digest.update(piece)
    for piece in _pieces(pdf.trailer.get("/Info", Dictionary()), seen):
        digest.update(piece)
    return digest.hexdigest()


def _pieces(value: Any, seen: dict[tuple[int, int], int]) -> Iterator[bytes]:
    """Return a value piece by piece; an object that came before is named by when it came."""
    indirect = isinstance(value, pikepdf.Object) and value.is_indirect
    if indirect:
        if value.objgen in seen:
            yield b"@%d" % seen[value.objgen]
            return
        seen[value.objgen] = len(seen)
    if isinstance(value, dict | pikepdf.Dictionary | pikepdf.Stream):
        stream = isinstance(value, pikepdf.Stream)
        skipped = ("/Length", "/Filter", "/DecodeParms") if stream else ()
        yield b"<<"
        for key in sorted(value.keys()):
            if key not in skipped:
                yield key.encode() + b" "
                yield from _pieces(value[key], seen)
        yield b">>"
        if stream:
            yield from _stream(value)
    elif isinstance(value, pikepdf.Array):
        yield b"["
        for one in value:
            yield from _pieces(one, seen)
        yield b"]"
    elif isinstance(value, pikepdf.Object):
        yield value.unparse() + b" "
    else:
        yield repr(value).encode() + b" "


def _stream(value: Any) -> Iterator[bytes]:
    """Return a stream's content with its length; a picture as it is stored."""
    try:
        data = value.read_bytes()
    except pikepdf.PdfError:
        data = value.read_raw_bytes()
    yield b"%d:" % len(data)
    yield data


def _characters_of(named: bytes) -> bytes:
    """Return which characters a font's places stand for, without the places that are not used."""
    head, _, rest = named.partition(b"endcodespacerange\n")
    rows = [row for row in _CHARACTER.findall(rest) if not row.endswith(_NO_CHARACTER)]
    blocks = (rows[start : start + _MOST_ROWS] for start in range(0, len(rows), _MOST_ROWS))
    lines = (
        b"%d beginbfchar\n%s\nendbfchar\n" % (len(block), b"\n".join(block)) for block in blocks
    )
    end = rest[rest.rindex(b"endbfchar\n") + len(b"endbfchar\n") :]
    return b"".join((head, b"endcodespacerange\n", *lines, end))


@cache
def _srgb() -> bytes:
    return (files("resources") / "papers" / "srgb.icc").read_bytes()


def _pdf_date(utc: datetime) -> str:
    return f"D:{utc:%Y%m%d%H%M%S}+00'00'"


def _written(text: str) -> str:
    """Return text without the characters that no XML may hold."""
    return "".join(c for c in text if c.isprintable())
