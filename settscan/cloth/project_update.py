"""A new reading goes into an existing project file, around everything that a hand has changed."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from settscan.cloth import project_origin as origin
from settscan.cloth import project_write as write
from settscan.cloth.colour import difference
from settscan.cloth.model import Cloth, Stripe, ThreadSet, Yarn
from settscan.cloth.notation import yarn_key
from settscan.cloth.project_edit import Edit, apply_to_text, with_edits
from settscan.cloth.project_lines import load_toml
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.project_read import parse_project, project_of
from settscan.errors import BadProject
from settscan.measured import Measured, Origin

SAME_YARN = 15.0
"""CIELAB distance up to which a yarn read again keeps its key: two photos of one yarn in other
light differ by some units, yarns with different names by 20 or more."""

_ROUNDING = 1e-6  # what writing a density to six places can change


@dataclass(frozen=True, slots=True)
class Updated:
    """The new text, with a sentence for each thing that changed or was kept from a hand."""

    text: str
    changed: tuple[str, ...]
    kept: tuple[str, ...]


def update_text(text: str, cloth: Cloth, photo: PhotoRecord | None, name: str) -> Updated:
    """Put what was read into the text of a project file.

    Typed, pinned and otherwise changed values stay, as do order and remarks. Densities that the
    cloth carries as pinned were given along with the photo and are written.

    Args:
        text: the file as it is.
        cloth: what was read; its yarns get the keys of the file's yarns of the same colour.
        photo: what it was read from.
        name: of the file, for messages.

    Raises:
        BadProject: if the file is wrong, or cannot be changed without disturbing the rest.
    """
    data = load_toml(text, name)
    if any(not isinstance(data.get(table, {}), dict) for table in _TABLES):
        parse_project(text, name)  # raises, with the line
    units = "metric" if data.get("units") == "metric" else "inch"
    cloth = with_keys_of(data.get("yarns", {}), cloth)
    work = _Work(data, units)
    if photo is not None:
        work.table("photo", write.photo_values(photo))
    work.yarns(cloth)
    for axis, threads in (("warp", cloth.warp), ("weft", cloth.weft)):
        work.sequence(axis, threads, alike=cloth.weft.sequence == cloth.warp.sequence)
        work.density(axis, threads.density)
    work.weave(cloth)
    work.notes(cloth)
    work.reading(cloth)
    return _checked(text, data, work, name)


_TABLES = ("photo", "yarns", "warp", "weft", "weave", "reading")


def _checked(text: str, data: dict[str, Any], work: _Work, name: str) -> Updated:
    """The edits applied twice, to the text and to the plain data, which must agree."""
    new = apply_to_text(text, work.edits, name)
    found = load_toml(new, name)
    if found != with_edits(data, work.edits):
        raise BadProject(
            f"{name} is laid out in a way that cannot be updated safely; nothing was written.",
            "Scan into a new file with -o and copy what you need.",
        )
    project_of(found, new, name)
    return Updated(new, tuple(work.changed), tuple(work.kept))


class _Work:
    """Collects the edits, and what to tell about them."""

    def __init__(self, data: dict[str, Any], units: str) -> None:
        self.data = data
        self.units = units
        self.edits: list[Edit] = []
        self.changed: list[str] = []
        self.kept: list[str] = []
        self.kept_yarns: set[str] = set()
        self.unread: set[str] = set()  # axes whose earlier reading stays

    def put(self, table: str, key: str, value: Any) -> None:
        """Set one value, if it differs."""
        if self.data.get(table, {}).get(key) != value:
            self.edits.append(Edit((table, key), value))

    def table(self, name: str, values: dict[str, Any]) -> None:
        """Set all values of a table that belongs to the camera."""
        for key, value in values.items():
            self.put(name, key, value)

    def yarns(self, cloth: Cloth) -> None:
        """Add the yarns that are new, renew those that nobody has renamed or recoloured."""
        there = self.data.get("yarns", {})
        for yarn in cloth.yarns:
            values = write.yarn_values(yarn)
            if yarn.key not in there:
                self.edits.append(Edit(("yarns", yarn.key), values))
                self.changed.append(f"yarn {yarn.key} is new: {values['name']}")
            elif origin.yarn_origin(self.data, yarn.key) is Origin.READ:
                for key, value in values.items():
                    if there[yarn.key].get(key) != value:
                        self.edits.append(Edit(("yarns", yarn.key, key), value))
            else:
                self.kept_yarns.add(yarn.key)
                self.kept.append(f"name and colour of yarn {yarn.key} are yours and stay")

    def sequence(self, axis: str, threads: ThreadSet, alike: bool) -> None:
        """The colour sequence with its doubts, unless a hand has decided it.

        Args:
            axis: "warp" or "weft".
            threads: as read now.
            alike: whether warp and weft were read as one sequence.
        """
        table = self.data.get(axis, {})
        values = write.sequence_values(threads.sequence)
        there = origin.sequence_table(self.data, axis)
        same = origin.sequence_record(there) == origin.sequence_record(values)
        follows = axis == "weft" and origin.follows_warp(self.data)
        missing = "sequence" not in there
        if not missing and not origin.cameras_sequence(self.data, axis):
            if not same:
                self.kept.append(f"the {axis} sequence is yours and stays")
            if table.get("sequence_from") in (Origin.READ, Origin.ASSUMED):
                self.put(axis, "sequence_from", Origin.TYPED.value)
            return
        if threads.origin is Origin.ASSUMED and table.get("sequence_from") == Origin.READ:
            self.kept.append(f"the {axis} could not be counted this time; what was read stays")
            self.unread.add(axis)
            return
        if follows and alike and not threads.doubts:
            return  # the warp has been renewed, or is a hand's, which both then follow
        if follows:
            self.put(axis, "like_warp", False)
        if not same or follows:
            self.put(axis, "sequence", values["sequence"])
            self.put(axis, "partial", values.get("partial", False))
            self.changed.append(f"the {axis} sequence is now {values['sequence']}")
        self.put(axis, "sequence_from", threads.origin.value)
        doubts = [write.doubt_values(one, threads.sequence) for one in threads.doubts]
        self.put(axis, "doubts", doubts)

    def density(self, axis: str, read: Measured | None) -> None:
        """The density, unless a hand has decided it or nothing was read."""
        if read is None:
            return
        key = origin.density_key(axis)
        value = write.density_value(read, axis, self.units)
        table = self.data.get(axis, {})
        mine = key in table and origin.density_origin(self.data, axis) is not Origin.READ
        if read.origin in (Origin.PINNED, Origin.TYPED) and not self._says(axis, read):
            self.put(axis, key, value)
            self.put(axis, f"{key}_from", Origin.PINNED.value)
            self.changed.append(f"{key} is now {value}, as given")
        elif mine or read.origin in (Origin.PINNED, Origin.TYPED):
            if read.origin is Origin.READ:
                self.kept.append(f"{key} is yours and stays ({table[key]})")
            if table.get(f"{key}_from") == Origin.READ:
                self.put(axis, f"{key}_from", Origin.TYPED.value)
        else:
            if table.get(key) != value:
                self.put(axis, key, value)
                self.changed.append(f"{key} is now {value}")
            self.put(axis, f"{key}_from", Origin.READ.value)

    def _says(self, axis: str, given: Measured) -> bool:
        """Whether the file has this value already, perhaps with a range of its own."""
        key = origin.density_key(axis)
        there = origin.density_meaning(self.data.get(axis, {}).get(key), key)
        return isinstance(there, Measured) and math.isclose(
            there.value, given.value, rel_tol=_ROUNDING
        )

    def weave(self, cloth: Cloth) -> None:
        """The weave, unless a hand has decided it."""
        values = write.weave_values(cloth)
        table = self.data.get("weave", {})
        if "name" in table and origin.weave_origin(self.data) is not Origin.READ:
            if origin.weave_record(table) != origin.weave_record(values):
                self.kept.append(f"the weave is yours and stays ({origin.weave_record(table)})")
            if table.get("weave_from") == Origin.READ:
                self.put("weave", "weave_from", Origin.TYPED.value)
            return
        if cloth.weave == origin.UNKNOWN and "name" in table:
            return
        if origin.weave_record(table) != origin.weave_record(values):
            self.table("weave", values)
            self.changed.append(f"the weave is now {origin.weave_record(values)}")
        whose = Origin.PINNED if cloth.weave_told else Origin.READ
        self.put("weave", "weave_from", whose.value)

    def notes(self, cloth: Cloth) -> None:
        """The notes, unless a hand has changed them."""
        notes = [write.plain(note) for note in cloth.notes]
        if self.data.get("notes", []) == notes:
            return
        if origin.notes_origin(self.data) is Origin.READ:
            self.edits.append(Edit(("notes",), notes))

    def reading(self, cloth: Cloth) -> None:
        """What was read, for the next comparison.

        Where this reading has no answer, the note of the one before stays. Yarns and notes have
        no mark beside them; those that are a hand's are left out, so that no later reading that
        happens to agree with them makes them the camera's again.
        """
        before = origin.last_reading(self.data)
        record = write.reading_record(cloth, self.units)
        silent = [key for axis in self.unread for key in (axis, f"{axis}_doubts")]
        silent += [
            origin.density_key(axis)
            for axis, threads in (("warp", cloth.warp), ("weft", cloth.weft))
            if threads.density is None
        ]
        if cloth.weave == origin.UNKNOWN:
            silent.append("weave")
        record |= {key: before[key] for key in silent if key in before}
        if "yarns" in record:
            mine = {k: v for k, v in record["yarns"].items() if k not in self.kept_yarns}
            record["yarns"] = mine
        if origin.notes_origin(self.data) is not Origin.READ:
            record.pop("notes", None)
        record["seal"] = origin.seal(record)
        if self.data.get("reading") != record:
            self.edits.append(Edit(("reading",), record))


def with_keys_of(there: dict[str, Any], cloth: Cloth) -> Cloth:
    """The cloth with its yarns called as in the file, matched by colour; others get free keys."""
    distances = sorted(
        (difference(str(table["colour"]), yarn.colour), key, yarn.key)
        for key, table in there.items()
        if _has_colour(table)
        for yarn in cloth.yarns
    )
    called: dict[str, str] = {}
    for distance, key, read_key in distances:
        if distance <= SAME_YARN and key not in called.values() and read_key not in called:
            called[read_key] = key
    free = (key for key in map(yarn_key, range(702)) if key not in there)
    for yarn in cloth.yarns:
        if yarn.key not in called:
            called[yarn.key] = next(free)
    return replace(
        cloth,
        yarns=_renamed(cloth.yarns, called),
        warp=_recalled(cloth.warp, called),
        weft=_recalled(cloth.weft, called),
    )


def _has_colour(table: object) -> bool:
    if not isinstance(table, dict):
        return False
    colour = str(table.get("colour", ""))
    return len(colour) == 7 and all(one in "0123456789abcdefABCDEF" for one in colour[1:])


def _renamed(yarns: Iterable[Yarn], called: dict[str, str]) -> tuple[Yarn, ...]:
    return tuple(
        sorted(
            (replace(yarn, key=called[yarn.key]) for yarn in yarns),
            key=lambda yarn: (len(yarn.key), yarn.key),
        )
    )


def _recalled(threads: ThreadSet, called: dict[str, str]) -> ThreadSet:
    stripes = tuple(Stripe(called[one.yarn], one.threads) for one in threads.sequence.stripes)
    return replace(threads, sequence=replace(threads.sequence, stripes=stripes))
