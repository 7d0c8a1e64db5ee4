"""Every doubt a reading can carry: its name, one sentence, and what the weaver can check.

A doubt does not stop the work; it travels with the result to the terminal, the project file,
the JSON and the sheets. A stage that has no answer raises instead (see `errors`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that the reader is not sure of.

    Attributes:
        name: short fixed name, used in JSON and CSV ("ruler-missing").
        sentence: what was seen.
        check: what the weaver can do or look at.
    """

    name: str
    sentence: str
    check: str

    def __str__(self) -> str:
        return f"{self.sentence} {self.check}"


_KNOWN: dict[str, tuple[str, str]] = {
    "ruler-missing": (
        "No ruler or scale card was found, so sizes and densities are unknown; counts do not"
        " need it.",
        "Lay a ruler flat on the cloth and photograph again, or give two points and their"
        " distance.",
    ),
    "sizes-by-density": (
        "No ruler or scale card was found; the {known} in one inch are those that you gave, and"
        " {rest}.",
        "{check}",
    ),
    "ruler-off-plane": (
        "The ruler seems to lie above or beside the plane of the cloth.",
        "Lay it flat on the cloth, or measure one repeat by hand and type the density.",
    ),
    "one-scale": (
        "The scale was measured along one direction only.",
        "A second ruler across the first, or the printed card, gives the other.",
    ),
    "mirrored": (
        "The photo's orientation tag mirrors it: stripe order and twill direction may be reversed.",
        "Compare one end of the sequence with the cloth itself.",
    ),
    "too-coarse": (
        "Threads cannot be told apart in this photo: it was taken from too far, or is blurred.",
        "Take a close-up of no more than {field_cm:.0f} cm of cloth, or give {else_give}.",
    ),
    "density-without-scale": (
        "Threads cannot be told apart in this photo, and the density that you gave counts none"
        " while the photo's scale is unknown.",
        "Give two points of the photo and their distance, or take a close-up of no more than"
        " {field_cm:.0f} cm of cloth.",
    ),
    "blurred": (
        "The photo is blurred.",
        "Rest the camera on something, tap to focus on the cloth, and take it again.",
    ),
    "clipped": (
        "{percent:.0f} % of the cloth is too bright or too dark to read.",
        "Photograph in even shade and lower or raise the exposure.",
    ),
    "glare": (
        "Part of the cloth is hidden by glare.",
        "Move the lamp or turn off the flash.",
    ),
    "uneven-light": (
        "The light falls off strongly across the cloth.",
        "Photograph in even shade.",
    ),
    "steep": (
        "The camera looked at the cloth from the side ({degrees:.0f} degrees).",
        "Hold it straight above the cloth.",
    ),
    "lookalikes": (
        "Yarns {a} and {b} hardly differ ({difference:.1f} dE00).",
        "Compare them by daylight; join or keep them in the project file.",
    ),
    "uncertain-counts": (
        "Stripes of the {axis} with an uncertain count: {number}.",
        "Count them on the cloth with a glass; they are marked in the project file.",
    ),
    "hidden-stripes": (
        "Something lies over the cloth from the {axis} stripe {first} to stripe {last}: what is"
        " under it was not seen, and may be more stripes than these.",
        "Lay the ruler elsewhere and photograph again, or look there and write in what you find.",
    ),
    "unlike-stripe": (
        "What lies at the {axis} stripe {stripe} is not one stripe all across the cloth: perhaps"
        " something lies over it, or it is several stripes.",
        "Look at it in the evidence picture; count it and its neighbours on the cloth, or"
        " photograph again with nothing on it.",
    ),
    "breaks-repeat": (
        "The {axis} stripe {stripe} breaks the repeat: its count is {found} where its partners have"
        " {expected}.",
        "Count it on the cloth: if it is so, it is a weaving mistake, to copy or to mend as you"
        " like; the project file keeps all stripes as found, under [photo].",
    ),
    "other-way-differs": (
        "The {axis} stripe {stripe} has {found} threads; the other way the cloth has the same"
        " stripes in the same order, and there it has {other}.",
        "Count it on the cloth with a glass, both ways.",
    ),
    "repeat-unsure": (
        "Hardly more than one repeat of the {axis} shows.",
        "See on the cloth whether it goes on so.",
    ),
    "rim-unlike": (
        "At the rim the {axis} does not follow the repeat (stripe {stripes}); it was left out.",
        "Look at the rim of the cloth: it may be read wrongly there, or have a border.",
    ),
    "partial-repeat": (
        "Less than one whole repeat of the {axis} shows.",
        "Photograph a larger part of the cloth, or complete the sequence by hand.",
    ),
    "weave-unknown": (
        "The weave could not be told from the photo.",
        "Look at the cloth and type it into the project file.",
    ),
    "pairs": (
        "The photo does not tell single threads, as in a plain weave, from the pairs of a hopsack,"
        " which are twice as many.",
        "Look at the threads with a glass, or photograph a small part from nearer; if the counts"
        " are twice or half what they should be, name the weave (--weave hopsack) or give the"
        " density (--epi and --ppi).",
    ),
    "pitch-disputed": (
        "Two ways of counting the {axis} threads disagree ({first:.1f} and {second:.1f} in"
        " one cm).",
        "Count one centimetre with a glass and give it as a density.",
    ),
    "weave-disputed": (
        "The weave that was given ({weave}) does not fit the lines that its threads make in the"
        " photo; the threads were counted by it all the same.",
        "Look at the cloth with a glass; leave the weave out to see what the photo tells alone.",
    ),
    "density-disputed": (
        "The {axis} density that was given ({given:.1f} per cm, {given_inch:.1f} per inch) does not"
        " fit the threads that were seen ({seen:.1f} per cm, {seen_inch:.1f} per inch); it was"
        " followed all the same.",
        "Count one centimetre or one inch with a glass; leave the density out to count what the"
        " photo shows.",
    ),
    "edge-half-pivot": (
        "At the cloth's own {side} edge the warp begins with {found}, half of its pivot {pivot}"
        "{other}.",
        'A new project says so with edges = "half pivot" under [piece]; write "first pivot" there'
        " to weave a whole pivot at both edges.",
    ),
    "neutral-missing": (
        "Nothing known to be grey was in the picture, so colours follow the camera's guess.",
        "Put the printed card on the cloth for true colours.",
    ),
    "warp-assumed": (
        "Which way the warp runs was taken from the picture's upright direction.",
        "If the warp runs across the photo, scan again with --warp-runs across.",
    ),
    "not-cloth": (
        "The picture does not look like a woven check or stripe: {reason}.",
        "Photograph the cloth itself, filling the frame.",
    ),
    "close-up-unread": (
        "The close-up could not be read: {reason}",
        "Only the photo of the whole was used; take the close-up again with a ruler in it, at six"
        " or more pixels per thread.",
    ),
    "close-up-unmatched": (
        "The stripes of the close-up were not found in the {axis} of the whole cloth, so its"
        " counts were not used.",
        "See that both photos show the same cloth the same way up, and the close-up no less than"
        " three stripes. If it shows another cloth, scan the whole alone: density and sizes are"
        " taken from the close-up all the same.",
    ),
    "close-up-strange": (
        "The close-up seems to show another cloth: none of its stripes was found in the whole, and"
        " its threads lie closer or wider than those there. It was left out.",
        "See that both photos show the same cloth the same way up.",
    ),
    "close-up-differs": (
        "In the {axis}, stripe {stripe} has {whole} threads in the photo of the whole and {close}"
        " in the close-up.",
        "Count it on the cloth with a glass.",
    ),
    "orientation-unreadable": (
        "The photo's notes on its orientation could not be read.",
        "If the picture lies on its side, turn it and scan again.",
    ),
    "profile-missing": (
        "The photo is in printing colours without a colour profile; colours may be off.",
        "Save the photo as sRGB and scan again for true colours.",
    ),
    "profile-ignored": (
        "The photo's colour profile could not be used; colours may be off.",
        "Save the photo as sRGB and scan again for true colours.",
    ),
}


_DENSITIES = frozenset({"given", "seen"})


def doubt(name: str, **values: object) -> Doubt:
    """The doubt with this name, its blanks filled in.

    Densities (`given`, `seen`) come per cm, and are told per inch as well: either may be typed.

    Raises:
        KeyError: for a name that is not listed above.
    """
    sentence, check = _KNOWN[name]
    for key in _DENSITIES & values.keys():
        per_cm = values[key]
        assert isinstance(per_cm, float)
        values[f"{key}_inch"] = 2.54 * per_cm
    return Doubt(name, sentence.format(**values), check.format(**values))


def in_general(name: str) -> str:
    """What a doubt with this name says of any cloth: its sentence, with dots for its blanks.

    Raises:
        KeyError: for a name that is not listed above.
    """
    return re.sub(r"\{[^}]*\}", "…", _KNOWN[name][0])


def known_names() -> tuple[str, ...]:
    """All names, in the order in which the docs list them."""
    return tuple(_KNOWN)
