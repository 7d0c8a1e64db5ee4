"""A text that travels within a PNG picture, unseen: the data from which the picture was drawn."""

from __future__ import annotations

import struct
import zlib

_START = b"\x89PNG\r\n\x1a\n"
_LAST = 12  # bytes of the chunk that ends a PNG
_MOST = 8_000_000  # bytes of a text; more is not of our making


def with_note(png: bytes, name: str, text: str) -> bytes:
    """The picture with a text in it (chunk zTXt of PNG 1.2), which no viewer shows.

    Args:
        png: the file.
        name: what the text is called; plain letters.
        text: in ASCII.
    """
    body = name.encode("ascii") + b"\0\0" + zlib.compress(text.encode("ascii"), 9)
    return png[:-_LAST] + chunk(b"zTXt", body) + png[-_LAST:]


def chunk(kind: bytes, body: bytes) -> bytes:
    """A chunk of a PNG as it stands in the file: its length, kind (four letters), body and sum."""
    told = kind + body
    return struct.pack(">I", len(body)) + told + struct.pack(">I", zlib.crc32(told))


def note_in(png: bytes, name: str) -> str | None:
    """The text of that name in a picture; None where there is none, or it is damaged."""
    wanted = name.encode("ascii") + b"\0\0"
    at = len(_START)
    while png.startswith(_START) and at + _LAST <= len(png):
        size = int.from_bytes(png[at : at + 4], "big")
        body = png[at + 8 : at + 8 + size]
        if png[at + 4 : at + 8] == b"zTXt" and body.startswith(wanted):
            return _unpacked(body[len(wanted) :])
        at += size + _LAST
    return None


def _unpacked(packed: bytes) -> str | None:
    try:
        text = zlib.decompressobj().decompress(packed, _MOST)
        return text.decode("ascii")
    except (zlib.error, UnicodeDecodeError):
        return None
