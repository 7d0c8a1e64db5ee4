"""Cloths and wishes of an invented scenario, for the tests of the warp calculation."""

from fractions import Fraction

from hypothesis import strategies as st

from settscan.cloth.model import Cloth, ColourSequence, SequenceKind, Stripe, ThreadSet, Yarn
from settscan.cloth.notation import parse_sequence
from settscan.cloth.wishes import INCH, YARD, Losses, Piece, Wishes
from settscan.measured import Measured
from settscan.quantities import parse_density

NAMES = {"A": "navy", "B": "cream", "C": "moss", "D": "rust"}
NONE = Measured.exact(Fraction(0))
NO_LOSS = Losses(draw_in=NONE, width_shrinkage=NONE, take_up=NONE, length_shrinkage=NONE)


def cloth(warp="A/24 B4 A8 C/12", weft=None, *, epi="24 epi", ppi="24 epi", **fields) -> Cloth:
    """A check from written sequences; densities may be None."""

    def threads(text, density):
        sequence = text if isinstance(text, ColourSequence) else parse_sequence(text)
        return ThreadSet(
            sequence=sequence,
            density=None if density is None else Measured.exact(parse_density(density)),
        )

    one, other = threads(warp, epi), threads(weft or warp, ppi)
    keys = dict.fromkeys(s.yarn for t in (one, other) for s in t.sequence.stripes)
    yarns = tuple(
        Yarn(key=key, name=NAMES.get(key, key), colour="#506070", size="2/8 worsted")
        for key in keys
    )
    settings = {"weave": "2/2 twill", "twill_direction": "Z"} | fields
    return Cloth(name="hill blanket", yarns=yarns, warp=one, weft=other, **settings)


def wishes(**piece) -> Wishes:
    """Wishes for 30 in x 2 yd, unless said otherwise; other fields by `replace`."""
    settings = {"width_mm": 30 * INCH, "length_mm": 2 * YARD} | piece
    return Wishes(piece=Piece(**settings))


def with_losses(plan_wishes: Wishes, losses: Losses) -> Wishes:
    """The same wishes with other losses."""
    return plan_wishes._replace(losses=losses)


@st.composite
def sequences(draw, even=False, most=8):
    """Random sequences without equal neighbours, of the kinds that repeat."""
    count = draw(st.integers(1, most))
    kind = draw(st.sampled_from([SequenceKind.SYMMETRIC, SequenceKind.REPEATING]))
    keys: list[str] = []
    for _ in range(count):
        others = [key for key in "ABCD" if not keys or key != keys[-1]]
        keys.append(draw(st.sampled_from(others)))
    step = 2 if even else 1
    counts = [step * draw(st.integers(1, 30 // step)) for _ in range(count)]
    return ColourSequence(kind, tuple(Stripe(k, n) for k, n in zip(keys, counts, strict=True)))
