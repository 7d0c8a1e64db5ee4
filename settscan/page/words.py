"""US or GB words, as the weaver likes: the same sentences, spelt and named for one or the other."""

from __future__ import annotations

import re
from functools import lru_cache
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
    table = _TO_US if words == US else _TO_GB

    def told(match: re.Match[str]) -> str:
        word = match[0]
        found = table.get(word.lower())
        if found is None:
            return word
        return found.capitalize() if word[0].isupper() else found

    return _WORD.sub(told, text)


def all_in_words_of(data: Any, words: str, keep: frozenset[str] = frozenset()) -> Any:
    """The same for every text in plain data, but not below the keys in `keep`."""
    if isinstance(data, str):
        return in_words_of(data, words)
    if isinstance(data, list):
        return [all_in_words_of(one, words, keep) for one in data]
    if isinstance(data, dict):
        return {k: v if k in keep else all_in_words_of(v, words, keep) for k, v in data.items()}
    return data
