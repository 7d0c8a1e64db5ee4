"""The Weaving Information File, version 1.1 (20 April 1997): a draft other programs can read.

The names of the sections and the fixed lines of [WIF] follow the minimum block of the
specification. The keys inside the data sections, and that thread 1 lies at the right as the
weaver faces the loom, are written from memory of the specification: check an asymmetric draft
in the program that reads it. `wif_reading` reads such a file back.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from fractions import Fraction
from urllib.parse import quote

from settscan import __version__
from settscan.cloth.model import Stripe
from settscan.cloth.wishes import INCH
from settscan.measured import Measured
from settscan.sheets.at_loom import shafts_of_ends
from settscan.warping.model import Draft, WarpPlan

PRIVATE_YARNS = "PRIVATE SETTSCAN YARNS"
Lines = Iterable[tuple[str | int, object]]


def write_wif(plan: WarpPlan) -> str:
    """The plan's draft, warp colours and weft colours of one piece as a WIF 1.1 file.

    Our ends run left to right; in the file end 1 is the rightmost, the usual layout. Picks
    run from the first one woven. `Spacing` is that of the finished cloth, which the draft
    pictures; the notes give the spacing on the loom.

    Returns:
        ASCII text, its lines ended by a line feed alone.
    """
    palette = {yarn.key: number for number, yarn in enumerate(plan.cloth.yarns, 1)}
    body: dict[str, Lines] = {
        "COLOR PALETTE": [("Entries", len(palette)), ("Form", "RGB"), ("Range", "0,255")],
        "COLOR TABLE": [(palette[y.key], _rgb(y.colour)) for y in plan.cloth.yarns],
        "TEXT": [("Title", _ascii(plan.cloth.name))],
        "NOTES": list(enumerate(_notes(plan), 1)),
        **_colours(plan, palette),
        **(_weave(plan, plan.draft) if plan.draft else {}),
        PRIVATE_YARNS: [
            (palette[y.key], f"{y.key},{quote(y.name, safe=' ')},{quote(y.size or '', safe=' /')}")
            for y in plan.cloth.yarns
        ],
    }
    contents: Lines = [(name, "true") for name in body]
    sections = {"WIF": _head(), "CONTENTS": contents, **body}
    return "\n".join(_section(name, lines) for name, lines in sections.items())


def _picks(plan: WarpPlan) -> list[str]:
    """Yarn of each pick of one piece, or of one repeat if its length is not known."""
    return _threads(plan.weft.piece_order or plan.weft.order)


def _colours(plan: WarpPlan, palette: dict[str, int]) -> dict[str, Lines]:
    """[WARP] and [WEFT] with the colour of each thread, thread 1 first."""
    ends, picks = _threads(plan.order)[::-1], _picks(plan)
    return {
        "WARP": _thread_lines(ends, palette, plan.cloth.warp.density),
        "WARP COLORS": [(at, palette[key]) for at, key in enumerate(ends, 1)],
        "WEFT": _thread_lines(picks, palette, plan.cloth.weft.density),
        "WEFT COLORS": [(at, palette[key]) for at, key in enumerate(picks, 1)],
    }


def _weave(plan: WarpPlan, draft: Draft) -> dict[str, Lines]:
    """Shafts, threading, tie-up and treadling; shaft 0 is a floating selvedge."""
    shafts = shafts_of_ends(plan)[::-1]
    treadles = draft.treadling
    return {
        "WEAVING": [
            ("Shafts", draft.shafts),
            ("Treadles", draft.treadles),
            ("Rising Shed", "true"),
        ],
        "THREADING": [(end, shaft or 0) for end, shaft in enumerate(shafts, 1)],
        "TIEUP": [(at, ",".join(map(str, raised))) for at, raised in enumerate(draft.tie_up, 1)],
        "TREADLING": [
            (pick + 1, treadles[pick % len(treadles)]) for pick in range(len(_picks(plan)))
        ],
    }


def _head() -> Lines:
    """Version, date and developers are constants of the specification."""
    return [
        ("Version", "1.1"),
        ("Date", "April 20, 1997"),
        ("Developers", "wif@mhsoft.com"),
        ("Source Program", "settscan"),
        ("Source Version", __version__),
    ]


def _section(name: str, lines: Lines) -> str:
    return "".join([f"[{name}]\n", *(f"{key}={value}\n" for key, value in lines)])


def _threads(stripes: Sequence[Stripe]) -> list[str]:
    return [stripe.yarn for stripe in stripes for _ in range(stripe.threads)]


def _thread_lines(
    threads: Sequence[str], palette: dict[str, int], density: Measured | None
) -> Lines:
    """[WARP] or [WEFT]: how many, the default colour, the distance between neighbours."""
    lines: list[tuple[str, object]] = [
        ("Threads", len(threads)),
        ("Color", palette[threads[0]]),
    ]
    if density is not None:
        spacing = 1 / (Fraction(density.value) * INCH)
        lines += [("Units", "Inches"), ("Spacing", f"{float(spacing):.9f}")]
    return lines


def _rgb(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5))


def _notes(plan: WarpPlan) -> list[str]:
    """Lines for people; nothing here is needed to read the draft."""
    lines = [
        "Thread counts are exact. Spacing is that of the finished cloth, not on the loom.",
        f"Weave: {plan.draft.name if plan.draft else 'not known'}.",
        "End 1 is the right-hand end, pick 1 is woven first.",
    ]
    if plan.loom_density is not None:
        epi = float(Fraction(plan.loom_density.value) * INCH)
        lines.append(f"On the loom: {epi:.2f} ends per inch.")
    if plan.weft.loom_ppi is not None:
        ppi = float(Fraction(plan.weft.loom_ppi.value) * INCH)
        lines.append(f"On the loom: {ppi:.2f} picks per inch.")
    lines += [
        f"Yarn {yarn.key}: {yarn.name}{', ' + yarn.size if yarn.size else ''}."
        for yarn in plan.cloth.yarns
    ]
    return [_ascii(line) for line in [*lines, *plan.cloth.notes]]


def _ascii(text: str) -> str:
    """One line of ASCII: the specification allows no more. Accents are dropped, ";" replaced."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    return " ".join(plain.replace(";", ",").split()) or "unnamed"
