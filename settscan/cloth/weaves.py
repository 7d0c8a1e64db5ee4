"""The names of weaves that can be typed, and what may have been meant by another."""

from __future__ import annotations

import re

from settscan.errors import BadInput

UNKNOWN = "unknown"
OTHER_NAMES = {
    "plain weave": "plain",
    "tabby": "plain",
    "twill": "2/2 twill",
    "basket": "2/2 hopsack",
    "hopsack": "2/2 hopsack",
    "herringbone": "2/2 herringbone",
}
KNOWN_WEAVES = (
    "plain",
    "2/2 twill",
    "2/1 twill",
    "1/2 twill",
    "3/1 twill",
    "1/3 twill",
    "herringbone",
    "hopsack",
)
COUNTED = re.compile(r"(\d)/(\d) (?:(twill|hopsack|basket)|(herringbone)(?: (\d{1,3}))?)")
HERRINGBONE_ENDS = 8  # before the line turns, where no other number is typed
LIFTPLAN = re.compile(r"liftplan:? (.+) on (.+)")


def weave_name(typed: str) -> str:
    """A weave by its one name: "Tabby" is "plain", "twill" is "2/2 twill".

    Args:
        typed: as written; capitals and blanks do not matter.

    Raises:
        BadInput: for a weave without a draft here, with the name that is nearest to it.
    """
    name = " ".join(typed.lower().split()) or UNKNOWN
    name = OTHER_NAMES.get(name, name)
    if re.fullmatch(r"herringbone \d+", name):
        name = f"2/2 {name}"
    name = re.sub(rf"(?<=herringbone) {HERRINGBONE_ENDS}$", "", name)
    if name in ("plain", UNKNOWN) or LIFTPLAN.fullmatch(name):
        return name
    counted = COUNTED.fullmatch(name)
    if counted and "0" not in counted.groups() and not counted[1] == counted[2] == "1":
        if counted[5] and (int(counted[5]) < 2 or counted[5][0] == "0"):
            raise BadInput(
                f'A herringbone cannot turn after {counted[5]} ends, as in "{typed}".',
                "Write how many ends lie between two turns, 2 or more, as in 2/2 herringbone 12.",
            )
        return name
    import difflib  # for slips of the pen only

    names = (*KNOWN_WEAVES, *OTHER_NAMES, UNKNOWN)
    near = difflib.get_close_matches(name, names, 1, 0.75)
    if near and not counted:
        advice = f'Did you mean "{near[0]}"?'
    else:
        known = ", ".join(KNOWN_WEAVES)
        advice = f"Write one of: {known}, or type it as in: liftplan 1-2, 2-3, 3-4, 4-1 on 1-2-3-4."
    raise BadInput(f'No draft is known for the weave "{typed}".', advice)
