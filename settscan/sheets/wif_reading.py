"""Reading a Weaving Information File as a cloth: counts, colours, densities and the weave."""

from __future__ import annotations

import configparser
from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from urllib.parse import unquote

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind, Stripe, ThreadSet, Yarn
from settscan.cloth.notation import yarn_key
from settscan.cloth.weaves import KNOWN_WEAVES
from settscan.cloth.wishes import INCH
from settscan.errors import BadInput
from settscan.measured import Measured, Origin
from settscan.sheets.marks import colour_words
from settscan.sheets.wif import PRIVATE_YARNS
from settscan.warping.structure import draft_for

_MOST_THREADS = 100_000
_MOST_TEXT = 50_000_000  # characters
_MOST_SHAFTS = 10  # of a twill with one line; its name takes one figure on each side
_LONGEST_WEAVE = 64  # threads in a weave repeat that we try to name
_UNITS = {  # name: how many make one of the unit that a density is said in, and that unit in mm
    "decipoints": (720, INCH),  # 1/720 in
    "inches": (1, INCH),
    "centimeters": (1, Fraction(10)),
}
_ADVICE = "Save the draft again as WIF 1.1 with its threading and colours."

Grid = tuple[tuple[bool, ...], ...]


def read_wif(text: str, *, name: str = "") -> Cloth:
    """The cloth that a WIF file describes.

    The draft's ends are turned to run left to right, and its picks to run from top to bottom,
    as a photo of the cloth would show them. A repeat is looked for and, when the whole order
    follows from it, kept as the colour sequence; otherwise the whole order is kept as it is.

    Args:
        text: the contents of the file.
        name: name of the cloth where the file has no title.

    Raises:
        BadInput: when a required section or line is missing or makes no sense; the message
            names it.
    """
    file = _parse(text)
    palette = _palette(file)
    warp = _colours(file, "WARP")[::-1]
    weft = _colours(file, "WEFT")[::-1]
    used = list(dict.fromkeys([*warp, *weft]))
    yarns = _yarns(file, used, palette)
    keys = {number: yarn.key for number, yarn in zip(used, yarns, strict=True)}
    weave, direction, notes = _weave(file, len(warp), len(weft))
    return Cloth(
        name=_get(file, "TEXT", "title") or name or "Imported draft",
        yarns=yarns,
        warp=_thread_set(file, "WARP", [keys[number] for number in warp]),
        weft=_thread_set(file, "WEFT", [keys[number] for number in weft]),
        weave=weave,
        twill_direction=direction,
        notes=(
            "Imported from a WIF file; its spacing was taken as that of finished cloth.",
            *notes,
        ),
    )


def _parse(text: str) -> configparser.ConfigParser:
    if len(text) > _MOST_TEXT:
        raise BadInput("The WIF file is far too long for a draft.", "Give the draft itself.")
    file = configparser.ConfigParser(
        interpolation=None,
        inline_comment_prefixes=(";",),
        comment_prefixes=(";",),
        delimiters=("=",),
    )
    try:
        file.read_string(text.lstrip("\ufeff"))
    except configparser.Error as error:
        line = getattr(error, "lineno", None)
        where = f" at line {line}" if line else ""
        raise BadInput(f"The WIF file cannot be understood{where}.", _ADVICE) from error
    sections = {section.upper(): section for section in file.sections()}
    for upper, section in sections.items():
        if upper != section:
            file[upper] = dict(file[section])
    for wanted in ("WIF", "WARP", "WEFT"):
        if wanted not in sections:
            raise BadInput(f"The WIF file has no section [{wanted}].", _ADVICE)
    return file


def _get(file: configparser.ConfigParser, section: str, key: str) -> str | None:
    return file.get(section, key, fallback=None)


def _whole(text: str, section: str, key: str) -> int:
    try:
        value = int(text.strip())
    except ValueError:
        value = -1
    if value < 0:
        raise BadInput(
            f'In the WIF file, [{section}] {key} says "{text[:30]}", which is not a whole number.',
            _ADVICE,
        )
    return value


def _number_list(file: configparser.ConfigParser, section: str) -> dict[int, tuple[int, ...]]:
    """A data section: index -> one or more whole numbers."""
    if not file.has_section(section):
        return {}
    return {
        _whole(key, section, "index"): tuple(
            _whole(part, section, key) for part in value.split(",") if part.strip()
        )
        for key, value in file.items(section)
        if value is not None
    }


def _palette(file: configparser.ConfigParser) -> dict[int, str]:
    """Palette index -> "#rrggbb", the file's own range scaled to 0..255."""
    low, high = 0, 255
    limits = _get(file, "COLOR PALETTE", "range")
    if limits:
        parts = [_whole(part, "COLOR PALETTE", "Range") for part in limits.split(",")]
        if len(parts) != 2 or parts[0] >= parts[1]:
            raise BadInput(f'In the WIF file, [COLOR PALETTE] Range says "{limits}".', _ADVICE)
        low, high = parts
    colours = {}
    for index, rgb in _number_list(file, "COLOR TABLE").items():
        if len(rgb) != 3 or not all(low <= part <= high for part in rgb):
            raise BadInput(
                f"In the WIF file, colour {index} is not three numbers from {low} to {high}.",
                _ADVICE,
            )
        colours[index] = "#" + "".join(
            f"{round((part - low) * 255 / (high - low)):02x}" for part in rgb
        )
    return colours


def _count(file: configparser.ConfigParser, section: str) -> int:
    text = _get(file, section, "threads")
    if text is None:
        raise BadInput(f"In the WIF file, [{section}] does not say Threads=.", _ADVICE)
    threads = _whole(text, section, "Threads")
    if not 0 < threads <= _MOST_THREADS:
        raise BadInput(
            f"In the WIF file, [{section}] has {threads} threads.",
            f"A draft needs 1 to {_MOST_THREADS}.",
        )
    return threads


def _colours(file: configparser.ConfigParser, section: str) -> list[int]:
    """Palette index of each thread, thread 1 first; 0 where the file names no colour."""
    default = _get(file, section, "color")
    fallback = _whole(default.split(",")[0], section, "Color") if default else 0
    given = _number_list(file, f"{section} COLORS")
    return [(given.get(at) or (fallback,))[0] for at in range(1, _count(file, section) + 1)]


def _yarns(
    file: configparser.ConfigParser, used: Sequence[int], palette: dict[int, str]
) -> tuple[Yarn, ...]:
    """A yarn for each colour in use; names and keys kept where settscan wrote the file."""
    ours = {}
    if file.has_section(PRIVATE_YARNS):
        for index, value in file.items(PRIVATE_YARNS):
            ours[index] = [unquote(part) for part in value.split(",")]
    yarns = []
    for place, number in enumerate(used):
        if number and number not in palette:
            raise BadInput(
                f"In the WIF file, colour {number} is used but not in [COLOR TABLE].", _ADVICE
            )
        colour = palette.get(number, "#808080")
        known = ours.get(str(number), [])
        yarns.append(
            Yarn(
                key=known[0] if len(known) == 3 else yarn_key(place),
                name=known[1] if len(known) == 3 else colour_words(colour),
                colour=colour,
                size=(known[2] or None) if len(known) == 3 else None,
            )
        )
    if len({yarn.key for yarn in yarns}) < len(yarns):
        raise BadInput(f"In the WIF file, [{PRIVATE_YARNS}] uses a key twice.", _ADVICE)
    return tuple(yarns)


def _thread_set(file: configparser.ConfigParser, section: str, threads: Sequence[str]) -> ThreadSet:
    return ThreadSet(sequence=sequence_of(threads), density=_density(file, section))


def _density(file: configparser.ConfigParser, section: str) -> Measured | None:
    """Threads per mm, from the spacing; None where there is none."""
    text = _get(file, section, "spacing")
    if text is None:
        return None
    unit = _UNITS.get((_get(file, section, "units") or "decipoints").strip().lower())
    try:
        spacing = Fraction(text.strip())
    except (ValueError, ZeroDivisionError):
        spacing = Fraction(0)
    if unit is None or spacing <= 0:
        raise BadInput(
            f'In the WIF file, [{section}] Spacing or Units is wrong ("{text}").', _ADVICE
        )
    per_unit, unit_mm = unit
    # a spacing written in decimals stands for a density in hundredths: 0.066667 in is 15 epi
    density = (per_unit / spacing).limit_denominator(100) / unit_mm
    return Measured.exact(density, Origin.TYPED) if density > 0 else None


def sequence_of(threads: Sequence[str]) -> ColourSequence:
    """The shortest sequence from which this whole order of threads follows exactly.

    Symmetric where the repeat turns back at two pivots, repeating where it comes round at
    least twice, otherwise partial: the order as it is.
    """
    count = len(threads)
    for period in range(1, count // 2 + 1):
        if all(threads[at] == threads[at + period] for at in range(count - period)):
            found = _cycle(tuple(threads[:period]))
            if found is not None:
                return found
            break
    return ColourSequence(SequenceKind.PARTIAL, _stripes(threads))


def _stripes(threads: Sequence[str]) -> tuple[Stripe, ...]:
    return tuple(Stripe(key, len(list(group))) for key, group in groupby(threads))


def _cycle(repeat: tuple[str, ...]) -> ColourSequence | None:
    """One repeat as a symmetric sequence when it begins at a pivot, else as repeating."""
    stripes = _stripes(repeat)
    if len(stripes) == 1:
        return ColourSequence(SequenceKind.REPEATING, stripes)
    if stripes[0].yarn == stripes[-1].yarn:
        return None  # begins inside a stripe: written as a repeat it would lose its place
    # A warp that begins with a whole pivot: the repeat without it reads the same both ways.
    half = len(stripes) // 2
    turns_back = stripes[1:] == stripes[:0:-1]
    if turns_back and len(stripes) % 2 == 0:
        return ColourSequence(SequenceKind.SYMMETRIC, stripes[: half + 1])
    return ColourSequence(SequenceKind.REPEATING, stripes)


# --- the weave -------------------------------------------------------------------------------


def _raised(file: configparser.ConfigParser, picks: int) -> list[frozenset[int]]:
    """Shafts raised on each pick, pick 1 first."""
    rising = (_get(file, "WEAVING", "rising shed") or "true").strip().lower()
    shafts = _whole(_get(file, "WEAVING", "shafts") or "0", "WEAVING", "Shafts")
    lift = _number_list(file, "LIFTPLAN")
    if not lift:
        tie_up = _number_list(file, "TIEUP")
        treadling = _number_list(file, "TREADLING")
        lift = {
            pick: tuple(s for treadle in treadles for s in tie_up.get(treadle, ()))
            for pick, treadles in treadling.items()
        }
    rows = [frozenset(lift.get(pick, ())) - {0} for pick in range(1, picks + 1)]
    if rising in ("false", "off", "no", "0"):
        rows = [frozenset(range(1, shafts + 1)) - row for row in rows]
    return rows


def _period(rows: Sequence[object]) -> int | None:
    """The shortest period of a sequence, if it is short enough for a weave."""
    for period in range(1, min(_LONGEST_WEAVE, len(rows)) + 1):
        if all(rows[at] == rows[at - period] for at in range(period, len(rows))):
            return period
    return None


def _weave(
    file: configparser.ConfigParser, ends: int, picks: int
) -> tuple[str, str | None, tuple[str, ...]]:
    """Name of the weave, twill direction, and notes."""
    unknown = "The weave of the draft has no plain name here; type it into the project file."
    threading = _number_list(file, "THREADING")
    shafts = [threading.get(end, (0,)) for end in range(ends, 0, -1)]  # left to right
    raised = _raised(file, picks)
    across, up = _period(shafts), _period(raised)
    if across is None or up is None:
        return "unknown", None, (unknown,)
    grid = tuple(
        tuple(bool(raised[pick] & set(shafts[end])) for end in range(across)) for pick in range(up)
    )
    weave, direction = name_weave(grid)
    return weave, direction, (unknown,) if weave == "unknown" else ()


def name_weave(grid: Grid) -> tuple[str, str | None]:
    """The plain name of a weave and its twill direction.

    Args:
        grid: one repeat; rows are picks, the first one at the bottom of the cloth; columns are
            ends, left to right; True where the warp is on top.

    Returns:
        ("plain", None), ("2/2 twill", "Z"), ... or ("unknown", None). Z rises to the right.
    """
    grid = _smallest(grid)
    for weave, direction in _candidates(len(grid), len(grid[0])):
        draft = draft_for(weave, 1, direction=direction)
        if draft is None:
            continue
        known = _smallest(draft.drawdown(len(draft.treadling), len(draft.threading)))
        if _same_but_shifted(grid, known):
            return weave, direction
    return "unknown", None


def _candidates(size: int, across: int) -> list[tuple[str, str | None]]:
    """Weaves to compare with: the known ones, and every twill and herringbone of this size."""
    twills = [f"{up}/{size - up} twill" for up in range(1, size) if 2 < size <= _MOST_SHAFTS]
    others = [weave for weave in KNOWN_WEAVES if not weave.endswith("twill")]
    if across % 2 == 0 and across > size:
        others += [weave.replace("twill", f"herringbone {across // 2}") for weave in twills]
    return [
        *((weave, None) for weave in others),
        *((weave, direction) for weave in twills for direction in ("Z", "S")),
    ]


def _smallest(grid: Grid) -> Grid:
    """One repeat of the weave, no larger than it must be."""
    rows = grid[: _period(grid) or len(grid)]
    columns = list(zip(*rows, strict=True))
    across = _period(columns) or len(columns)
    return tuple(row[:across] for row in rows)


def _same_but_shifted(one: Grid, other: Grid) -> bool:
    """Whether two repeats are the same weave, begun at another end or pick."""
    down, across = len(one), len(one[0])
    if (len(other), len(other[0])) != (down, across):
        return False
    return any(
        all(
            one[(y + dy) % down][(x + dx) % across] == other[y][x]
            for y in range(down)
            for x in range(across)
        )
        for dy in range(down)
        for dx in range(across)
    )
