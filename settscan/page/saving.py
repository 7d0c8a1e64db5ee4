"""Work before and after an edit -> changes of the project's text that keep all the rest of it."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from typing import Any

from tomlkit import TOMLDocument

from settscan.cloth import project_write as write
from settscan.cloth.model import Cloth, ColourSequence, Yarn
from settscan.cloth.project_edit import REMOVED, Edit, apply_to_document, parsed, with_edits
from settscan.cloth.project_lines import load_toml
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.project_origin import density_key
from settscan.cloth.project_read import project_of
from settscan.cloth.wishes import Wishes
from settscan.errors import BadProject
from settscan.measured import Origin
from settscan.page.places import as_doubt, shown_text
from settscan.page.work import WARP, WEFT, Line, Side, Work

_MARK = "\ufeff"


@dataclass(frozen=True, slots=True)
class Changed:
    """A project's text after edits, read already; `plain` is it without mark, with plain ends."""

    text: str
    plain: str
    data: dict[str, Any]
    cloth: Cloth
    wishes: Wishes
    photo: PhotoRecord | None


class Layout:
    """The text of one project with its layout, parsed once and then edited in place."""

    def __init__(self) -> None:
        self._held: tuple[str, TOMLDocument] | None = None

    def prepare(self, text: str, name: str) -> None:
        """Parse a text beforehand, so that the next edit need not wait for it."""
        plain = _plain(text)
        with contextlib.suppress(BadProject):
            self._held = plain, parsed(plain, name)

    def follow(self, text: str, edits: list[Edit], to: str, name: str) -> bool:
        """Go on to another text that is known already, if these edits lead to it exactly.

        Args:
            text: as it was.
            edits: from there.
            to: the other text.
            name: of the file, for messages.

        Returns:
            Whether the layout is that of the other text now; if not, `prepare` makes it so.
        """
        held, self._held = self._held, None
        if held is None or held[0] != _plain(text):
            return False
        with contextlib.suppress(BadProject):
            if apply_to_document(held[1], edits, name) == _plain(to):
                self._held = _plain(to), held[1]
        return self._held is not None

    def changed(self, text: str, data: dict[str, Any], edits: list[Edit], name: str) -> Changed:
        """The text with the edits in it, checked: it says what was meant, and is a valid project.

        Byte order mark, line ends, order and remarks stay.

        Args:
            text: as it is.
            data: the same as plain data.
            edits: what to change.
            name: of the file, for messages.

        Raises:
            BadProject: if the edits cannot be made safely, or what they say is wrong.
        """
        mark = _MARK if text.startswith(_MARK) else ""
        windows = "\r\n" in text
        plain = _plain(text)
        held, self._held = self._held, None  # of no use if anything goes wrong from here on
        document = held[1] if held is not None and held[0] == plain else parsed(plain, name)
        new = apply_to_document(document, edits, name)
        found = load_toml(new, name)
        if found != with_edits(data, edits):
            raise BadProject(
                f"{name} is laid out in a way that cannot be changed safely; nothing was written.",
                "Make the change in a text editor.",
            )
        cloth, wishes, photo = project_of(found, new, name)
        self._held = new, document
        whole = mark + (new.replace("\n", "\r\n") if windows else new)
        return Changed(whole, new, found, cloth, wishes, photo)


def changed_text(text: str, edits: list[Edit], name: str) -> str:
    """The text with the edits in it, as `Layout.changed` makes it."""
    return Layout().changed(text, load_toml(_plain(text), name), edits, name).text


def _plain(text: str) -> str:
    return text.removeprefix(_MARK).replace("\r\n", "\n")


def edits_between(before: Work, after: Work, units: str, has_photo: bool) -> list[Edit]:
    """What has to change in the file for `after` to stand there in place of `before`."""
    edits = _yarn_edits(before, after)
    edits += _side_edits(before.warp, after.warp, units)
    edits += _weft_edits(before, after, units)
    if (before.weave, before.direction) != (after.weave, after.direction):
        edits += [
            Edit(("weave", "name"), after.weave),
            Edit(("weave", "direction"), after.direction),
            Edit(("weave", "weave_from"), Origin.TYPED.value),
        ]
    if has_photo:
        edits += _photo_edits(before, after)
    return edits


def _yarn_edits(before: Work, after: Work) -> list[Edit]:
    old = {yarn.key: yarn for yarn in before.yarns}
    new = {yarn.key: yarn for yarn in after.yarns}
    edits = [Edit(("yarns", key), REMOVED) for key in old if key not in new]
    for key, yarn in new.items():
        if key not in old:
            edits.append(Edit(("yarns", key), write.yarn_values(yarn)))
            continue
        edits += _yarn_changes(key, old[key], yarn)
    return edits


def _yarn_changes(key: str, old: Yarn, new: Yarn) -> list[Edit]:
    before, after = write.yarn_values(old), write.yarn_values(new)
    return [
        Edit(("yarns", key, field), value)
        for field, value in after.items()
        if before[field] != value
    ]


def _side_edits(before: Side, after: Side, units: str, whole: bool = False) -> list[Edit]:
    """Sequence, doubts and density of one side; `whole` writes them even where they are alike."""
    if before == after and not whole:
        return []
    name = after.name
    edits: list[Edit] = []
    old, new = (write.sequence_values(one.sequence) for one in (before, after))
    if whole or old != new:
        edits.append(Edit((name, "sequence"), new["sequence"]))
        if whole or old.get("partial") != new.get("partial"):
            edits.append(Edit((name, "partial"), new.get("partial", False)))
    told = doubt_values(after)
    if whole or doubt_values(before) != told:
        edits.append(Edit((name, "doubts"), told))
    if edits:
        edits.append(Edit((name, "sequence_from"), Origin.TYPED.value))
    if before.density != after.density and after.density is not None:
        key = density_key(name)
        edits.append(Edit((name, key), write.density_value(after.density, name, units)))
        edits.append(Edit((name, f"{key}_from"), Origin.TYPED.value))
    return edits


def _weft_edits(before: Work, after: Work, units: str) -> list[Edit]:
    if after.like_warp:
        if before.like_warp:
            return []
        gone = [Edit((WEFT, key), REMOVED) for key in ("sequence", "partial", "doubts")]
        return [
            *gone,
            Edit((WEFT, "like_warp"), True),
            Edit((WEFT, "sequence_from"), Origin.TYPED.value),
        ]
    if before.like_warp:
        own = _side_edits(before.weft, after.weft, units, whole=True)
        return [Edit((WEFT, "like_warp"), False), *own]
    return _side_edits(before.weft, after.weft, units)


def _photo_edits(before: Work, after: Work) -> list[Edit]:
    edits = []
    for name in (WARP, WEFT):
        old, new = shown_text(before.side(name)), shown_text(after.side(name))
        if old != new and new:
            edits.append(Edit(("photo", f"shows_{name}"), new))
    if before.warp_runs != after.warp_runs:
        edits.append(Edit(("photo", "warp_runs"), after.warp_runs))
    return edits


def doubt_values(side: Side) -> list[dict[str, Any]]:
    """The list of doubts as the file has it: what is settled by a hand stands as confirmed."""
    found = []
    sequence = side.sequence
    for position, line in enumerate(side.lines):
        if line.certain:
            found.append(_settled(sequence, line, position))
        elif line.doubt is not None:
            doubt = as_doubt(line, position)
            assert doubt is not None
            found.append(write.doubt_values(doubt, sequence))
    return found


def _settled(sequence: ColourSequence, line: Line, position: int) -> dict[str, Any]:
    doubt = as_doubt(line, position)
    if doubt is not None and doubt.low <= line.threads <= doubt.high:
        values = write.doubt_values(replace(doubt, position=position), sequence)
    else:
        values = {
            "stripe": position + 1,
            "count": f"{line.yarn}{line.threads}",
            "range": f"{line.threads} to {line.threads}",
            "chance": "99 %",
            "note": "counted by hand",
        }
    return {**values, "confirmed": True}
