"""Where things stand in the text of a project file, and what is wrong with it as TOML."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from settscan.errors import BadProject

Path = tuple[str, ...]

# For complaints only, so compiled when there is one.
_HEADER = r"\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?"
_KEY = r"\s*((?:[\w-]+|\"[^\"]*\"|'[^']*')(?:\s*\.\s*(?:[\w-]+|\"[^\"]*\"|'[^']*'))*)\s*="
_PLACE = r"(?P<what>.*?)\s*\(at (?:line (?P<line>\d+), column \d+|end of document)\)"
_BARE_TEXT = (
    r"\s*[\w.-]+\s*=\s*+(?![\"'\[{]|true\b|false\b)(?P<value>[^#]*[^\s#0-9.+_-][^#]*?)\s*(?:#.*)?"
)


def load_toml(text: str, name: str) -> dict[str, Any]:
    """The plain data of the text.

    Raises:
        BadProject: with the line, what stands there, and where possible what to write instead.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(text, name, str(error)) from None
    except ValueError:  # a number of thousands of figures, which Python declines
        raise BadProject(
            f"{name} holds a number with thousands of figures.", "Correct it."
        ) from None
    except RecursionError:
        raise BadProject(f"{name} is nested too deeply.", "Remove the brackets.") from None


def line_numbers(text: str) -> dict[Path, int]:
    """The line, from 1, of each table and key; the first one where there are several."""
    found: dict[Path, int] = {}
    table: Path = ()
    inside_text = False
    for number, line in enumerate(text.splitlines(), start=1):
        was_inside = inside_text
        if (line.count('"""') + line.count("'''")) % 2:
            inside_text = not inside_text
        if was_inside:
            continue
        if header := re.fullmatch(_HEADER, line):
            table = _parts(header[1])
            found.setdefault(table, number)
        elif key := re.match(_KEY, line):
            found.setdefault(table + _parts(key[1]), number)
    return found


def line_of(lines: dict[Path, int], path: Path) -> int | None:
    """The line of a key, or of the nearest table around it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def _parts(dotted: str) -> Path:
    """The names in `yarns.A` or `yarns."A"`."""
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _syntax(text: str, name: str, told: str) -> BadProject:
    """A TOML error as a sentence for a weaver."""
    place = re.fullmatch(_PLACE, told)
    lines = text.splitlines()
    number = int(place["line"]) if place and place["line"] else len(lines)
    what = (place["what"] if place else told).rstrip(".")
    line = lines[number - 1] if 0 < number <= len(lines) else ""
    bare = re.fullmatch(_BARE_TEXT, line)
    if line.count('"') % 2:
        advice = "A double quote is missing on this line."
    elif bare:
        advice = f'Put text and quantities in double quotes: "{bare["value"]}".'
    elif "overwrite" in what.lower() or "twice" in what.lower() or "declare" in what.lower():
        what, advice = "this stands in the file twice", "Keep one of the two."
    else:
        advice = 'Write one field in a line, as in: width = "54 in".'
    shown = line.strip() if len(line.strip()) <= 60 else line.strip()[:59] + "…"
    return BadProject(f"{name}, line {number}: cannot read `{shown}` ({what}).", advice)
