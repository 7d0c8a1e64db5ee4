"""An invented blanket, planned and wound once for all tests of the sheets."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from settscan.cloth.model import (
    Cloth,
    ColourSequence,
    SequenceKind,
    Stripe,
    StripeDoubt,
    ThreadSet,
    Yarn,
)
from settscan.cloth.wishes import INCH, Frame, FrameKind, Loom, Piece, Reed, Wishes, YarnStock
from settscan.measured import Measured, Origin
from settscan.warping.model import WarpPlan
from settscan.warping.plan import plan_warp
from settscan.winding.model import WindingPlan
from settscan.winding.plan import plan_winding

SETT = (("A", 24), ("B", 4), ("A", 8), ("C", 36), ("D", 6))


def sequence(*stripes: tuple[str, int], kind: SequenceKind = SequenceKind.SYMMETRIC):
    return ColourSequence(kind, tuple(Stripe(key, threads) for key, threads in stripes))


def blanket(**changes: object) -> Cloth:
    density = Measured(
        Fraction(15) / INCH, Fraction(147, 10) / INCH, Fraction(153, 10) / INCH, Origin.READ
    )
    cloth = Cloth(
        name="Harbour blanket",
        yarns=(
            Yarn(key="A", name="navy", colour="#1b2654", size="2/8 worsted"),
            Yarn(key="B", name="oatmeal", colour="#e8dcc0", size="2/8 worsted"),
            Yarn(key="C", name="moss green", colour="#2f5d3a", size="2/8 worsted"),
            Yarn(key="D", name="madder red", colour="#b3202c", size="2/8 worsted"),
        ),
        warp=ThreadSet(
            sequence=sequence(*SETT),
            density=density,
            doubts=(StripeDoubt(position=1, low=3, high=5, chance=0.82),),
        ),
        weft=ThreadSet(sequence=sequence(*SETT), density=density),
        weave="2/2 twill",
        twill_direction="Z",
    )
    return replace(cloth, **changes)


def wishes(**changes: object) -> Wishes:
    wanted = Wishes(
        piece=Piece(width_mm=54 * INCH, length_mm=72 * INCH, hem_mm=INCH, sample_mm=6 * INCH),
        loom=Loom(reeds=(Reed(dents_per_mm=12 / INCH, label="12 dpi"),)),
        stock=(YarnStock(key="A", package_g=Fraction(250)),),
    )
    return wanted._replace(**changes)


def planned(cloth: Cloth, wanted: Wishes) -> tuple[WarpPlan, WindingPlan]:
    plan = plan_warp(cloth, wanted)
    return plan, plan_winding(plan)


@pytest.fixture(scope="session")
def plans() -> tuple[WarpPlan, WindingPlan]:
    return planned(blanket(), wishes())


@pytest.fixture(scope="session")
def awkward() -> tuple[WarpPlan, WindingPlan]:
    """Odd stripes, no weave, floating selvedges, two ends in hand, names from everywhere."""
    stripes = (("A", 7), ("B", 3), ("C", 12), ("D", 1), ("E", 5))
    order = sequence(*stripes, kind=SequenceKind.REPEATING)
    names = (
        "navy",
        "a yarn name much longer than the line that it must stand in",
        "Grün & Weiß <x>",
        "Тёмно-синий",
        "紺色",
    )
    colours = ("#1b2654", "#e8dcc0", "#2f5d3a", "#203050", "#101540")
    cloth = blanket(
        name="Плед «Север» & 北の毛布, whose name goes on for much longer than a page is wide, so",
        yarns=tuple(
            Yarn(key=key, name=name, colour=colour)
            for key, name, colour in zip("ABCDE", names, colours, strict=True)
        ),
        warp=ThreadSet(sequence=order, density=Measured.exact(Fraction(8, 10))),
        weft=ThreadSet(sequence=order, density=None),
        weave="unknown",
        twill_direction=None,
        notes=("a note; with a semicolon",),
    )
    wanted = Wishes(
        piece=Piece(width_mm=Fraction(400), length_mm=Fraction(1200), floating_selvedges=True),
        frame=Frame(kind=FrameKind.BOARD, circumference_mm=Fraction(1000), ends_in_hand=2),
        units="metric",
    )
    return planned(cloth, wanted)


@pytest.fixture(scope="session")
def photo() -> bytes:
    """A small PNG, as a rectified photo would be given."""
    from io import BytesIO

    from PIL import Image

    out = BytesIO()
    Image.new("RGB", (60, 40), "#7a5c3c").save(out, "PNG")
    return out.getvalue()
