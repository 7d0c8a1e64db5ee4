"""What hides the cloth: places without the weave's wave where the stripes let it be expected.

The wave is as strong as the two yarns that cross there differ. The effects of columns and rows
tell both yarns at every place, so that the strength to expect is known but for a few constants,
which are fitted. A ruler shows none of it, a clear one little. Squares of one colour tell nothing.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FlatCloth
from settscan.reading.amplitude import fit_amplitude, shortest_half
from settscan.reading.carriers import Carrier, Course, window_means, window_means_both
from settscan.reading.cover import Waves, waves_of
from settscan.reading.profiles import Additive, separate
from settscan.reading.threads import first_carriers
from settscan.reading.uncrossed import uncrossed
from settscan.settings import HIDDEN, HiddenSettings

Floats = NDArray[Any]
Mask = NDArray[np.bool_]


class _Places(NamedTuple):
    """What is known of each window of the weave's wave.

    Attributes:
        light: (M, N, 3) mean linear light.
        amplitude: (M, N) of the wave.
        shown: (M, N) True where the mask leaves enough of the window.
        columns, rows: (N, 3), (M, 3) whose sum is the light of the cloth.
    """

    light: Floats
    amplitude: Floats
    shown: Mask
    columns: Floats
    rows: Floats


class Glance(NamedTuple):
    """A first look at a flat cloth.

    Attributes:
        split: its columns and rows; without the residual where the weave shows.
        carriers: the waves of the weave, the most powerful first; none where it shows none.
        waves: the strength of the first from place to place; None where there is none.
        hidden: (H, W) of `split`: True where something lies on the cloth.
    """

    split: Additive
    carriers: tuple[Carrier, ...]
    waves: Waves | None
    hidden: Mask


def glance_at(flat: FlatCloth) -> Glance:
    """Look where the weave is and what hides it.

    Raises:
        Refusal: if there is too little cloth to read.
    """
    split = separate(flat.pixels, flat.mask)
    carriers = first_carriers(split)
    if not carriers:
        return Glance(split, (), None, np.zeros_like(split.mask))
    waves = waves_of(split, carriers[0])
    hidden = hidden_part(split, carriers[0], waves) | _laid_along(flat, split, carriers[0])
    # What the sum leaves over is as large as the picture, and is wanted no more.
    lean = replace(split, residual=np.zeros((0, 0, 3), np.float32))
    return Glance(lean, carriers, waves, hidden)


def _laid_along(flat: FlatCloth, split: Additive, carrier: Carrier) -> Mask:
    """(H, W) True in lines that a thing lies along, straightened with the split cloth."""
    height, width = split.mask.shape
    pixels = flat.pixels[split.y0 : split.y0 + height, split.x0 : split.x0 + width]
    tile = round(2 / min(carrier.fx, abs(carrier.fy)))
    effects = (split.columns, split.rows)
    columns, rows = uncrossed(pixels, split.mask, effects, tile)
    return np.asarray(split.mask & (columns | rows[:, None]))


def things_on(flat: FlatCloth, seen: Glance, beyond: float) -> tuple[NDArray[np.float64], ...]:
    """Outlines (K, 2) in photo pixels of what lies on the cloth and is not masked yet.

    Args:
        flat: the straightened cloth.
        seen: a glance at it.
        beyond: share of what shows of a thing by which it goes on where the picture ends.
    """
    if not seen.hidden.any():
        return ()
    contours, _ = cv2.findContours(
        seen.hidden.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE
    )
    # Windows do not tell the rim, nor the shadow of a thing.
    rim = 1 / min(seen.carriers[0].fx, abs(seen.carriers[0].fy))
    outlines = [_outline(contour[:, 0], seen.hidden.shape, rim, beyond) for contour in contours]
    corner = (seen.split.x0, seen.split.y0)
    return tuple(flat.photo_points(outline + corner) for outline in outlines)


def _outline(points: NDArray[Any], shape: tuple[int, ...], rim: float, beyond: float) -> Floats:
    """The hull (K, 2) of points with a rim, and more where the picture's border cuts it off."""
    low, high = points.min(axis=0), points.max(axis=0)
    more = rim + beyond * (high - low)
    wide = (
        np.where(low <= 0, more, rim),
        np.where(high >= np.array(shape[::-1]) - 1, more, rim),
    )
    hull = cv2.convexHull(points.astype(np.int32))[:, 0].astype(np.float64)
    around = [hull + (x, y) for x in (-wide[0][0], wide[1][0]) for y in (-wide[0][1], wide[1][1])]
    return np.asarray(cv2.convexHull(np.concatenate(around).astype(np.float32))[:, 0])


def hidden_part(
    split: Additive, carrier: Carrier, waves: Waves, settings: HiddenSettings = HIDDEN
) -> Mask:
    """(H, W) True where something lies on the cloth that the mask does not know of.

    Args:
        split: the separated picture.
        carrier: the weave's main wave.
        waves: its strength from place to place, from `waves_of`.
        settings: see `HiddenSettings`.
    """
    places = _places(split, carrier, waves, settings)
    covered = np.zeros_like(places.shown)
    for _ in range(settings.rounds):
        seen = places.amplitude[places.shown & ~covered]
        if len(seen) < settings.least_windows or np.median(seen) <= 0:
            break
        # What lies there lends its colour to its columns and rows: each round it lends less.
        columns, rows = _effects(places.light, places.shown & ~covered, settings)
        places = places._replace(columns=columns, rows=rows)
        found = _without_weave(places, covered, settings)
        if (found == covered).all():
            break
        covered = found
    return _as_pixels(covered, waves, split.mask.shape)


def _places(split: Additive, carrier: Carrier, waves: Waves, settings: HiddenSettings) -> _Places:
    """The windows as they are seen, without what columns and rows give to them."""
    height, width = split.mask.shape
    along_x, along_y = Course.even(width, carrier.fx), Course.even(height, carrier.fy)
    share = window_means_both(split.mask, along_x, along_y)
    known = np.maximum(share, 1e-3)
    rest = window_means_both(split.residual, along_x, along_y) / known[:, :, None]
    columns, rows = window_means(split.columns, along_x), window_means(split.rows, along_y)
    return _Places(
        light=rest + columns[None] + rows[:, None],
        amplitude=waves.amplitude / known,
        shown=share > settings.least_shown,
        columns=columns,
        rows=rows,
    )


def _effects(light: Floats, use: Mask, settings: HiddenSettings) -> tuple[Floats, Floats]:
    """(N, 3) and (M, 3) whose sum is the light (M, N, 3), by medians, which a ruler sways little.

    Where a whole column or row is left out, it is taken to be as the nearest.
    """
    seen = np.where(use[:, :, None], light, np.nan)
    columns, rows = np.zeros_like(light[0]), np.zeros_like(light[:, 0])
    for _ in range(settings.polishes):
        columns = _medians(seen - rows[:, None], axis=0)
        rows = _medians(seen - columns[None], axis=1)
    return columns, rows


def _medians(values: Floats, axis: int) -> Floats:
    """Medians (N, 3) of what is no NaN; where all are, the nearest ones."""
    known = np.flatnonzero(~np.isnan(values[:, :, 0]).all(axis=axis))
    some = np.nanmedian(np.take(values, known, axis=1 - axis), axis=axis)
    return np.asarray(some[_nearest(known, values.shape[1 - axis])])


def _without_weave(places: _Places, covered: Mask, settings: HiddenSettings) -> Mask:
    """(M, N) True in the windows of what lies on the cloth, fitted to those not `covered` yet."""
    expected = _expected(places, places.shown & ~covered, settings)
    strong = settings.telling * float(np.quantile(expected[places.shown], 0.75))
    telling = places.shown & (expected > strong)
    ratio = places.amplitude / np.maximum(expected, 1e-12)
    usual = ratio[telling & ~covered]
    if len(usual) < settings.least_windows:
        return np.zeros_like(covered)
    if shortest_half(usual) > settings.most_spread:
        return np.zeros_like(covered)
    missing = telling & (ratio < settings.missing)
    return _things(missing, telling, ratio, places, settings)


def _strange(places: _Places, settings: HiddenSettings) -> Mask:
    """(M, N) True where the light is far from what columns and rows give together."""
    sums = places.columns[None] + places.rows[:, None]
    apart = np.abs(places.light - sums).sum(axis=2)
    bright = np.maximum(sums.sum(axis=2), 0.5 * float(np.median(sums.sum(axis=2))))
    return np.asarray(places.shown & (apart > settings.strange * bright))


def _expected(places: _Places, use: Mask, settings: HiddenSettings) -> Floats:
    """(M, N) amplitudes that the colours of columns and rows let expect, fitted where `use`."""
    model = fit_amplitude(places.columns, places.rows, places.amplitude, use, settings)
    return model(places.columns, places.rows)


def _things(
    missing: Mask, telling: Mask, ratio: Floats, places: _Places, settings: HiddenSettings
) -> Mask:
    """The windows of things large enough to be seen as such, and what they enclose."""
    side = settings.least_side
    core = np.ones((side, side), np.uint8)
    odd = missing | (~telling & _strange(places, settings))
    # An even core has no middle: it is put back by the way that it was taken.
    back = (side - 1 - side // 2,) * 2
    seeds = cv2.dilate(cv2.erode(odd.astype(np.uint8), core), core, anchor=back)
    reach = 2 * side - 1
    number, label = cv2.connectedComponents(cv2.dilate(seeds, np.ones((reach, reach), np.uint8)))
    covered = np.zeros_like(missing)
    for one in range(1, number):
        part = (label == one) & (seeds > 0)
        if (part & telling).sum() < settings.least_windows:
            continue
        if not _unlike_others(part, telling, ratio, places, settings):
            continue
        corners = np.argwhere(part)[:, ::-1].astype(np.int32)
        hull = np.zeros_like(seeds)
        cv2.fillConvexPoly(hull, cv2.convexHull(corners), 1)
        whole = missing[(hull > 0) & telling].mean() > settings.least_filled
        covered |= (hull > 0) if whole else part
    # A window that is half covered shows half of the wave.
    return np.asarray(cv2.dilate(covered.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)


def _unlike_others(
    part: Mask, telling: Mask, ratio: Floats, places: _Places, settings: HiddenSettings
) -> bool:
    """Whether the weave shows in the other squares of the colours that cross in this part.

    Else it is the two yarns that cross there which show little of it.
    """
    others = (telling & ~part).astype(float)
    columns, rows = _alike(places.columns, settings), _alike(places.rows, settings)
    number = rows @ others @ columns
    mean = rows @ (others * np.minimum(ratio, 1.0)) @ columns / np.maximum(number, 1.0)
    known = part & telling & (number >= settings.least_windows)
    if known.sum() < 0.5 * (part & telling).sum():
        return True
    return bool(np.mean(ratio[known] < settings.missing * mean[known]) > settings.least_filled)


def _alike(colours: Floats, settings: HiddenSettings) -> Floats:
    """(N, N) 1 for pairs of places whose colours (N, 3) hardly differ, else 0."""
    apart = np.linalg.norm(colours[:, None] - colours[None], axis=2)
    return np.asarray((apart < settings.alike * np.ptp(colours, axis=0).max()).astype(float))


def _as_pixels(windows: Mask, waves: Waves, shape: tuple[int, ...]) -> Mask:
    """(H, W) the windows (M, N) as pixels: each pixel as the nearest window."""
    down, across = _nearest(waves.ys, shape[0]), _nearest(waves.xs, shape[1])
    return np.asarray(windows[down][:, across])


def _nearest(places: Floats, length: int) -> NDArray[np.intp]:
    """(length,) for each of 0, 1, 2, ... the number of the nearest of some rising places."""
    return np.searchsorted((places[1:] + places[:-1]) / 2, np.arange(length))
