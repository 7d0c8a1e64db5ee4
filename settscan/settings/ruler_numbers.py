"""Rulers that are read by their numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberSettings:
    """Numbers that count up along a ruler. Sizes of print are common practice, no source.

    Attributes:
        tall: samples to the height of a numeral in the picture that is looked at: so many hold
            the shapes of all ten, and print of a pixel less is not told apart.
        stroke: width of a stroke over the height.
        blur: standard deviation over the height, as a lens and pixels draw small print.
        advance: from one numeral of a number to the next, over the height, and others that are
            tried once a row is found.
        least_px, most_px: height of numerals that are tried.
        heights: of numerals, over the distance of the numbers: from 2 mm at each inch to 5 mm at
            each centimetre, each a quarter more than the one before.
        most_periods: so many distances, the likeliest of a body, are tried.
        same_times: relative difference of two that are one.
        least: fewest numbers of a row.
        most_at_once: a single numeral's say, in standard deviations: a mark that is no numeral
            may be bolder than all.
        sure: how plainly numbers must count up, in standard deviations of what other orders in
            other places come to. By trial: 3,700 rows that were no numbers, in 87 made-up cloths,
            came to 8.1 at most.
        sure_here: the same, of what other orders come to in the same place: 3.9 at most, for
            distances that were not those of the numbers.
        ahead: and over what they come to where they count otherwise.
        highest_inch: height of numerals at each inch, over their distance, at most ...
        lowest_cm: ... and at each centimetre at least.
        depth_error: relative, of how far from the ruler's edge numerals end: of what a body's
            edges and print too small to be seen leave open, by judgement.
        reach: a number is looked for so far from its place, in distances.
        together: neighbours whose place is measured at once.
        largest: no ruler or tape has numbers above it.
        most_wander: rms error of places, in distances.
        most_error: relative error of a scale that is believed: numbers stand where they should.
    """

    tall: float = 9.0
    stroke: float = 0.11
    blur: float = 0.08
    advance: float = 0.62
    advances: tuple[float, ...] = (0.56, 0.62, 0.68, 0.74)
    least_px: float = 4.5
    most_px: float = 45.0
    heights: tuple[float, ...] = (0.09, 0.115, 0.14, 0.18, 0.225, 0.28, 0.35, 0.44)
    most_periods: int = 3
    same_times: float = 0.01
    least: int = 7
    most_at_once: float = 4.0
    sure: float = 9.0
    sure_here: float = 4.5
    ahead: float = 1.2
    highest_inch: float = 0.25
    lowest_cm: float = 0.2
    depth_error: float = 0.12
    reach: float = 0.2
    together: int = 3
    largest: int = 200
    most_wander: float = 0.06
    most_error: float = 0.012


NUMBERS = NumberSettings()
