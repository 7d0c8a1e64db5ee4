"""What its neighbours lend a thread: light by blur, and hue besides by the file's coding.

A lens blurs linear light. Cameras and JPEG blur what is coded: luma is kept, chroma is held at
half the detail or less, so that a dark thread beside a bright one keeps its luma and takes some of
the other's chroma (ITU-T T.871, with the weights of ITU-R BT.601). Of linear light that is no
share at all: it differs from channel to channel.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.reading.colours import as_coded, as_light

Floats = NDArray[Any]

_LEAST = 0.5 / 255  # scatter of a coded value that is rounded to 8 bits
_TRIED = 11  # shares of either kind, from none to the largest, and as many about the best


@dataclass(frozen=True, slots=True)
class Spill:
    """Shares of a thread that come from each of its two neighbours.

    `light` is that of its linear light, `hue` that of its coded chroma, lent after the light.
    """

    light: float = 0.0
    hue: float = 0.0

    def wider(self, light: float, hue: float) -> Spill:
        """With the share of light larger by so much, and that of hue by such a share of itself."""
        return Spill(self.light + light, self.hue * (1 + hue))

    def coded(self, before: Floats, own: Floats, after: Floats) -> tuple[Floats, Floats]:
        """Luma (..., 1) and chroma (..., 2) of a thread of a level (..., 3) between two others."""
        luma, chroma = as_coded((1 - 2 * self.light) * own + self.light * (before + after))
        lent = as_coded(before)[1] + as_coded(after)[1]
        return luma, (1 - 2 * self.hue) * chroma + self.hue * lent

    def mixed(self, before: Floats, own: Floats, after: Floats) -> Floats:
        """(..., 3) light that such a thread shows."""
        return as_light(*self.coded(before, own, after))

    def unmixed(self, before: Floats, seen: Floats, after: Floats) -> Floats:
        """(..., 3) level of a thread that shows this light (..., 3) between two others."""
        luma, chroma = as_coded(seen)
        lent = as_coded(before)[1] + as_coded(after)[1]
        sharp = as_light(luma, (chroma - self.hue * lent) / (1 - 2 * self.hue))
        own = (sharp - self.light * (before + after)) / (1 - 2 * self.light)
        return np.asarray(np.maximum(own, 1e-4))


def spill_of(
    before: Floats, own: Floats, after: Floats, seen: Floats, say: Floats, most: float
) -> Spill:
    """The shares that leave the least between what threads of known levels show and would show.

    The sum of distances, not of their squares: some threads may not be of the yarn that they are
    taken for, and lie far off.

    Args:
        before: (n, 3) levels of the threads before.
        own: (n, 3) levels of the threads.
        after: (n, 3) levels of the threads after.
        seen: (n, 3) linear light that they show.
        say: (n,) weight of each.
        most: largest share.
    """
    code = np.concatenate(as_coded(seen), axis=1)
    differ = (before != own).any(axis=1) | (after != own).any(axis=1)
    # Threads of one yarn differ in luma more than in chroma.
    off = np.abs(code - np.concatenate(as_coded(own), axis=1))[~differ]
    scatter = np.maximum(np.median(off, axis=0), _LEAST) if len(off) else np.full(3, _LEAST)
    before, own, after, code, say = (x[differ] for x in (before, own, after, code, say))

    def left(shares: tuple[float, float]) -> float:
        looks = np.concatenate(Spill(*shares).coded(before, own, after), axis=1)
        return float(say @ np.linalg.norm((code - looks) / scatter, axis=1))

    first = np.linspace(0, most, _TRIED)
    best = min(product(first, first), key=left)
    step = np.linspace(-1, 1, _TRIED) * most / (_TRIED - 1)
    near = [np.unique(np.clip(share + step, 0, most)) for share in best]
    light, hue = min(product(*near), key=left)
    return Spill(float(light), float(hue))
