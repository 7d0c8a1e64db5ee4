"""Named runs of stripes: what a layout is made of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from settscan.cloth.model import Stripe


@dataclass(frozen=True, kw_only=True)  # no slots: its sum is kept once it is made
class Part:
    """A named run of stripes, before neighbours of one yarn are joined."""

    label: str
    stripes: tuple[Stripe, ...]

    @cached_property
    def threads(self) -> int:
        """Threads in it."""
        return sum(stripe.threads for stripe in self.stripes)


def joined(stripes: tuple[Stripe, ...]) -> tuple[Stripe, ...]:
    """Neighbouring stripes of one yarn made into one; empty ones left out."""
    result: list[Stripe] = []
    for stripe in stripes:
        if result and result[-1].yarn == stripe.yarn:
            result[-1] = Stripe(stripe.yarn, result[-1].threads + stripe.threads)
        elif stripe.threads:
            result.append(stripe)
    return tuple(result)
