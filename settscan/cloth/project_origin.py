"""Whose value it is: the camera's, or a hand's.

The file keeps in `[reading]` what was read last. A value belongs to the camera only while it is
marked "read" and still means what `[reading]` says. Whatever differs was changed by hand, even if
its mark was forgotten; so no edit is ever taken for a reading. `[reading]` carries a seal of its
own: where an editor replaced a word throughout the file, the seal breaks and all of it is yours.
"""

from __future__ import annotations

from typing import Any

from settscan.cloth import project_values as read
from settscan.cloth.notation import format_sequence, parse_sequence
from settscan.errors import SettscanError
from settscan.measured import Measured, Origin

Data = dict[str, Any]
UNKNOWN = "unknown"
_CAMERAS = (Origin.READ, Origin.ASSUMED)
GOES_ON = " ..."
"""Ends the record of a partial sequence."""


def sequence_origin(data: Data, axis: str) -> Origin:
    """Whose the colour sequence of "warp" or "weft" is."""
    declared = _declared(_table(data, axis), "sequence_from")
    if declared is Origin.ASSUMED and axis not in last_reading(data):
        return declared  # by a hand
    if declared in _CAMERAS and not cameras_sequence(data, axis):
        return Origin.TYPED
    return declared


def cameras_sequence(data: Data, axis: str) -> bool:
    """Whether the sequence is as the last reading left it, so that the next one may renew it.

    An assumed one, borrowed by the reader for threads that it could not count, is that as well.
    """
    return (
        _declared(_table(data, axis), "sequence_from") in _CAMERAS
        and sequence_record(sequence_table(data, axis)) == last_reading(data).get(axis)
        and not doubts_touched(data, axis)
    )


def follows_warp(data: Data) -> bool:
    """Whether the weft takes the sequence of the warp."""
    return _table(data, "weft").get("like_warp") is True


def sequence_table(data: Data, axis: str) -> Data:
    """The table in which the sequence of an axis stands: the warp's for a weft that follows it."""
    return _table(data, "warp" if axis == "weft" and follows_warp(data) else axis)


def density_origin(data: Data, axis: str) -> Origin:
    """Whose the density of "warp" (epi) or "weft" (ppi) is."""
    key = density_key(axis)
    table, record = _table(data, axis), last_reading(data)
    declared = _declared(table, f"{key}_from")
    if declared is not Origin.READ:
        return declared
    same = density_meaning(table.get(key), key) == density_meaning(record.get(key), key)
    return Origin.READ if same else Origin.TYPED


def weave_origin(data: Data) -> Origin:
    """Whose the weave is."""
    table = _table(data, "weave")
    declared = _declared(table, "weave_from")
    if declared is not Origin.READ:
        return declared
    same = weave_record(table) == last_reading(data).get("weave")
    return Origin.READ if same else Origin.TYPED


def yarn_origin(data: Data, key: str) -> Origin:
    """Whose name and colour of this yarn are."""
    record = _table(last_reading(data), "yarns").get(key)
    return Origin.READ if record == yarn_record(_table(data, "yarns").get(key)) else Origin.TYPED


def notes_origin(data: Data) -> Origin:
    """Whose the notes are."""
    if "notes" not in data:
        return Origin.READ
    return Origin.READ if data["notes"] == last_reading(data).get("notes") else Origin.TYPED


def last_reading(data: Data) -> Data:
    """What was read last, as noted in the file; nothing if the note was changed."""
    record = _table(data, "reading")
    return record if record and record.get("seal") == seal(record) else {}


def seal(record: Data) -> str:
    """A short check of all that `[reading]` notes."""
    import json  # only a cloth that was read has a seal
    import zlib

    noted = {key: value for key, value in record.items() if key != "seal"}
    text = json.dumps(noted, sort_keys=True, default=str)
    return f"{zlib.crc32(text.encode()):08x}"


def density_key(axis: str) -> str:
    """The key of the density of an axis."""
    return "epi" if axis == "warp" else "ppi"


def sequence_record(table: Data) -> str:
    """How `[reading]` notes a sequence: as written by `format_sequence`; "" if not readable."""
    partial = table.get("partial") is True
    try:
        sequence = format_sequence(parse_sequence(str(table.get("sequence", "")), partial))
    except SettscanError:
        return ""
    return sequence + (GOES_ON if partial else "")


def weave_record(table: Data) -> str:
    """How `[reading]` notes a weave: "2/2 twill Z"."""
    return f"{table.get('name', '')} {table.get('direction', '')}".strip()


def yarn_record(table: object) -> str:
    """How `[reading]` notes a yarn: "navy #1b2654"."""
    if not isinstance(table, dict):
        return ""
    return f"{table.get('name', '')} {str(table.get('colour', '')).lower()}".strip()


def doubts_touched(data: Data, axis: str) -> bool:
    """Whether a hand has confirmed, corrected or removed a doubted stripe."""
    doubts = _table(data, axis).get("doubts", [])
    if not isinstance(doubts, list) or not all(isinstance(one, dict) for one in doubts):
        return True
    noted = last_reading(data).get(f"{axis}_doubts", [])
    places = [one.get("stripe") for one in doubts]
    return places != noted or any(one.get("confirmed") is True for one in doubts)


def _table(data: Data, name: str) -> Data:
    found = data.get(name)
    return found if isinstance(found, dict) else {}


def _declared(table: Data, key: str) -> Origin:
    """The mark beside a value; a missing or misspelt one counts as typed."""
    try:
        return Origin(str(table.get(key, Origin.TYPED)))
    except ValueError:
        return Origin.TYPED


def density_meaning(value: object, unit: str) -> Measured | str | None:
    """What a density means, for comparison; the text itself where it is not readable."""
    if value is None or value == UNKNOWN:
        return None
    try:
        return read.density(unit)(value)
    except SettscanError:
        return str(value)
