"""The fonts that travel with the package, and how wide a text is in them."""

from __future__ import annotations

from functools import cache, lru_cache
from importlib.resources import files
from io import BytesIO
from typing import Any

_FONTS = {
    "text": "OpenSans-Regular",
    "strong": "OpenSans-Semibold",
    "bold": "OpenSans-Bold",
    "title": "Caladea-Bold",
}
_INSTEAD = {"title": "bold"}  # where the serif lacks a letter


@cache
def fonts() -> dict[str, Any]:
    """The fonts, registered with reportlab, by our own names."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    found = {}
    for style, name in _FONTS.items():
        font = TTFont(name, BytesIO((files("settscan.sheets") / f"fonts/{name}.ttf").read_bytes()))
        pdfmetrics.registerFont(font)
        found[style] = font
    return found


@lru_cache(maxsize=8192)
def drawable(style: str, text: str) -> tuple[str, str]:
    """A style that has every letter of the text, and the text with what none has replaced."""
    text = " ".join(text.split())
    found = fonts()
    if found[style].face.charToGlyph.keys() >= set(map(ord, text)):
        return style, text
    style = _INSTEAD.get(style, style)
    glyphs = found[style].face.charToGlyph
    return style, "".join(letter if ord(letter) in glyphs else "?" for letter in text)


def font_name(style: str) -> str:
    """The name under which a style's font is embedded."""
    return _FONTS[style]


@lru_cache(maxsize=8192)
def _unit_width(text: str, style: str) -> float:
    """Width at a size of one point."""
    style, text = drawable(style, text)
    face = fonts()[style].face
    widths, default = face.charWidths, face.defaultWidth
    return float(sum([widths.get(code, default) for code in map(ord, text)])) / 1000


def width_of(text: str, style: str, size: float) -> float:
    """Width of a line of text, in points."""
    return _unit_width(text, style) * size


def fitted(text: str, style: str, size: float, width: float, least: float = 6) -> float:
    """The largest size, not above `size`, at which the text fits the width."""
    wide = width_of(text, style, size)
    return size if wide <= width else max(least, size * width / wide)


def clipped(text: str, style: str, size: float, width: float) -> str:
    """The text, cut off with an ellipsis where it is wider than `width`."""
    if width_of(text, style, size) <= width:
        return text
    kept = len(text)
    while kept > 1 and width_of(text[:kept].rstrip() + "…", style, size) > width:
        kept -= 1
    return text[:kept].rstrip() + "…"


def covers(text: str) -> bool:
    """Whether the fonts have every letter of the text."""
    glyphs = fonts()["text"].face.charToGlyph
    return all(ord(letter) in glyphs for letter in " ".join(text.split()))


def wrapped(text: str, style: str, size: float, width: float) -> list[str]:
    """The text in lines no wider than `width`; a word that is too long is broken."""
    # In one font a line is as wide as its words and the spaces between them.
    one_font = drawable(style, text)[0] == style
    space = width_of("n n", style, size) - width_of("nn", style, size)
    lines: list[str] = []
    line, wide = "", 0.0
    for word in text.split():
        while width_of(word, style, size) > width and len(word) > 1:
            cut = next(
                n
                for n in range(len(word) - 1, 0, -1)
                if n == 1 or width_of(word[:n], style, size) <= width
            )
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:cut])
            word = word[cut:]
        alone = width_of(word, style, size)
        trial = f"{line} {word}" if line else word
        longer = wide + space + alone if one_font else width_of(trial, style, size)
        if line and longer > width:
            lines.append(line)
            line, wide = word, alone
        else:
            line, wide = trial, longer if line else alone
    return [*lines, line] if line else lines
