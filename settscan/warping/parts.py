"""Named runs of stripes: what a layout is made of."""

from __future__ import annotations

from typing import NamedTuple

from settscan.cloth.model import Stripe


class Part(NamedTuple):
    """A named run of stripes, before neighbours of one yarn are joined; `threads` is their sum."""

    label: str
    stripes: tuple[Stripe, ...]
    threads: int


def part_of(label: str, stripes: tuple[Stripe, ...]) -> Part:
    """A part of these stripes."""
    return Part(label, stripes, sum(stripe.threads for stripe in stripes))


def repeats_of(stripes: tuple[Stripe, ...], count: int) -> tuple[Part, ...]:
    """The same stripes so many times: "repeat 1", "repeat 2" ..."""
    threads = sum(stripe.threads for stripe in stripes)
    return tuple(Part(f"repeat {number}", stripes, threads) for number in range(1, count + 1))


def joined(stripes: tuple[Stripe, ...]) -> tuple[Stripe, ...]:
    """Neighbouring stripes of one yarn made into one; empty ones left out."""
    result: list[Stripe] = []
    for stripe in stripes:
        if result and result[-1].yarn == stripe.yarn:
            result[-1] = Stripe(stripe.yarn, result[-1].threads + stripe.threads)
        elif stripe.threads:
            result.append(stripe)
    return tuple(result)
