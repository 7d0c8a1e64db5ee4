"""US or GB words, as the weaver likes: the same sentences, spelt and named for one or the other."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import cache, lru_cache
from typing import Any

GB, US = "gb", "us"
# Our own texts are written with these words; names that a weaver gave are never touched.
_TO_US = {
    "colour": "color",
    "colours": "colors",
    "coloured": "colored",
    "recolour": "recolor",
    "grey": "gray",
    "centre": "center",
    "selvedge": "selvage",
    "selvedges": "selvages",
    "metre": "meter",
    "metres": "meters",
    "centimetre": "centimeter",
    "centimetres": "centimeters",
    "millimetre": "millimeter",
    "millimetres": "millimeters",
    "shaft": "harness",
    "shafts": "harnesses",
    "pirn": "bobbin",
    "pirns": "bobbins",
    "licence": "license",
    "mould": "mold",
}
_TO_GB = {"heddle": "heald", "heddles": "healds"}
_WORD = re.compile(r"[A-Za-z]+")


def in_words_of(text: str, words: str) -> str:
    """The text in US or GB words; anything but "us" means GB."""
    told = _translated(str(text), words)
    return type(text)(told)  # text that is safe as HTML stays so


@lru_cache(maxsize=4096)
def _translated(text: str, words: str) -> str:
    return _WORD.sub(lambda match: _put(match[0], words), text)


def _put(word: str, words: str) -> str:
    """One word in the words of the place."""
    found = (_TO_US if words == US else _TO_GB).get(word.lower())
    if found is None:
        return word
    return found.capitalize() if word[0].isupper() else found


Say = Callable[[str], str]
"""Puts a text into somebody's words."""


def saying(words: str, names: Iterable[str] = ()) -> Say:
    """What puts our own sentences into US or GB words and leaves the weaver's names in them.

    Args:
        words: "us" or "gb"; "" leaves all as it is written.
        names: what a weaver called things, whatever its words are.
    """
    if not words:
        return str
    known = sorted({name for name in names if name.strip()}, key=len, reverse=True)
    either = re.compile(
        "|".join([*(rf"(?<!\w){re.escape(n)}(?!\w)" for n in known), _WORD.pattern])
    )
    kept = frozenset(known)

    @cache
    def say(text: str) -> str:
        return either.sub(lambda m: m[0] if m[0] in kept else _put(m[0], words), text)

    return say


_NO_TEXT = re.compile(r"(<style\b.*?</style>|<[^>]*>)", re.DOTALL)


def said_in_html(document: str, say: Say) -> str:
    """A whole HTML document with the text between its tags put into somebody's words."""
    parts = _NO_TEXT.split(document)
    return "".join(part if part.startswith("<") else say(part) for part in parts)


def all_in_words_of(data: Any, words: str, keep: frozenset[str] = frozenset()) -> Any:
    """The same for every text in plain data, but not below the keys in `keep`."""
    if isinstance(data, str):
        return in_words_of(data, words)
    if isinstance(data, list):
        return [all_in_words_of(one, words, keep) for one in data]
    if isinstance(data, dict):
        return {k: v if k in keep else all_in_words_of(v, words, keep) for k, v in data.items()}
    return data
