"""The fonts of printed pages, which are embedded in every file."""

from pathlib import Path
from typing import Final

import reportlab
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

BODY: Final = "BenchBody"
STRONG: Final = "BenchStrong"
_LOWERED: Final = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")


def register_fonts() -> None:
    """Make the embedded fonts known; the library brings the files."""
    if BODY in pdfmetrics.getRegisteredFontNames():
        return
    folder = Path(reportlab.__file__).parent / "fonts"
    pdfmetrics.registerFont(TTFont(BODY, str(folder / "Vera.ttf")))
    pdfmetrics.registerFont(TTFont(STRONG, str(folder / "VeraBd.ttf")))


def plain(text: str) -> str:
    """Return text with every character that the font lacks written as its code, so none is lost.

    A lowered digit, which it lacks too, is written as the digit.
    """
    text = text.translate(_LOWERED)
    known = pdfmetrics.getFont(BODY).face.charToGlyph
    return "".join(c if ord(c) in known else f"[U+{ord(c):04X}]" for c in text)
