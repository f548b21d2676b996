"""Texts made fit for paper."""

from __future__ import annotations

import re

MOST_LETTERS = 1200
LONGEST_WORD = 22
"""Letters after which a word may be broken anywhere: none of ours is longer, a file name may be."""
_SHOWN_SPACES = "\u00a0\u202f\u2009"


def shown(text: str, longest_word: int = LONGEST_WORD) -> str:
    r"""A text fit for paper: without what cannot be seen, not endless, and with long words that may be broken.

    >>> shown("a\x07b\u202ec"), shown("abcdef", 4) == "abcd\u200bef"
    ('a b c', True)
    """
    text = text.encode("utf-8", "replace").decode("utf-8")
    text = "".join(letter if letter.isprintable() or letter in _SHOWN_SPACES else " " for letter in text)
    text = cut(text, MOST_LETTERS)
    return re.sub(rf"[^\s-]{{{longest_word}}}(?=[^\s-])", lambda part: part.group() + "\u200b", text)


def cut(text: str, letters: int) -> str:
    """The beginning of a text that is too long.

    >>> cut("abcdef", 4), cut("abc", 4)
    ('abc…', 'abc')
    """
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"
