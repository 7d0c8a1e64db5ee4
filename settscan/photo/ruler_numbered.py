"""The rulers whose numbers can be read where none of their ticks can."""

from __future__ import annotations

import numpy as np

from settscan.photo.flat import RulerFound
from settscan.photo.ruler_bodies import Body
from settscan.photo.ruler_goes_on import gone_on
from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_numbers import numbers_on
from settscan.photo.ruler_placed import Places, ruler_along
from settscan.photo.ruler_spectrum import band_of, best_spectra
from settscan.photo.ruler_unit import likely_times
from settscan.settings import NUMBERS, NumberSettings


def numbered_ruler(
    levels: tuple[Grey, ...], likely: list[Body], first: int, s: NumberSettings = NUMBERS
) -> RulerFound | None:
    """The ruler whose numbers count up most plainly, if the scale that they give is sure.

    Args:
        levels: the grey pyramid.
        likely: what may be the body of a ruler.
        first: the level in whose pixels the bodies are.
        s: settings.
    """
    grey, zoom = levels[first], 2.0**first
    found: list[tuple[float, RulerFound]] = []
    for body in likely:
        band = band_of(grey, body)
        if band is None:
            continue
        tried: list[float] = []
        for side, spectrum in zip((band, band.turned()), best_spectra(band), strict=True):
            times = likely_times(side, spectrum)[: s.most_periods]
            # both sides show the same numbers
            times = [k for k in times if all(abs(k / t - 1) > s.same_times for t in tried)]
            tried += times
            seen = numbers_on(grey, side, spectrum, times, s)
            if seen is None or seen.mm is None:
                continue
            outline = (gone_on(grey, body.corners) + 0.5) * zoom - 0.5
            places = Places(seen.places, seen.numbers, seen.weight, seen.row)
            ruler = ruler_along(
                side, places, seen.mm, grey.shape, zoom, outline, s.least, s.most_wander
            )
            if ruler is not None and ruler.relative_error <= s.most_error:
                found.append((seen.score, ruler))
    sizes = np.array([float(ruler.a) for _, ruler in found])
    if not found or np.ptp(np.log(np.abs(sizes))) > s.most_apart:
        return None
    return max(found, key=lambda item: item[0])[1]
