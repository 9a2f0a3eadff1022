"""What the codes on label and certificate say, and what a scanned one means.

A certificate's code is text in the characters that a QR code packs tightest and that every
keyboard layout of a scanner types alike: ``BSR1``, the filing entry and its hash, the entry up to
which the paper tells, and the public key that signed it, where one did. Whoever has the paper alone
can hold an exported record against that key. A label's is the serial and the beginning of the
record's SHA-256, short enough for the least of labels.
"""

import re
from dataclasses import dataclass
from typing import Final

from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing

from benchstation.reports.export import FiledRecord

FORM: Final = "BSR1"
SHORT_HASH: Final = 16
QUIET_MODULES: Final = 4
"""The quiet zone that ISO/IEC 18004 asks for on every side."""
_HASH: Final = "([0-9a-f]{64})"
_CERTIFICATE: Final = re.compile(
    rf"{FORM} (\d{{1,9}}) {_HASH} (\d{{1,9}})(?: {_HASH})?", re.IGNORECASE
)
_LABEL: Final = re.compile(rf"(.+) ([0-9a-f]{{{SHORT_HASH}}})")


@dataclass(frozen=True, slots=True)
class CertificateCode:
    """The code of a certificate: the filing entry, up to where it tells, and the key."""

    entry: int
    entry_hash: str
    told_to: int
    public_key: str = ""


@dataclass(frozen=True, slots=True)
class LabelCode:
    """The code of a label: the serial, and the beginning of the record's SHA-256."""

    serial: str
    sha256: str


def certificate_text(filed: FiledRecord) -> str:
    """Return what a certificate's code says."""
    key = filed.key.public if filed.key is not None else ""
    told_to = str(filed.disposition.told_to_entry)
    parts = (FORM, str(filed.entry.seq), filed.entry.hash, told_to, key)
    return " ".join(part for part in parts if part).upper()


def label_text(filed: FiledRecord) -> str:
    """Return what a label's code says."""
    return f"{filed.serial} {filed.sha256[:SHORT_HASH]}"


def code_in(text: str) -> CertificateCode | LabelCode | None:
    """Return what scanned text says; ``None``: it is no code of this program."""
    given = " ".join(text.split())
    found = _CERTIFICATE.fullmatch(given)
    if found is not None:
        entry, entry_hash, told_to, key = found.groups()
        return CertificateCode(int(entry), entry_hash.lower(), int(told_to), (key or "").lower())
    labelled = _LABEL.fullmatch(text.strip())
    return LabelCode(*labelled.groups()) if labelled is not None else None


def drawn(text: str, side: float) -> Drawing:
    """Return the code as a drawing of this side, its quiet zone within."""
    widget = QrCodeWidget(
        text, barLevel="M", barWidth=side, barHeight=side, barBorder=QUIET_MODULES
    )
    drawing = Drawing(side, side)
    drawing.add(widget)
    return drawing
