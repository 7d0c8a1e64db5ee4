"""The same pattern in another yarn or size: new counts, as true to the old ones as can be.

Every stripe should become its old count times one factor; whole, mostly even threads cannot all
do that. The best counts are those with the least total error, and they are found exactly, by
dynamic programming over the stripes and the running total, not by rounding and patching. Narrow
lines keep a floor, so that none is lost.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, lcm

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.errors import BadInput
from settscan.warping.layout import MOST_THREADS

_MOST_ANSWERS = 6  # equally good answers that are listed: more is no choice but a burden
_MOST_STRIPES = 400  # in the written sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What the new counts must keep to.

    Attributes:
        even: only even counts (a colour then begins and ends at the same end of the mill).
        least: fewest threads in a stripe; a stripe that has fewer now may stay as it is.
        squared: whether errors are squared, which spreads them, or summed as they are.
    """

    even: bool = True
    least: int = 2
    squared: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Resized:
    """One answer.

    Attributes:
        sequence: with the new counts.
        threads: in the new repeat.
        ideal: the count that each stripe would have if threads could be divided.
        errors: new count - ideal, stripe by stripe.
        cost: total error over the whole repeat, as the rules measure it.
        ideal_threads: in the new repeat, if threads could be divided.
    """

    sequence: ColourSequence
    threads: int
    ideal: tuple[Fraction, ...]
    errors: tuple[Fraction, ...]
    cost: Fraction
    ideal_threads: Fraction

    @property
    def repeat_error(self) -> Fraction:
        """Threads by which the new repeat is longer than it should be."""
        return self.threads - self.ideal_threads


def same_counts(sequence: ColourSequence) -> Resized:
    """The sequence as it is: the size follows the sett."""
    ideal = tuple(Fraction(stripe.threads) for stripe in sequence.stripes)
    return Resized(
        sequence=sequence,
        threads=sequence.threads,
        ideal=ideal,
        errors=(Fraction(0),) * len(ideal),
        cost=Fraction(0),
        ideal_threads=Fraction(sequence.threads),
    )


def same_size(
    sequence: ColourSequence,
    old_density: Fraction,
    new_density: Fraction,
    rules: Rules | None = None,
) -> tuple[Resized, ...]:
    """The same width in another sett: counts scaled by new / old density, best answers first."""
    return scaled(sequence, new_density / old_density, rules=rules)


def scaled(
    sequence: ColourSequence,
    factor: Fraction,
    *,
    total: int | None = None,
    rules: Rules | None = None,
) -> tuple[Resized, ...]:
    """All equally good answers for every count x factor, at most six; usually there is one.

    Args:
        sequence: as written; inner stripes of a symmetric one count twice in the repeat.
        factor: new size over old, in threads.
        total: threads that the new repeat must have; if given, errors are measured from the
            share of the total that each stripe should have.
        rules: what the counts must keep to.

    Raises:
        BadInput: if nothing keeps to the rules, such as an odd total of even counts.
    """
    keep = rules or Rules()
    if not 0 < factor <= 1000 or not 0 < len(sequence.stripes) <= _MOST_STRIPES:
        raise BadInput("The pattern cannot be scaled by that.", "Give a factor such as 3/4 or 2.")
    if total is not None:
        if not 0 < total <= MOST_THREADS:
            raise BadInput(f"A repeat of {total} threads cannot be.", "Ask for a sensible total.")
        factor = Fraction(total, sequence.threads)
    ideal = tuple(stripe.threads * factor for stripe in sequence.stripes)
    floors = tuple(_floor(stripe, keep) for stripe in sequence.stripes)
    weights = _weights(sequence)
    if total is None:
        answers = _free(ideal, floors, keep)
    else:
        answers = _with_total(ideal, floors, weights, total, keep)
    if not answers:
        raise BadInput(
            f"No counts that keep to the rules add up to {total} threads in the repeat.",
            "Choose an even total, a larger one, or allow odd counts.",
        )
    return tuple(_resized(sequence, ideal, weights, counts, keep) for counts in answers)


def choices(
    sequence: ColourSequence, factor: Fraction, *, rules: Rules | None = None, around: int = 2
) -> tuple[Resized, ...]:
    """Sound answers to pick from: the best, and the best for each repeat total near it.

    Args:
        sequence: as written.
        factor: new size over old.
        rules: what the counts must keep to.
        around: how many totals on either side are tried.

    Returns:
        Different answers, the least total error first, and of equal ones that with the truest
        repeat. All errors are measured from count x factor, so they can be compared.
    """
    keep = rules or Rules()
    best = scaled(sequence, factor, rules=keep)
    ideal = best[0].ideal
    floors = tuple(_floor(stripe, keep) for stripe in sequence.stripes)
    weights = _weights(sequence)
    found = {answer.sequence: answer for answer in best}
    step = 2 if keep.even else 1
    for distance in range(-around, around + 1):
        total = best[0].threads + distance * step
        for counts in _with_total(ideal, floors, weights, total, keep)[:1]:
            answer = _resized(sequence, ideal, weights, counts, keep)
            found.setdefault(answer.sequence, answer)
    return tuple(sorted(found.values(), key=lambda answer: (answer.cost, abs(answer.repeat_error))))


def _weights(sequence: ColourSequence) -> tuple[int, ...]:
    """How often each written stripe comes in one repeat: pivots once, others twice."""
    count = len(sequence.stripes)
    if sequence.kind is not SequenceKind.SYMMETRIC or count <= 2:
        return (1,) * count
    return (1, *(2,) * (count - 2), 1)


def _floor(stripe: Stripe, rules: Rules) -> int:
    """Fewest threads for this stripe; a line of one stays possible where odd counts are."""
    return rules.least if rules.even else min(rules.least, stripe.threads)


def _cost(count: int, ideal: Fraction, rules: Rules) -> Fraction:
    error = count - ideal
    return error * error if rules.squared else abs(error)


def _nearest(ideal: Fraction, least: int, rules: Rules) -> tuple[int, ...]:
    """The one or two allowed counts with the least error."""
    options = _allowed(ideal, least, rules, reach=1)
    best = min(_cost(count, ideal, rules) for count in options)
    return tuple(count for count in options if _cost(count, ideal, rules) == best)


def _allowed(ideal: Fraction, least: int, rules: Rules, reach: int) -> range:
    """Allowed counts within so many steps of the ideal (or of the floor, if that is higher)."""
    step = 2 if rules.even else 1
    floor_ = least + least % step
    low = max(floor_, (floor(ideal / step) - reach) * step)
    high = max(floor_, ceil(ideal / step) * step) + reach * step
    return range(low, high + 1, step)


def _free(
    ideal: tuple[Fraction, ...], floors: tuple[int, ...], rules: Rules
) -> list[tuple[int, ...]]:
    """Each stripe rounded on its own; where two counts are equally near, both are answers."""
    answers: list[tuple[int, ...]] = [()]
    for wanted, least in zip(ideal, floors, strict=True):
        options = _nearest(wanted, least, rules)
        answers = [(*answer, count) for answer in answers for count in options][:_MOST_ANSWERS]
    return answers


# For each total that the stripes so far can reach: the least cost, and every last step (count,
# total before it) that attains it.
_Layer = dict[int, tuple[int, list[tuple[int, int]]]]


def _with_total(
    ideal: tuple[Fraction, ...],
    floors: tuple[int, ...],
    weights: tuple[int, ...],
    total: int,
    rules: Rules,
) -> list[tuple[int, ...]]:
    """Counts with exactly this total and the least error; [] if there are none.

    Counts near the ideal are tried first. The cost is convex and separable, so an answer that
    keeps two steps away from the edge of what was tried is the best of all; otherwise more is
    tried.
    """
    step = 2 if rules.even else 1
    least_total = sum(w * (f + f % step) for w, f in zip(weights, floors, strict=True))
    if total < least_total or total % step:
        return []
    reach = 4
    while True:
        allowed = [_allowed(i, f, rules, reach) for i, f in zip(ideal, floors, strict=True)]
        answers = _least_cost(allowed, ideal, weights, total, rules)
        inside = all(
            (count - low.start >= 2 * step or low.start - step < least)
            and low[-1] - count >= 2 * step
            for counts in answers[:1]
            for count, low, least in zip(counts, allowed, floors, strict=True)
        )
        if (answers and inside) or reach * step > total:
            return answers
        reach *= 2


def _least_cost(
    allowed: list[range],
    ideal: tuple[Fraction, ...],
    weights: tuple[int, ...],
    total: int,
    rules: Rules,
) -> list[tuple[int, ...]]:
    """The dynamic programme: stripe by stripe over the running total, in whole numbers."""
    unit = lcm(*(wanted.denominator for wanted in ideal))
    room = [0]  # the most that the stripes from here on can add, and the least
    least_left = [0]
    for counts, weight in zip(reversed(allowed), reversed(weights), strict=True):
        room.append(room[-1] + weight * counts[-1])
        least_left.append(least_left[-1] + weight * counts[0])
    layers: list[_Layer] = [{0: (0, [])}]
    for index, (counts, wanted, weight) in enumerate(zip(allowed, ideal, weights, strict=True)):
        left = len(allowed) - index - 1
        low, high = total - room[left], total - least_left[left]
        layer: _Layer = {}
        for count in counts:
            error = abs(count * unit - int(wanted * unit))
            cost = weight * (error * error if rules.squared else error)
            for before, (spent, _) in layers[-1].items():
                reached = before + weight * count
                if low <= reached <= high:
                    _offer(layer, reached, spent + cost, (count, before))
        layers.append(layer)
    return _traced(layers, total)


def _offer(layer: _Layer, reached: int, cost: int, last: tuple[int, int]) -> None:
    """Enters a way to reach a total, if it costs no more than what is known."""
    known = layer.get(reached)
    if known is None or cost < known[0]:
        layer[reached] = (cost, [last])
    elif cost == known[0]:
        known[1].append(last)


def _traced(layers: list[_Layer], total: int) -> list[tuple[int, ...]]:
    """The counts that lead to the total at least cost, read back from the last stripe."""
    if total not in layers[-1]:
        return []
    open_ends: list[tuple[int, tuple[int, ...]]] = [(total, ())]
    for layer in reversed(layers[1:]):
        open_ends = [
            (before, (count, *counts))
            for reached, counts in open_ends
            for count, before in layer[reached][1]
        ][:_MOST_ANSWERS]
    return [counts for _, counts in open_ends]


def _resized(
    sequence: ColourSequence,
    ideal: tuple[Fraction, ...],
    weights: tuple[int, ...],
    counts: tuple[int, ...],
    rules: Rules,
) -> Resized:
    stripes = tuple(
        Stripe(stripe.yarn, count) for stripe, count in zip(sequence.stripes, counts, strict=True)
    )
    new = ColourSequence(sequence.kind, stripes)
    cost = sum(
        (w * _cost(c, i, rules) for w, c, i in zip(weights, counts, ideal, strict=True)),
        Fraction(0),
    )
    return Resized(
        sequence=new,
        threads=new.threads,
        ideal=ideal,
        errors=tuple(count - wanted for count, wanted in zip(counts, ideal, strict=True)),
        cost=cost,
        ideal_threads=sum((w * i for w, i in zip(weights, ideal, strict=True)), Fraction(0)),
    )


def describe(answer: Resized, old: ColourSequence) -> tuple[str, ...]:
    """One line for each stripe: 'A 24 -> 18 (ideal 17.6, +0.4)'."""
    lines = []
    for stripe, new, ideal, error in zip(
        old.stripes, answer.sequence.stripes, answer.ideal, answer.errors, strict=True
    ):
        lines.append(
            f"{stripe.yarn} {stripe.threads} -> {new.threads}"
            f" (ideal {float(ideal):.1f}, {float(error):+.1f})"
        )
    return tuple(lines)
