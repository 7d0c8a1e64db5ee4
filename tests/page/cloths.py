"""Cloths, projects and folders of an invented weaver for the tests of the page."""

from fractions import Fraction

from settscan.cloth.model import (
    Cloth,
    ColourSequence,
    SequenceKind,
    Stripe,
    StripeDoubt,
    ThreadSet,
    Yarn,
)
from settscan.cloth.notation import parse_sequence
from settscan.cloth.project import new_text
from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.wishes import INCH, Piece, Wishes
from settscan.measured import Measured, Origin
from settscan.page.laying import going_on, laid
from settscan.page.work import Line, Shown, Side

NAMES = {"A": ("navy", "#1b2654"), "B": ("cream", "#efe6d0"), "C": ("brick", "#a03a2c")}


def side(text, name="warp", partial=False, shown="", cut=()):
    """A side from a sequence "A/24 B4 C/2", laid along the stripes "A12 B4 C2" of a picture."""
    sequence = parse_sequence(text, partial)
    lines = tuple(Line(one.yarn, one.threads) for one in sequence.stripes)
    made = Side(name=name, kind=sequence.kind, lines=lines, exact=True)
    if not shown:
        return made
    stripes = parse_sequence(shown, partial=True).stripes
    total, at, found = sum(s.threads for s in stripes), 0, []
    for place, stripe in enumerate(stripes):
        end = at + stripe.threads
        piece = Shown(0, stripe.threads, at / total, end / total, place in cut)
        found.append((stripe.yarn, piece))
        at = end
    return laid(made, found)


def told(one):
    """The sequence of a side, and what it shows, as text."""
    stripes = " ".join(f"{line.yarn}{line.threads}" for line in one.lines)
    shown = " ".join(f"{one.lines[p.of].yarn}{p.threads}{'+' * p.cut}" for p in one.shown)
    return stripes, shown


def unrolled(one, repeats=2):
    """Threads of so many repeats, one letter each: what a loom would see."""
    period = going_on(one.kind, len(one.lines))
    return "".join(one.lines[k].yarn * one.lines[k].threads for k in period * repeats)


def cloth(doubted=True):
    """A symmetric cloth as if read from a photo, one stripe in doubt."""
    sequence = parse_sequence("A/22 B6 C14 B4 C/4")
    doubts = (StripeDoubt(position=3, low=3, high=4, chance=0.61),) if doubted else ()
    density = Measured(Fraction(22) / INCH, Fraction(21) / INCH, Fraction(23) / INCH, Origin.READ)
    return Cloth(
        name="mill_blanket",
        yarns=tuple(Yarn(key=k, name=n, colour=c) for k, (n, c) in NAMES.items()),
        warp=ThreadSet(sequence=sequence, density=density, origin=Origin.READ, doubts=doubts),
        weft=ThreadSet(sequence=parse_sequence("A10 B6 C4"), density=density, origin=Origin.READ),
        weave="2/2 twill",
        twill_direction="Z",
    )


def photo():
    """The photo that it was read from."""
    return PhotoRecord(
        file="blanket.jpg",
        sha256="0" * 64,
        width=2000,
        height=1500,
        scale_source="ruler",
        px_per_mm_x=6.9,
        px_per_mm_y=6.9,
        relative_error=0.01,
        shows_warp="B3 C14 B4 C4 B4 C14 B6 A22 B6 C9",
        shows_weft="B6 C4 A10 B6 C4 A7",
    )


def project_text(doubted=True, with_photo=True):
    """The text of its project file."""
    wishes = Wishes(piece=Piece(width_mm=54 * INCH, length_mm=72 * INCH))
    return new_text(cloth(doubted), wishes, photo() if with_photo else None)


def many_striped(stripes=300):
    """A project with so many stripes each way, all of them shown and every tenth in doubt."""
    keys = "ABCDEFGH"
    made = tuple(
        Stripe(keys[(7 * n + n // 8) % 8 if n % 2 else (3 * n) % 8], 1 + (n * 37) % 24)
        for n in range(stripes)
    )
    apart = [made[0]]
    for one in made[1:]:
        key = one.yarn if one.yarn != apart[-1].yarn else keys[(keys.index(one.yarn) + 1) % 8]
        apart.append(Stripe(key, one.threads))
    sequence = ColourSequence(SequenceKind.PARTIAL, tuple(apart))
    doubts = tuple(
        StripeDoubt(position=n, low=1, high=30, chance=0.5) for n in range(0, stripes, 10)
    )
    density = Measured(Fraction(1), Fraction(98, 100), Fraction(102, 100), Origin.READ)
    threads = ThreadSet(sequence=sequence, density=density, origin=Origin.READ, doubts=doubts)
    whole = Cloth(
        name="three hundred stripes",
        yarns=tuple(
            Yarn(key=key, name=f"shade {key}", colour=f"#{30 * n:02x}40{220 - 20 * n:02x}")
            for n, key in enumerate(keys)
        ),
        warp=threads,
        weft=threads,
        weave="2/2 twill",
        twill_direction="Z",
    )
    shows = " ".join(f"{one.yarn}{one.threads}" for one in apart)
    record = PhotoRecord(file="stripes.jpg", sha256="0" * 64, shows_warp=shows, shows_weft=shows)
    return new_text(whole, Wishes(piece=Piece(length_mm=Fraction(1800))), record)
