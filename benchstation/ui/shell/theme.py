"""Two palettes and one style sheet: colours by meaning (IEC 60073), sizes for two metres.

Contrast is that of WCAG 2.2 (relative luminance of sRGB, criteria 1.4.3 and 1.4.11): readings
have at least 7:1, all else that is read at least 4.5:1, what is known by its shape alone 3:1.
"""

from dataclasses import dataclass, field

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.text_scale import px

DIGIT_HEIGHT_PX = 122
"""1/60 of two metres, 33 mm, at the 0.277 mm pitch of a 24-inch screen of 1920 x 1080."""
TARGET_PX = 57
"""Least height of what is touched: 15 mm at the same pitch."""
FINE_TARGET_PX = 44
"""Least height where many stand close, as the cells of a stack, and of sliders."""

MONO = '"DejaVu Sans Mono", "Consolas", "Menlo", monospace'
SMALL_PX, BODY_PX, LARGE_PX, TITLE_PX, STRIP_PX = 14, 16, 19, 23, 42


@dataclass(frozen=True, slots=True)
class Colours:
    """One meaning: ``ink`` is text on a panel, ``fill`` a mark with ``sign`` drawn on it."""

    ink: str
    fill: str
    sign: str
    wash: str
    """Ground of a banner or message of this meaning; plain text stands on it."""


@dataclass(frozen=True, slots=True)
class Palette:
    """All colours of one light, as ``#rrggbb``."""

    name: str
    ground: str
    panel: str
    raised: str
    pressed: str
    well: str
    line: str
    """A rule between things; nothing is lost without it."""
    edge: str
    """The edge by which a field, slider, scroll bar or lane is known: 3:1 on every ground."""
    text: str
    quiet: str
    faded: str
    """A reading that is too old: still 4.5:1, but no longer like one to rely on."""
    focus: str
    trace: str
    gas: str
    oil: str
    oil_ink: str
    metal: str
    """Materials of the drawing; a pattern and a word always go with them."""
    tones: dict[Tone, Colours] = field(default_factory=dict)

    def tone(self, tone: Tone) -> Colours:
        """Return the colours of a meaning."""
        return self.tones[tone]


DARK = Palette(
    name="dark",
    ground="#07090b",
    panel="#12171b",
    raised="#222c34",
    pressed="#324150",
    well="#05070a",
    line="#34424d",
    edge="#738592",
    text="#f1f5f8",
    quiet="#a7b4be",
    faded="#8d99a3",
    focus="#ffd166",
    trace="#62b0ff",
    gas="#1b2a38",
    oil="#4a3a22",
    oil_ink="#a58a5a",
    metal="#8d99a3",
    tones={
        Tone.QUIET: Colours("#a7b4be", "#46545f", "#f1f5f8", "#1a2127"),
        Tone.PLAIN: Colours("#f1f5f8", "#5f7280", "#ffffff", "#1a2127"),
        Tone.NORMAL: Colours("#a7b4be", "#46545f", "#f1f5f8", "#1a2127"),
        Tone.GOOD: Colours("#52d197", "#2fa872", "#04110b", "#0d3a27"),
        Tone.CAUTION: Colours("#f7c948", "#f7c948", "#1a1300", "#433306"),
        Tone.DANGER: Colours("#ff8080", "#ff5a5a", "#190203", "#5c0f14"),
        Tone.MANDATORY: Colours("#74b9ff", "#4aa0f7", "#03101f", "#103357"),
    },
)
LIGHT = Palette(
    name="light",
    ground="#d9dfe4",
    panel="#fbfcfd",
    raised="#e3e9ee",
    pressed="#c9d4dd",
    well="#ffffff",
    line="#9aa8b3",
    edge="#64727d",
    text="#0f1519",
    quiet="#47545f",
    faded="#65717b",
    focus="#7a3cff",
    trace="#0b57a8",
    gas="#e4eef7",
    oil="#ead7b0",
    oil_ink="#8a6a2c",
    metal="#84929d",
    tones={
        Tone.QUIET: Colours("#47545f", "#8494a1", "#0f1519", "#eef2f5"),
        Tone.PLAIN: Colours("#0f1519", "#5b6b77", "#ffffff", "#eef2f5"),
        Tone.NORMAL: Colours("#47545f", "#8494a1", "#0f1519", "#eef2f5"),
        Tone.GOOD: Colours("#0a5a36", "#0f7a4a", "#ffffff", "#c9efdb"),
        Tone.CAUTION: Colours("#674600", "#f5b81c", "#1a1300", "#ffe9a8"),
        Tone.DANGER: Colours("#9b0a14", "#c4151f", "#ffffff", "#ffd3d3"),
        Tone.MANDATORY: Colours("#0a4a8c", "#0f62b5", "#ffffff", "#cfe4fb"),
    },
)


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two ``#rrggbb`` colours, 1 to 21 (WCAG 2.2)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    red, green, blue = (int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5))
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (red, green, blue)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def style_sheet(palette: Palette) -> str:
    """Return the one style sheet; widgets choose by the properties ``role`` and ``tone``."""
    p = palette
    tones = "\n".join(
        f'QLabel[tone="{tone}"] {{ color: {c.ink}; }}\n'
        f'QFrame[wash="{tone}"] {{ background: {c.wash}; border: 2px solid {c.fill}; }}'
        f'QFrame[outline="{tone}"] {{ border: 2px solid {c.fill}; border-radius: 8px; }}'
        for tone, c in p.tones.items()
    )
    return f"""
* {{ font-size: {px(BODY_PX)}px; color: {p.text}; }}
QWidget#ground {{ background: {p.ground}; }}
QFrame[role="panel"] {{ background: {p.panel}; border: 0; border-radius: 8px; }}
QFrame[role="drawer"] {{ background: {p.panel}; border: 2px solid {p.edge};
    border-radius: 8px; }}
QFrame[role="sheet"] {{ background: #ffffff; border: 1px solid {p.edge}; border-radius: 4px; }}
QLabel[role="paper"] {{ color: #101010; }}
QFrame[role="bar"] {{ background: {p.panel}; border: 0; }}
QFrame[role="card"] {{ background: {p.raised}; border: 0; border-radius: 6px; }}
QFrame[role="rule"] {{ background: {p.line}; border: 0; max-height: 1px; }}
QFrame[wash] {{ border-radius: 8px; }}
QLabel {{ background: transparent; }}
QLabel[role="small"] {{ font-size: {px(SMALL_PX)}px; color: {p.quiet}; }}
QLabel[role="said"] {{ font-size: {px(SMALL_PX)}px; }}
QLabel[role="quiet"] {{ color: {p.quiet}; }}
QLabel[role="strong"] {{ font-weight: bold; }}
QLabel[role="large"] {{ font-size: {px(LARGE_PX)}px; }}
QLabel[role="title"] {{ font-size: {px(TITLE_PX)}px; font-weight: bold; }}
QLabel[role="whole"] {{ color: {p.quiet}; border: 2px solid {p.line}; border-radius: 6px;
    padding: 7px 10px; }}
QLabel[role="whole"]:focus {{ color: {p.text}; border: 2px solid {p.focus}; }}
QLabel[role="headline"] {{ font-size: {px(26)}px; font-weight: bold; }}
QLabel[role="raw"] {{ font-family: {MONO}; font-size: {px(SMALL_PX)}px; color: {p.quiet}; }}
QPlainTextEdit[role="frames"] {{ font-family: {MONO}; font-size: {px(SMALL_PX)}px; }}
{tones}
QLineEdit, QComboBox {{ background: {p.well}; border: 2px solid {p.edge}; border-radius: 6px;
    padding: 0 12px; min-height: {TARGET_PX - 4}px; font-size: {px(LARGE_PX)}px;
    selection-background-color: {p.tone(Tone.MANDATORY).fill};
    selection-color: {p.tone(Tone.MANDATORY).sign}; }}
QLineEdit[wrong="yes"], QComboBox[wrong="yes"], QCheckBox[wrong="yes"],
QPlainTextEdit[wrong="yes"] {{ border: 3px solid {p.tone(Tone.DANGER).ink}; }}
QLabel[role="error"] {{ font-size: {px(LARGE_PX)}px; color: {p.tone(Tone.DANGER).ink}; }}
QLineEdit[role="cell"] {{ min-height: {FINE_TARGET_PX - 4}px; padding: 0 8px;
    font-size: {BODY_PX}px; }}
QLineEdit[role="figure"] {{ min-height: {FINE_TARGET_PX - 4}px; padding: 0 8px;
    font-size: {px(BODY_PX)}px; }}
QLineEdit[fault="yes"], QComboBox[fault="yes"] {{ border: 3px solid {p.tone(Tone.CAUTION).fill}; }}
QPlainTextEdit[role="lines"] {{ font-family: inherit; font-size: {LARGE_PX}px; padding: 6px 8px; }}
QTextBrowser {{ background: {p.panel}; border: 2px solid {p.panel}; border-radius: 8px;
    padding: 10px 18px; font-size: {px(LARGE_PX)}px; }}
QTextBrowser:focus {{ border: 2px solid {p.focus}; }}
QPlainTextEdit {{ background: {p.well}; border: 2px solid {p.edge}; border-radius: 6px;
    padding: 4px; font-family: {MONO}; font-size: {px(SMALL_PX + 1)}px;
    selection-background-color: {p.tone(Tone.MANDATORY).fill};
    selection-color: {p.tone(Tone.MANDATORY).sign}; }}
QPlainTextEdit:focus, QLineEdit:focus, QComboBox:focus, QCheckBox:focus, QScrollArea:focus,
QListView:focus, QSlider:focus {{ border: 2px solid {p.focus}; }}
QLineEdit[wrong="yes"]:focus, QComboBox[wrong="yes"]:focus, QCheckBox[wrong="yes"]:focus,
QPlainTextEdit[wrong="yes"]:focus {{ border: 3px solid {p.tone(Tone.DANGER).ink}; }}
QLineEdit[placeholderText] {{ placeholder-text-color: {p.quiet}; }}
QComboBox::drop-down {{ border: 0; width: 40px; }}
QComboBox QAbstractItemView {{ background: {p.panel}; border: 2px solid {p.edge};
    selection-background-color: {p.tone(Tone.MANDATORY).fill};
    selection-color: {p.tone(Tone.MANDATORY).sign}; }}
QComboBox QAbstractItemView::item {{ min-height: {TARGET_PX}px; padding-left: 12px; }}
QListView {{ background: {p.panel}; border: 2px solid {p.panel}; border-radius: 8px; outline: 0; }}
QScrollArea {{ background: transparent; border: 2px solid transparent; }}
QScrollArea#pages {{ border: 0; }}
QWidget#clear {{ background: transparent; }}
QScrollBar {{ background: transparent; margin: 0; }}
QScrollBar:vertical {{ width: 14px; }}
QScrollBar:horizontal {{ height: 14px; }}
QScrollBar::handle {{ background: {p.edge}; border-radius: 5px; margin: 2px; }}
QScrollBar::handle:vertical {{ min-height: 40px; }}
QScrollBar::handle:horizontal {{ min-width: 40px; }}
QScrollBar::add-line, QScrollBar::sub-line, QScrollBar::add-page, QScrollBar::sub-page
{{ background: transparent; border: 0; width: 0; height: 0; }}
QSlider {{ background: transparent; border: 2px solid transparent; border-radius: 6px;
    min-height: {FINE_TARGET_PX - 4}px; }}
QSlider::groove:horizontal {{ background: {p.edge}; height: 8px; border-radius: 4px; }}
QSlider::sub-page:horizontal {{ background: {p.tone(Tone.MANDATORY).fill}; border-radius: 4px; }}
QSlider::handle:horizontal {{ background: {p.text}; width: 26px; margin: -10px 0;
    border-radius: 13px; }}
QProgressBar {{ background: {p.line}; border: 0; border-radius: 4px; }}
QProgressBar::chunk {{ background: {p.tone(Tone.MANDATORY).fill}; border-radius: 4px; }}
QToolTip {{ background: {p.raised}; color: {p.text}; border: 1px solid {p.edge}; padding: 4px; }}
"""
