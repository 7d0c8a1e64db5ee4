"""Readings made by hand: axes of counted stripes, without a picture."""

from dataclasses import replace

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe, Yarn
from settscan.measured import Measured, Origin
from settscan.reading.model import (
    AxisRead,
    BandSeen,
    ClothRead,
    RepeatRead,
    StripeRead,
    WeaveRead,
)

YARNS = (
    Yarn(key="A", name="navy", colour="#1e2856", lab=(18.0, 8.0, -28.0)),
    Yarn(key="B", name="cream", colour="#e2d6b8", lab=(86.0, 1.0, 15.0)),
    Yarn(key="C", name="red", colour="#a02c28", lab=(36.0, 46.0, 31.0)),
)
PX = 5.0  # per thread


def stripe(word, start, **changes):
    """A stripe of "A8" that begins at a pixel, sure of itself."""
    threads = int(word[1:])
    seen = StripeRead(
        yarn=word[0],
        threads=threads,
        low=threads,
        high=threads,
        chance=0.99,
        others=((threads + 1, 0.01),),
        cut=False,
        start_px=start,
        end_px=start + PX * threads,
    )
    return replace(seen, **changes)


def axis(text, written, kind, members, **changes):
    """An axis: stripes as seen, the written sequence and which stripes are which."""
    stripes, at = [], -0.5
    for word in text.split():
        stripes.append(stripe(word, at))
        at = stripes[-1].end_px
    sequence = ColourSequence(kind, tuple(Stripe(w[0], int(w[1:])) for w in written.split()))
    partial = kind is SequenceKind.PARTIAL
    made = AxisRead(
        bands=tuple(BandSeen(s.yarn, s.start_px, s.end_px) for s in stripes),
        stripes=tuple(stripes),
        pitch_px=Measured(PX, 4.98, 5.02, Origin.READ),
        density=Measured(0.9, 0.88, 0.92, Origin.READ),
        repeat=RepeatRead(
            kind=kind,
            sequence=sequence,
            threads=None if partial else sequence.threads,
            members=members,
            chance=0.97,
        ),
        counted_by="weave",
    )
    return replace(made, **changes)


def uncounted(*bands):
    """An axis whose threads could not be counted: bands of (yarn, start, end)."""
    nothing = RepeatRead(
        kind=SequenceKind.PARTIAL,
        sequence=ColourSequence(SequenceKind.PARTIAL, ()),
        threads=None,
        members=(),
        chance=0.0,
    )
    return AxisRead(
        bands=tuple(BandSeen(*band) for band in bands),
        stripes=(),
        pitch_px=None,
        density=None,
        repeat=nothing,
        counted_by="nothing",
    )


def with_stripe(one, index, **changes):
    """The axis with one of its stripes changed."""
    stripes = list(one.stripes)
    stripes[index] = replace(stripes[index], **changes)
    return replace(one, stripes=tuple(stripes))


def symmetric():
    """B/4 A12 C/6, seen from one cut stripe to another."""
    made = axis(
        "A7 B4 A12 C6 A12 B4 A12 C2",
        "B4 A12 C6",
        SequenceKind.SYMMETRIC,
        ((1, 5), (0, 2, 4, 6), (3, 7)),
    )
    return with_stripe(with_stripe(made, 0, cut=True), 7, cut=True)


def repeating():
    """A8 C3 B5 again and again."""
    made = axis(
        "C2 B5 A8 C3 B5 A8 C3 B1",
        "A8 C3 B5",
        SequenceKind.REPEATING,
        ((2, 5), (0, 3, 6), (1, 4, 7)),
    )
    return with_stripe(with_stripe(made, 0, cut=True), 7, cut=True)


def cloth(columns=None, rows=None, **changes):
    """A reading of these axes."""
    made = ClothRead(
        yarns=YARNS,
        columns=columns or symmetric(),
        rows=rows or repeating(),
        weave=WeaveRead(name="2/2 twill", confidence=0.9, twill_direction="Z"),
        column_share=0.5,
    )
    return replace(made, **changes)
