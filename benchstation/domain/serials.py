"""What a serial may be: one rule wherever one comes in, so that two serials never look alike.

Full width, ligatures and other compatibility forms are found by NFKC (Unicode Standard Annex 15).
Letters of one script alone, and none that pass for Latin ones as a whole: the single script
restriction and the whole-script confusables of Unicode Technical Standard 39, sections 4 and 5.
Scripts come from the names of the characters; the letters that pass for Latin ones are written down
here from memory of that standard's table, for the scripts that people type.
"""

import unicodedata

LONGEST_SERIAL = 64
FORMULA = ("=", "+", "-", "@")
FORMULA_IN_A_CELL = (*FORMULA, "\t", "\r")
"""A table program takes a cell for a formula after these too."""
"""A spreadsheet takes a text that begins so for a formula."""
_TOGETHER = (
    frozenset(("LATIN", "CJK", "HIRAGANA", "KATAKANA", "KATAKANA-HIRAGANA")),
    frozenset(("LATIN", "CJK", "HANGUL")),
    frozenset(("LATIN", "CJK", "BOPOMOFO")),
)
"""Scripts that are written in one word (UTS 39, 5.2, highly restrictive)."""
_IN_USE = frozenset(
    [
        "ARABIC",
        "ARMENIAN",
        "BENGALI",
        "BOPOMOFO",
        "CJK",
        "CYRILLIC",
        "DEVANAGARI",
        "ETHIOPIC",
        "GEORGIAN",
        "GREEK",
        "GUJARATI",
        "GURMUKHI",
        "HANGUL",
        "HEBREW",
        "HIRAGANA",
        "KANNADA",
        "KATAKANA",
        "KATAKANA-HIRAGANA",
        "KHMER",
        "LAO",
        "LATIN",
        "MALAYALAM",
        "MYANMAR",
        "ORIYA",
        "SINHALA",
        "TAMIL",
        "TELUGU",
        "THAANA",
        "THAI",
        "TIBETAN",
    ]
)
"""Scripts of common use (Unicode Standard Annex 31, table 5, from memory)."""
_MORE_LATIN = frozenset("ßẞæÆøØœŒłŁđĐðÐþÞħĦŋŊŧŦ")
"""Latin letters without an accent that no other one passes for; dotless i is none of them."""
_LIKE_LATIN = frozenset(
    "АВЕЅІЈКМНОРСТУХаеорсухіјѕһԁԛԝѵӏΑΒΕΖΗΙΚΜΝΟΡΤΥΧοναγικρυχՍՕօսոհց"  # Armenian
)
_FILLERS = frozenset("\u115f\u1160\u3164\uffa0\u2800")
"""Letters and signs that show nothing."""


def serial_problem(text: str) -> str:
    """Return what is wrong with a serial, after the words "the serial"; empty: nothing."""
    composed = unicodedata.normalize("NFC", text)
    if len(text) > LONGEST_SERIAL:
        return f"is longer than {LONGEST_SERIAL} characters"
    if not text.isprintable() or not _FILLERS.isdisjoint(text):
        return "holds characters that cannot be seen"
    if text.startswith(FORMULA):
        return f"begins like a formula, with '{text[0]}'"
    plain = unicodedata.normalize("NFKC", composed)
    if plain != composed:
        return f"holds wide or joined characters; written plainly it is '{plain[:LONGEST_SERIAL]}'"
    if any(unicodedata.category(c).startswith("M") for c in composed):
        return "holds marks that belong to no letter"
    letters = [c for c in composed if c.isalpha()]
    odd = [c for c in composed if not c.isalpha() and not c.isascii()]
    odd += [c for c in letters if _script(c) == "LATIN" and not _usual(c)]
    if odd:
        return f"holds '{odd[0]}' ({_named(odd[0])}), which looks like another character"
    return _script_problem(letters)


def look_alike(words: str) -> str:
    """Return what in words that are looked for is never in a serial; empty: nothing of the kind."""
    problems = (serial_problem(word) for word in words.split() if not word.isascii())
    return next((problem for problem in problems if problem), "")


def _script_problem(letters: list[str]) -> str:
    scripts = {_script(c) for c in letters}
    for script in scripts - _IN_USE:
        return f"holds letters of a script that passes for another ({script.lower()})"
    if len(scripts) > 1 and not any(scripts <= together for together in _TOGETHER):
        return f"mixes letters that look alike: {' and '.join(sorted(map(str.lower, scripts)))}"
    if letters and scripts != {"LATIN"} and _LIKE_LATIN.issuperset(letters):
        return f"is written in {scripts.pop().lower()} letters that look like Latin ones"
    return ""


def _script(letter: str) -> str:
    return unicodedata.name(letter, "UNNAMED").split()[0]


def _usual(letter: str) -> bool:
    """Return True for a Latin letter of a to z, perhaps with an accent, or a well known one."""
    return unicodedata.normalize("NFD", letter)[0].isascii() or letter in _MORE_LATIN


def _named(character: str) -> str:
    return f"U+{ord(character):04X}, {unicodedata.name(character, 'no name').lower()}"
