"""Yarn by colour: length in warp and weft, knots, mass, what to buy.

What one end takes is the warp length, or more: what is wound for it on the frame in use, which the
winding says. Mass is tex x length. Every end of a stripe is a tied or turned-in end, and uses a
little yarn.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from settscan.cloth.model import Cloth, Stripe
from settscan.cloth.wishes import Wishes, YarnStock
from settscan.errors import BadQuantity
from settscan.numbering import format_yarn, mass_of, parse_yarn
from settscan.quantities import (
    decimal,
    format_length,
    format_mass,
    format_share,
    format_yarn_length,
)
from settscan.warping.model import Step, WarpPlan, WeftOrder, YarnNeed
from settscan.warping.weft import PER_TAIL

PER_KNOT = Fraction(100)  # mm lost at each end of a warp stripe; common practice, no source


class _Lengths(NamedTuple):
    ends: int
    each: Fraction  # of one end
    warp: Fraction
    weft: Fraction
    knots: Fraction
    weft_counted: bool


def stripes_of(order: tuple[Stripe, ...], key: str) -> int:
    """How many stripes of this yarn there are."""
    return sum(stripe.yarn == key for stripe in order)


def ends_of(order: tuple[Stripe, ...]) -> dict[str, int]:
    """Threads of each yarn, in the order of the keys."""
    totals: Counter[str] = Counter()
    for stripe in order:
        totals[stripe.yarn] += stripe.threads
    return by_key(totals)


def by_key(totals: Mapping[str, int]) -> dict[str, int]:
    """The same numbers in the order of the keys: A to Z, then AA."""
    return {key: totals[key] for key in sorted(totals, key=lambda key: (len(key), key))}


def size_of(cloth: Cloth, wishes: Wishes, key: str) -> Fraction | None:
    """Tex of a yarn: from the stock, else from the record; None if neither says.

    Raises:
        BadQuantity: if a typed size cannot be read.
    """
    stock = stock_of(wishes, key)
    if stock.tex is not None:
        return stock.tex
    typed = typed_size(cloth, wishes, key)
    if not typed:
        return None
    try:
        return parse_yarn(typed)
    except BadQuantity as error:
        raise BadQuantity(f"Yarn {key}: {error.message}", error.advice) from None


def typed_size(cloth: Cloth, wishes: Wishes, key: str) -> str:
    """The size of a yarn as typed, in the stock or in the record; may be empty."""
    return stock_of(wishes, key).size or cloth.yarn(key).size or ""


def stock_of(wishes: Wishes, key: str) -> YarnStock:
    """What is known of a yarn for buying; empty if nothing."""
    for stock in wishes.stock:
        if stock.key == key:
            return stock
    return YarnStock(key=key)


def plan_yarns(
    cloth: Cloth,
    wishes: Wishes,
    order: tuple[Stripe, ...],
    each_end: Fraction,
    weft: WeftOrder,
) -> tuple[YarnNeed, ...]:
    """What each colour takes, in the order of the keys.

    Args:
        cloth: the record.
        wishes: spare, stock, pieces.
        order: of the warp.
        each_end: mm that one end takes: the warp length, loom waste included, or what is wound.
        weft: of the whole warp.

    Raises:
        BadQuantity: if a typed yarn size cannot be read.
    """
    ends = ends_of(order)
    keys = by_key(ends | weft.picks_per_yarn)
    pieces = wishes.piece.pieces * wishes.piece.panels
    needs = []
    for key in keys:
        knots = 2 * PER_KNOT * stripes_of(order, key)
        tails = 2 * PER_TAIL * stripes_of(weft.piece_order, key) * pieces
        picks = weft.picks_per_yarn.get(key, 0)
        lengths = _Lengths(
            ends=ends.get(key, 0),
            each=each_end,
            warp=ends.get(key, 0) * each_end + knots,
            weft=Fraction(0) if weft.pick_mm is None else picks * weft.pick_mm + tails,
            knots=knots,
            weft_counted=weft.counted,
        )
        needs.append(_need(cloth, wishes, key, lengths))
    return tuple(needs)


def yarns_as_wound(plan: WarpPlan, each_end: Fraction) -> tuple[YarnNeed, ...]:
    """What each colour of a plan takes where an end takes more than the warp length.

    Args:
        plan: the warp.
        each_end: mm of yarn that one end takes on the frame in use.
    """
    return plan_yarns(plan.cloth, plan.wishes, plan.order, each_end, plan.weft)


def _need(cloth: Cloth, wishes: Wishes, key: str, lengths: _Lengths) -> YarnNeed:
    yarn, stock, tex = cloth.yarn(key), stock_of(wishes, key), size_of(cloth, wishes, key)
    net = lengths.warp + lengths.weft
    total = net * (1 + wishes.piece.spare)
    mass = None if tex is None else mass_of(total, tex)
    to_buy = None if mass is None else max(Fraction(0), mass - stock.in_stash_g)
    packages = packages_to_buy(stock, total, to_buy, tex)
    cost = None if packages is None or stock.price is None else packages * stock.price
    return YarnNeed(
        key=key,
        name=yarn.name,
        colour=yarn.colour,
        warp_ends=lengths.ends,
        warp_mm=lengths.warp,
        weft_mm=lengths.weft,
        total_mm=total,
        knots_mm=lengths.knots,
        tex=tex,
        mass_g=mass,
        to_buy_g=to_buy,
        packages=packages,
        cost=cost,
        pirns=_pirns(wishes, lengths, tex),
        steps=_steps(wishes, lengths, total, mass, tex, stock, packages),
    )


def _pirns(wishes: Wishes, lengths: _Lengths, tex: Fraction | None) -> int | None:
    """Full pirns of weft, rounded up."""
    if wishes.loom.pirn_g is None or tex is None:
        return None
    return ceil(mass_of(lengths.weft, tex) / wishes.loom.pirn_g)


def packages_to_buy(
    stock: YarnStock, total_mm: Fraction, to_buy_g: Fraction | None, tex: Fraction | None
) -> int | None:
    """Whole packages, rounded up; by mass where it is known, else by length; None if neither.

    The stash counts by mass, so it can only be taken off where the size of the yarn is known.
    """
    if stock.package_g is not None and to_buy_g is not None:
        net = stock.package_g - stock.core_g
        if net <= 0:
            raise BadQuantity(
                f"Yarn {stock.key}: the core weighs as much as the whole package.",
                "Give the weight of a full package and of an empty core.",
            )
        return ceil(to_buy_g / net)
    if stock.package_length_mm is not None:
        left = total_mm
        if tex is not None:
            left = max(Fraction(0), total_mm - stock.in_stash_g / tex * 1_000_000)
        return ceil(left / stock.package_length_mm)
    return None


def _steps(
    wishes: Wishes,
    lengths: _Lengths,
    total: Fraction,
    mass: Fraction | None,
    tex: Fraction | None,
    stock: YarnStock,
    packages: int | None,
) -> tuple[Step, ...]:
    units = wishes.units
    parts = []
    if lengths.ends:
        knots = f", knots {format_yarn_length(lengths.knots, units)}"
        parts.append(
            f"warp {format_yarn_length(lengths.warp, units)} ({lengths.ends} ends"
            f" x {format_length(lengths.each, units)}{knots})"
        )
    if lengths.weft or not lengths.weft_counted:
        known = lengths.weft_counted
        parts.append(f"weft {format_yarn_length(lengths.weft, units) if known else 'not counted'}")
    text = (
        f"{format_yarn_length(total, units)} = ({' + '.join(parts)})"
        f" + {format_share(wishes.piece.spare)} spare"
    )
    steps = [Step("Length", text)]
    if mass is not None and tex is not None:
        steps.append(
            Step(
                "Mass",
                f"{format_mass(mass, units)} at {format_yarn(tex, units)} ({decimal(tex, 1)} tex)",
            )
        )
    if stock.in_stash_g:
        steps.append(Step("In the stash", format_mass(stock.in_stash_g, units)))
    if packages is not None:
        some = f"{packages} packages, all of one dye lot" if packages > 1 else "1 package"
        steps.append(Step("To buy", some if packages else "nothing: the stash suffices"))
    return tuple(steps)
