"""The part of a straightened picture that is read: woven, and up to the cloth's own edges."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from settscan.photo.flat import FlatCloth
from settscan.reading.cover import waves_of, woven_box
from settscan.reading.hidden import Glance, glance_at
from settscan.reading.own_edge import Edges, own_edges, within
from settscan.reading.profiles import Additive, evened, readable, separate, separated
from settscan.reading.tone import bent, find_tone
from settscan.settings import ReadSettings


class WovenPart(NamedTuple):
    """The part of the picture that is read.

    Attributes:
        split: its columns and rows.
        reaches: (left, top, right, bottom) whether the cloth goes on there.
        own: the cloth's own edges there, as far as they can be told.
    """

    split: Additive
    reaches: tuple[bool, bool, bool, bool]
    own: Edges

    def moved(self, ends: Edges, cells: tuple[float, float]) -> bool:
        """Whether the cloth's own edges lie more than a trifle aside of what was read.

        Args:
            ends: the edges as they are known now.
            cells: about one thread along x and y, pixels.
        """
        start, size = (self.split.x0, self.split.y0), self.split.mask.shape[::-1]
        for way, end in enumerate(ends):
            if end is None:
                continue
            border = start[way % 2] + (size[way % 2] if way > 1 else 0) - 0.5
            if abs(end.at - border) > cells[way % 2] + end.wide / 2:
                return True
        return False


def _told(ends: Edges) -> tuple[bool, bool, bool, bool]:
    """Whether each of the sides is known."""
    left, top, right, bottom = (end is not None for end in ends)
    return left, top, right, bottom


def woven_part(
    flat: FlatCloth, glance: Glance | None, settings: ReadSettings, ends: Edges | None = None
) -> WovenPart:
    """The picture separated within the box that carries the weave, and where cloth goes on.

    Where the box is smaller than what was taken for cloth, its border is the cloth's own edge
    (or near it): the outermost stripe is not cut by the picture, but it may not be whole, so it
    counts as cut unless the photo half found the cloth's edge there itself. Where the cloth's own
    edges are known already (`ends`), they are not sought.
    """
    split, carriers, waves, hidden = glance_at(flat) if glance is None else glance
    own = own_edges(flat, split) if ends is None else ends
    if waves is None:
        return WovenPart(split, flat.reaches_edge, own)
    mask, reaches = flat.mask, flat.reaches_edge
    if hidden.any() or own != (None,) * 4:
        mask = within(mask if ends is None else flat.opened(_told(ends)), own)
        height, width = hidden.shape
        mask[split.y0 : split.y0 + height, split.x0 : split.x0 + width] &= ~hidden
        split = separate(flat.pixels, mask)
        waves = waves_of(split, carriers[0])
    x0, x1, y0, y1 = woven_box(split, waves)
    height, width = split.mask.shape
    if (x1 - x0) * (y1 - y0) < 0.97 * width * height and min(x1 - x0, y1 - y0) >= 64:
        box = np.zeros_like(mask)
        box[split.y0 + y0 : split.y0 + y1, split.x0 + x0 : split.x0 + x1] = True
        mask = mask & box
        inner = (x0 > 0, y0 > 0, x1 < width, y1 < height)
        sides = [a or b for a, b in zip(reaches, inner, strict=True)]
        reaches = (sides[0], sides[1], sides[2], sides[3])
    # Two repeats, so that what a patch cuts off of a repeat hardly shows.
    repeat_px = round(2 / min(carriers[0].fx, abs(carriers[0].fy)))
    patch = repeat_px * max(1, round(settings.tone_patch_px / repeat_px))
    seen = bent(flat.pixels, find_tone(flat.pixels, mask, patch))
    spoil = seen is not flat.pixels
    cloth = readable(seen, mask, patch_px=repeat_px)
    even = evened(seen, cloth, spoil=spoil)
    if even is None:
        return WovenPart(separated(seen, cloth, spoil=spoil), reaches, own)
    cloth = readable(even, mask, patch_px=repeat_px)
    return WovenPart(separated(even, cloth, spoil=True), reaches, own)
