"""The rulers whose numbers can be read where none of their ticks can."""

from __future__ import annotations

from settscan.photo.flat import RulerFound
from settscan.photo.ruler_agree import contradict
from settscan.photo.ruler_goes_on import gone_on
from settscan.photo.ruler_lines import Grey
from settscan.photo.ruler_numbers import numbers_on
from settscan.photo.ruler_placed import ruler_along
from settscan.photo.ruler_spectrum import Sides
from settscan.photo.ruler_unit import likely_times
from settscan.settings import NUMBERS, NumberSettings


def numbered_ruler(
    levels: tuple[Grey, ...], likely: list[Sides], first: int, s: NumberSettings = NUMBERS
) -> RulerFound | None:
    """The ruler whose numbers count up most plainly, if the scale that they give is sure.

    Args:
        levels: the grey pyramid.
        likely: both sides of what may be the body of a ruler.
        first: the level in whose pixels the bodies are.
        s: settings.
    """
    grey, zoom = levels[first], 2.0**first
    found: list[tuple[float, RulerFound]] = []
    for body, each in likely:
        tried: list[float] = []
        for side, spectrum in each:
            times = [number for number, _ in likely_times(side, spectrum)][: s.most_periods]
            # both sides show the same numbers
            times = [k for k in times if all(abs(k / t - 1) > s.same_times for t in tried)]
            tried += times
            told = numbers_on(grey, side, spectrum, times, s)
            if told is None or told.mm is None:
                continue
            outline = (gone_on(grey, body.corners) + 0.5) * zoom - 0.5
            ruler = ruler_along(
                side, told.seen, told.mm, grey.shape, zoom, outline, s.least, s.most_wander
            )
            if ruler is not None and ruler.relative_error <= s.most_error:
                found.append((told.score, ruler))
    if not found:
        return None
    best = max(found, key=lambda item: item[0])[1]
    return None if any(contradict(best, ruler) for _, ruler in found) else best
