"""The fields of the project file: how each is called, explained, read and written.

One table drives the reading, the commented template and the check of the documentation. The
keys of the tables for wishes stand beside the attributes that they fill.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from settscan.cloth import project_literals as write
from settscan.cloth import project_values as read
from settscan.cloth.wishes import CrossEnd, Edges, FrameKind, OddWay

FORMAT = 1
"""Version of the file format, the value of the key `settscan`."""


class Field(NamedTuple):
    """One key of the file.

    Attributes:
        key: as it stands in the file.
        attribute: of the dataclass that it fills; "" where the reader treats it by itself.
        about: the remark beside it.
        read: from the TOML value; raises BadInput with what to write instead.
        write: to TOML text, given the value and the units that lead; None if not written so.
        example: TOML text for the remark where there is no value yet.
    """

    key: str
    attribute: str
    about: str
    read: Callable[[object], Any]
    write: Callable[[Any, str], str]
    example: str = ""


class Section(NamedTuple):
    """One table of the file, with the remark below its header."""

    name: str
    about: tuple[str, ...]
    fields: tuple[Field, ...]


def _whole(key: str, about: str, least: int, most: int, example: str = "") -> Field:
    return Field(key, key, about, read.whole(least, most), write.plain, example)


def _length(key: str, about: str, example: str = "") -> Field:
    return Field(key, f"{key}_mm", about, read.length, write.length, example)


def _size(key: str, about: str, example: str) -> Field:
    return Field(key, f"{key}_mm", about, read.length, write.size, example)


def _extra(key: str, about: str) -> Field:
    return Field(key, f"{key}_mm", about, read.length_or_nothing, write.size)


def _loss(key: str, about: str) -> Field:
    return Field(key, key, about, read.span, write.span)


PIECE = Section(
    "piece",
    (
        "What to weave, in sizes of the finished (washed, pressed) cloth. These are examples:",
        "change them to what you want. Give width or warp_repeats, and length or weft_repeats.",
    ),
    (
        _size("width", "finished width", '"54 in"'),
        _whole("warp_repeats", "whole repeats across, in place of width", 1, 10_000, "3"),
        _size("length", "finished length of one piece, without fringe", '"72 in"'),
        _whole("weft_repeats", "whole repeats along, in place of length", 1, 10_000, "4"),
        _whole("pieces", "how many, one after the other on the same warp", 1, 1000),
        _extra("hem", "at each end of each piece"),
        _extra("fringe", "unwoven warp at each end of each piece"),
        _extra("sample", "woven first, to try beat and washing; once per warp"),
        Field("spare", "spare", "more yarn to buy than worked out", read.share, write.share),
        Field(
            "close_on_pivot",
            "close_on_pivot",
            "add the threads that make both edges alike",
            read.truth,
            write.truth,
        ),
        Field(
            "edges",
            "edges",
            'the left edge: "first pivot", "last pivot" or "half pivot"',
            read.one_of(Edges),
            write.words,
        ),
        Field(
            "border", "border", 'outside the pattern, as in "A12 B4"', read.border, write.stripes
        ),
        _whole("selvedge_ends", "extra ends at each edge, sleyed double", 0, 100),
        Field(
            "selvedge_yarn",
            "selvedge_yarn",
            'its key; "" for that of the edge',
            read.key,
            write.words,
        ),
        Field(
            "floating_selvedges",
            "floating_selvedges",
            "one end at each edge, in no heddle",
            read.truth,
            write.truth,
        ),
        _whole("panels", "strips joined side by side to this width", 1, 20),
        Field(
            "turn_panel",
            "turn_panel",
            "of two panels, turn the second round; a border needs it",
            read.truth,
            write.truth,
        ),
        Field(
            "exact_width",
            "exact_width",
            "cut the pattern at both edges; false: whole repeats",
            read.truth,
            write.truth,
        ),
        _whole("centre_stripe", "stripe in the middle, counted from 1; 0: as it falls", 0, 10_000),
        _extra("gap", "unwoven warp between two pieces, besides fringes"),
    ),
)
LOSSES = Section(
    "losses",
    (
        "What is lost between loom and finished cloth, with the range you expect. These are",
        "assumptions: weave and wash a sample, and write your own. A loss is a share of the",
        "larger size, so the plan divides: 10 long at 20 % loss needs 12.5.",
    ),
    (
        _loss("draw_in", "width, lost while weaving"),
        _loss("width_shrinkage", "width, lost in washing and finishing"),
        Field(
            "take_up",
            "take_up",
            'warp length, taken up by the weave; or "crimp 9 %"',
            read.take_up,
            write.span,
        ),
        _loss("length_shrinkage", "length, lost in washing and finishing"),
    ),
)
SAMPLE = Section(
    "sample",
    (
        "A sample that you wove and measured: across, along, or both, each of them three times.",
        "The losses that it shows lead over those in [losses].",
    ),
    (
        _size("width_in_reed", "of the sample", '"10 in"'),
        _size("width_off_loom", "relaxed, not yet washed", '"9.5 in"'),
        _size("width_washed", "washed and pressed", '"8.6 in"'),
        _size("length_on_loom", "of warp, under tension, between two marks", '"20 in"'),
        _size("length_off_loom", "between the same marks, relaxed", '"18.5 in"'),
        _size("length_washed", "between the same marks, washed and pressed", '"17 in"'),
    ),
)
LOOM = Section(
    "loom",
    ("The loom.",),
    (
        Field(
            "waste",
            "waste_mm",
            "warp lost in front and behind",
            read.length_or_nothing,
            write.length,
        ),
        _size("weaving_width", "widest warp that it takes", '"60 in"'),
        _whole("shafts", "harnesses that can be lifted", 2, 64),
        Field(
            "reeds",
            "reeds",
            'reeds you have: "10 dpi", "48/10cm", "60 Stockport"',
            read.reeds,
            write.reeds,
        ),
        _whole("heddles_per_shaft", "to see whether they suffice", 1, 100_000, "400"),
        Field(
            "align_stripes",
            "align_stripes",
            "begin every stripe in a new dent",
            read.truth,
            write.truth,
        ),
        Field(
            "pirn",
            "pirn_g",
            "yarn on one pirn, to count them",
            read.some_mass,
            write.mass,
            '"20 g"',
        ),
    ),
)
FRAME = Section(
    "frame",
    ("What the warp is wound on: a mill, a reel, a board, or a sectional beam.",),
    (
        Field(
            "kind",
            "kind",
            '"mill", "reel", "board" or "sectional beam"',
            read.one_of(FrameKind),
            write.words,
        ),
        _length("circumference", "yarn in one turn; on a board, out and back"),
        _length("pitch", "how far one turn climbs on a mill"),
        _whole("most_turns", "turns that it has room for", 1, 1000),
        _whole("pegs_around", "uprights or pegs in one turn", 1, 1000),
        _whole("bout_ends", "most ends in one bout", 1, 100_000),
        _whole("group_ends", "ends between two counting ties", 1, 100_000),
        _whole("ends_in_hand", "threads wound side by side", 1, 100),
        Field(
            "cross",
            "cross",
            'where it is made: "far end" or "start end"',
            read.one_of(CrossEnd),
            write.words,
        ),
        Field(
            "odd_way",
            "odd_way",
            'odd stripes: "change at the far end" or "wind singly"',
            read.one_of(OddWay),
            write.words,
        ),
        _whole("carry_ends", "a yarn hangs, unbroken, over at most so many ends", 0, 1000),
        _whole("raddle_ends", "ends in one raddle group", 1, 10_000, "10"),
        Field("choke", "choke_mm", "distance between choke ties", read.length, write.length),
        _whole("cross_ties", "strings around the cross", 2, 9),
        _length("section", "width of one section of a sectional beam"),
        Field(
            "cut_waste",
            "cut_waste_mm",
            "lost with each section of a sectional beam",
            read.length_or_nothing,
            write.length,
        ),
        Field(
            "seconds_per_pass",
            "seconds_per_pass",
            "to tell how long the winding takes",
            read.number,
            write.number,
            "8",
        ),
    ),
)
WISHES = (PIECE, LOSSES, SAMPLE, LOOM, FRAME)

YARN = Section(
    "yarns",
    (),
    (
        Field("name", "name", "colour in words", read.some_text, write.words),
        Field("colour", "colour", "red, green and blue", read.colour, write.words),
        Field("size", "", "count and material", read.yarn_size, write.words, '"2/8 worsted"'),
        Field("wraps", "", "threads side by side on a ruler", read.wraps, write.words, '"16/in"'),
        Field("put_up", "", "one package: a mass or a length", read.put_up, write.words, '"100 g"'),
        Field("stash", "", "what you have already", read.mass, write.words, '"250 g"'),
        Field(
            "core",
            "",
            "an empty core, if it was weighed with the yarn",
            read.mass,
            write.words,
            '"20 g"',
        ),
        Field("price", "", "of one package", read.number, write.number, "6.50"),
    ),
)

TOP_KEYS = ("settscan", "name", "units", "notes")
PHOTO_KEYS = (
    "file",
    "sha256",
    "width",
    "height",
    "scale_source",
    "px_per_mm_x",
    "px_per_mm_y",
    "relative_error",
    "warp_runs",
    "close_up",
    "shows_warp",
    "shows_weft",
)
WARP_KEYS = ("sequence", "sequence_from", "partial", "epi", "epi_from", "doubts")
WEFT_KEYS = ("like_warp", "sequence", "sequence_from", "partial", "ppi", "ppi_from", "doubts")
WEAVE_KEYS = ("name", "direction", "weave_from")
DOUBT_KEYS = ("stripe", "count", "range", "chance", "note", "confirmed")
READING_KEYS = (
    "warp",
    "epi",
    "weft",
    "ppi",
    "weave",
    "yarns",
    "notes",
    "warp_doubts",
    "weft_doubts",
    "seal",
)

KEYS: dict[str, tuple[str, ...]] = {
    "photo": PHOTO_KEYS,
    "yarns": tuple(field.key for field in YARN.fields),
    "warp": WARP_KEYS,
    "weft": WEFT_KEYS,
    "weave": WEAVE_KEYS,
    **{section.name: tuple(field.key for field in section.fields) for section in WISHES},
    "reading": READING_KEYS,
}
"""The keys of each table; those of `yarns` stand in each table below it."""


def did_you_mean(key: str, section: str) -> str:
    """Advice for a key that the table does not have; `section` "" is the top of the file."""
    here = TOP_KEYS + tuple(KEYS) if section == "" else KEYS[section]
    import difflib  # for slips of the pen only

    if close := difflib.get_close_matches(key.lower(), here, n=1, cutoff=0.6):
        return f'Did you mean "{close[0]}"?'
    if section != "" and key in TOP_KEYS:
        return f'Move "{key}" to the top of the file, above the first [table].'
    homes = [name for name, keys in KEYS.items() if key in keys and name != "reading"]
    if homes:
        return f"Move it below [{homes[0]}]."
    return f"Remove it, or use one of: {', '.join(here)}."
