"""Texts made fit for paper."""

from __future__ import annotations

import re
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from flightlog.errors import ReportError

MOST_LETTERS = 1200
LONGEST_WORD = 22
"""Letters after which a word may be broken anywhere: none of ours is longer, a file name may be."""
FONTS = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
"""The fonts of the documents, which matplotlib brings along: Latin, Greek, Cyrillic, Arabic, Hebrew and so on, but
no Chinese, Japanese or Korean, and no pictures."""
USUAL = re.compile(
    "[\\x00-\\x7f\\xa0-\\u017f\\u0391-\\u03a1\\u03a3-\\u03c9\\u0410-\\u044f\\u2013\\u2019\\u2026\\u2212]*"
)
"""Texts of letters that the fonts surely have: they need not be opened for those."""
WITHOUT_LOOKS = re.compile("[\ufe00-\ufe0f\u200b-\u200d\u2060]")
"""Letters that only say how another is drawn, or where a line may break."""
_SHOWN_SPACES = "\u00a0\u202f\u2009"


def shown(text: str, longest_word: int = LONGEST_WORD) -> str:
    r"""A text fit for paper: without what cannot be seen, not endless, and with long words that may be broken.

    >>> shown("a\x07b\u202ec"), shown("abcdef", 4) == "abcd\u200bef"
    ('a b c', True)
    """
    text = drawable(text)
    text = text.encode("utf-8", "replace").decode("utf-8")
    text = "".join(letter if letter.isprintable() or letter in _SHOWN_SPACES else " " for letter in text)
    text = cut(text, MOST_LETTERS)
    return re.sub(rf"[^\s-]{{{longest_word}}}(?=[^\s-])", lambda part: part.group() + "\u200b", text)


@cache
def font_folder() -> Path:
    """The folder of fonts that matplotlib brings along; it is not imported for that."""
    found = find_spec("matplotlib")
    if found is None or not found.submodule_search_locations:
        raise ReportError("matplotlib, which brings the fonts, is not installed", "install flightlog anew")
    return Path(found.submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"


@cache
def letters() -> frozenset[int]:
    """Code points that every one of the fonts has; matplotlib is loaded for that."""
    from matplotlib.ft2font import FT2Font

    maps = [set(FT2Font(str(font_folder() / name)).get_charmap()) for name in FONTS]
    return frozenset(set.intersection(*maps))


def drawable(text: str) -> str:
    """The text with letters that no font here has written by their numbers, so that nothing is a bare box.

    >>> drawable("Ωμ Ёж"), drawable("a 日本 b🦅")
    ('Ωμ Ёж', 'a [U+65E5 U+672C] b[U+1F985]')
    """
    if USUAL.fullmatch(text):
        return text
    known = letters()
    text = WITHOUT_LOOKS.sub("", text)
    if all(ord(letter) in known or not letter.isprintable() for letter in text):
        return text
    missing = "".join({letter for letter in text if ord(letter) not in known and letter.isprintable()})
    return re.sub(
        f"[{re.escape(missing)}]+", lambda run: f"[{' '.join(f'U+{ord(one):04X}' for one in run.group())}]", text
    )


def cut(text: str, letters: int) -> str:
    """The beginning of a text that is too long.

    >>> cut("abcdef", 4), cut("abc", 4)
    ('abc…', 'abc')
    """
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"
