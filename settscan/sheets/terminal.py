"""Titles, tables and lists for the terminal: at most 80 columns, nothing said by colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap

WIDTH = 80
_LEAST_ROOM = 16  # for the last column; with less it goes on a line of its own


def title(text: str) -> str:
    """A title, underlined."""
    shown = " ".join(text.split())[:WIDTH]
    return f"{shown}\n{'=' * len(shown)}"


def heading(text: str) -> str:
    """A heading within the text, underlined."""
    return f"\n{text}\n{'-' * len(text)}"


def paragraph(text: str) -> str:
    """Running text, wrapped."""
    return "\n" + "\n".join(wrap(text, WIDTH))


def indented(texts: Iterable[str]) -> str:
    """Lines, indented, each wrapped below itself."""
    return "\n".join(
        part
        for text in texts
        for part in wrap(text, WIDTH - 2, initial_indent="  ", subsequent_indent="    ")
    )


def table(rows: Sequence[tuple[str, str]]) -> str:
    """Labels at the left, values wrapped beside them."""
    wide = min(28, max(len(label) for label, _ in rows))
    lines = []
    for label, value in rows:
        labels = wrap(label, wide) or [""]
        values = wrap(value, WIDTH - wide - 4) or [""]
        for at in range(max(len(labels), len(values))):
            left = labels[at] if at < len(labels) else ""
            right = values[at] if at < len(values) else ""
            lines.append(f"  {left:<{wide}}  {right}".rstrip())
    return "\n".join(lines)


def numbered(texts: Sequence[str]) -> str:
    """Sentences with their numbers."""
    lines = []
    for number, text in enumerate(texts, 1):
        lines += wrap(text, WIDTH, initial_indent=f"  {number:>2}  ", subsequent_indent=" " * 6)
    return "\n".join(lines)


def warning_list(above: str, texts: Sequence[str]) -> str:
    """Warnings below their heading; nothing where there are none."""
    if not texts:
        return ""
    lines = [heading(above)]
    for text in texts:
        lines += wrap(text, WIDTH, initial_indent="  ! ", subsequent_indent="    ")
    return "\n".join(lines)


def columns(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = ()
) -> str:
    """Columns as wide as they need; the last one wraps below itself."""
    table = [head, *rows]
    wides = [max(len(row[column]) for row in table) for column in range(len(head) - 1)]
    indent = 2 + sum(wides) + 2 * len(wides)
    lines = []
    for row in table:
        cells = [
            f"{row[column]:>{wide}}" if column in right else f"{row[column]:<{wide}}"
            for column, wide in enumerate(wides)
        ]
        start = "  " + "  ".join(cells) + "  "
        if WIDTH - indent < _LEAST_ROOM:
            lines += [start.rstrip(), *wrap(row[-1], WIDTH - 8, initial_indent=" " * 8)]
            continue
        last = wrap(row[-1], WIDTH - indent) or [""]
        lines.append((start + last[0]).rstrip())
        lines += [" " * indent + more for more in last[1:]]
    return "\n".join(lines)
