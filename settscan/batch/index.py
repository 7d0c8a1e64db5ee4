"""The index page of a batch: thumbnails that can be sorted by doubt, from the disk, offline.

The rows stand in the page as data, so the page opens without a server; its script shows a hundred
of them at a time. Text from outside reaches the page as text only.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import IO, Any
from urllib.parse import quote

from settscan.batch.rows import Row
from settscan.doubts import in_general, known_names

_MARK = "/*ROWS*/"
_COUNTS = "/*COUNTS*/"
_DOUBTS = "/*DOUBTS*/"


class IndexPage:
    """Writes the page, row by row."""

    def __init__(self, file: IO[bytes]) -> None:
        text = (files("settscan.batch") / "templates" / "index.html").read_text("utf-8")
        before, rest = text.split(_MARK)
        self._between, rest = rest.split(_COUNTS)
        self._further, self._after = rest.split(_DOUBTS)
        self._doubts: set[str] = set()
        self._file = file
        self._first = True
        self._file.write(before.encode())

    def add(self, row: Row, files: dict[str, str]) -> None:
        """Append a swatch."""
        self._doubts |= set(str(row.get("doubts", "")).split())
        data = {
            "object": row.get("object", ""),
            "file": row["file"],
            "cloth": [row.get("piece", 1), row.get("pieces", 1)],
            "status": row["status"],
            "doubt": row.get("doubt"),
            "unsure": row.get("unsure_stripes"),
            "doubts": row.get("doubts", ""),
            "reason": row.get("reason", ""),
            "warp": row.get("warp_decided") or row.get("warp_sequence", ""),
            "weft": row.get("weft_decided") or row.get("weft_sequence", ""),
            "epi": row.get("warp_density"),
            "ppi": row.get("weft_density"),
            "edited": bool(row.get("edited")),
            "reviewer": row.get("reviewer", ""),
            "links": {kind: quote(name) for kind, name in files.items()},
        }
        self._file.write(b"" if self._first else b",\n")
        self._file.write(_in_page(data).encode())
        self._first = False

    def end(self, counts: dict[str, int]) -> None:
        """Finish the page; `counts` is how many swatches there are of each status."""
        self._file.write(self._between.encode())
        self._file.write(_in_page(dict(sorted(counts.items()))).encode())
        self._file.write(self._further.encode())
        told = {name: in_general(name) for name in known_names() if name in self._doubts}
        self._file.write(_in_page(told).encode())
        self._file.write(self._after.encode())


def _in_page(data: Any) -> str:
    """JSON that cannot end the script it stands in."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for letter in ("<", ">", "&", "\u2028", "\u2029"):
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text
