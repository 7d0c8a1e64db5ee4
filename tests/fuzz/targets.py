"""What is fuzzed: each target takes any text and must end without a fault.

A parser may refuse with one of settscan's own errors, which says what is wrong; whatever it
accepts must come back the same when it is written and read again. Anything else is a fault.
"""

from __future__ import annotations

import math
import tempfile
import time
from fractions import Fraction
from pathlib import Path

from settscan import quantities as q
from settscan.cloth.notation import MOST_THREADS, format_sequence, parse_sequence
from settscan.cloth.project import new_text, parse_project, read_project, update_project
from settscan.cloth.wishes import Wishes
from settscan.errors import SettscanError
from settscan.sheets.wif_reading import read_wif
from settscan.warping.plan import plan_warp
from settscan.winding.wound import plan_wound

LONGEST_S = 10.0
"""Seconds of this process that one input may take: bad texts are refused in bounded time."""


def sequence(text: str) -> bool:
    """A colour sequence, whole or partial."""
    accepted = False
    for partial in (False, True):
        try:
            read = parse_sequence(text, partial=partial)
        except SettscanError as error:
            _is_a_sentence(error)
            continue
        accepted = True
        assert 0 < sum(s.threads for s in read.stripes) <= MOST_THREADS
        assert all(s.threads >= 1 for s in read.stripes)
        again = parse_sequence(format_sequence(read), partial=partial)
        # a single stripe is written without slashes
        assert again.stripes == read.stripes
        assert again.kind == read.kind or len(read.stripes) == 1
    return accepted


QUANTITIES = (
    q.parse_length,
    lambda t: q.parse_length(t, default_unit="in", allow_zero=True),
    q.parse_mass,
    q.parse_density,
    q.parse_yarn,
    q.parse_reed,
    q.parse_share,
    q.parse_span,
)


def quantities(text: str) -> bool:
    """A length, mass, density, yarn size, reed or share."""
    accepted = False
    for parse in QUANTITIES:
        try:
            value = parse(text)
        except SettscanError as error:
            _is_a_sentence(error)
            continue
        accepted = True
        if isinstance(value, Fraction):
            assert value >= 0 and math.isfinite(float(value))
    return accepted


def project(text: str) -> bool:
    """A project file: read, written anew, and a reading put into it; small ones are planned."""
    try:
        cloth, wishes, photo = parse_project(text, "fuzzed.toml")
    except SettscanError as error:
        _is_a_sentence(error, lines=True)
        return False
    try:
        again, _, _ = parse_project(new_text(cloth, wishes, photo))
        assert again.warp.sequence.stripes == cloth.warp.sequence.stripes
    except SettscanError as error:
        _is_a_sentence(error, lines=True)
    _updated(text, cloth)
    threads = sum(s.threads for s in (*cloth.warp.sequence.stripes, *cloth.weft.sequence.stripes))
    if threads < 3000:
        try:
            plan_wound(plan_warp(cloth, wishes))
        except SettscanError as error:
            _is_a_sentence(error, lines=True)
    return True


def _updated(text: str, cloth) -> None:
    """A reading of the same cloth is put into the file, which stays a valid one."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "p.toml"
        try:
            path.write_bytes(text.encode())
            before = read_project(path)
        except (SettscanError, UnicodeEncodeError):
            return
        try:
            update_project(before, cloth, None)
        except SettscanError as error:
            _is_a_sentence(error, lines=True)
            assert path.read_bytes() == text.encode()
        read_project(path)


def wif(text: str) -> bool:
    """A draft in WIF 1.1."""
    try:
        cloth = read_wif(text, name="fuzzed")
    except SettscanError as error:
        _is_a_sentence(error)
        return False
    assert cloth.warp.sequence.stripes and cloth.weft.sequence.stripes
    try:
        new_text(cloth, Wishes())
    except SettscanError as error:
        _is_a_sentence(error, lines=True)
    return True


TARGETS = {"sequence": sequence, "quantities": quantities, "project": project, "wif": wif}

SEEDS = {
    "sequence": ("A/24 B4 A8 C/2", "A24 3x(B4 C2)", "(A4 B4)x3 C2", "AA/2, b3, c/4", "A1000000"),
    "quantities": ("54 in", "2 1/2 yd", "1 yd 9 in", "48/10cm", "24 epi", "2/8 worsted", "12 dpi",
                   "20 %", "1.4 m", "30 tex", "½ lb", "Nm 2/28"),
    "project": (),
    "wif": (),
}  # fmt: skip


def seeds(name: str) -> tuple[str, ...]:
    """Texts to begin with."""
    from settscan.sheets.wif import write_wif
    from tests.warping.samples import cloth, wishes

    if name not in ("project", "wif"):
        return SEEDS[name]
    check, wanted = cloth(), wishes()
    if name == "project":
        return (new_text(check, wanted),)
    return (write_wif(plan_warp(check, wanted)),)


def run(name: str, text: str) -> bool:
    """One input; raises for any fault, also for one that took too long."""
    start = time.process_time()
    accepted = TARGETS[name](text)
    taken = time.process_time() - start
    assert taken < LONGEST_S, f"{taken:.1f} s for {len(text)} characters"
    return accepted


def _is_a_sentence(error: SettscanError, lines: bool = False) -> None:
    told = str(error)
    assert told and error.message, repr(error)
    assert lines or len(told) < 2000
