"""Where a mask is wider than the thing it is for: the weave shows there in full.

The body of a ruler is masked as far as the photo half sees it go on. Beside cloth of its own
light that may be too far, and stripes are lost that anybody can see.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FlatCloth
from settscan.reading.amplitude import fit_amplitude, shortest_half
from settscan.reading.carriers import Course, window_means, window_means_both
from settscan.reading.cover import waves_of
from settscan.reading.hidden import Glance
from settscan.reading.profiles import left_over
from settscan.settings import BARE, HIDDEN, BareSettings

Floats = NDArray[Any]
Mask = NDArray[np.bool_]
Box = tuple[int, int, int, int]

_GRID_PX = 8  # flat pixels between the places that are asked whether they lie in an outline


class _Windows(NamedTuple):
    """Windows of the weave's wave around an outline.

    Attributes:
        at: (K, 2) middles in flat pixels.
        ratio: (K,) of the wave's amplitude to what the colours let expect.
    """

    at: Floats
    ratio: Floats


def without_bare(
    flat: FlatCloth,
    seen: Glance,
    outlines: tuple[Floats, ...],
    size: tuple[int, int],
    settings: BareSettings = BARE,
) -> tuple[Floats, ...]:
    """Outlines (4, 2) in photo pixels, drawn in where the weave shows beside the thing itself.

    Args:
        flat: the straightened cloth, masked by the outlines.
        seen: a glance at it.
        outlines: corners of each, in order; those with more than four stay as they are.
        size: (width, height) of the photo.
        settings: see `BareSettings`.
    """
    expected = _expected(seen)
    if expected is None:
        return outlines
    return tuple(
        _drawn_in(outline, flat, seen, expected, size, settings) if len(outline) == 4 else outline
        for outline in outlines
    )


def _expected(seen: Glance) -> Any:
    """What amplitude colours let expect, and the least that tells; None if nothing does."""
    if seen.waves is None:
        return None
    along_x, along_y = _courses(seen)
    share = window_means_both(seen.split.mask, along_x, along_y)
    hidden = window_means_both(seen.hidden, along_x, along_y)
    use = (share > HIDDEN.least_shown) & (hidden < 1 - HIDDEN.least_shown)
    columns = window_means(seen.split.columns, along_x)
    rows = window_means(seen.split.rows, along_y)
    amplitude = seen.waves.amplitude / np.maximum(share, 1e-3)
    if use.sum() < HIDDEN.least_windows or np.median(amplitude[use]) <= 0:
        return None
    model = fit_amplitude(columns, rows, amplitude, use)
    expected = model(columns, rows)
    least = HIDDEN.telling * float(np.quantile(expected[use], 0.75))
    usual = (amplitude / np.maximum(expected, 1e-12))[use & (expected > least)]
    if len(usual) < HIDDEN.least_windows or shortest_half(usual) > HIDDEN.most_spread:
        return None
    return model, least


def _courses(seen: Glance) -> tuple[Course, Course]:
    """Of the weave's main wave along x and y."""
    height, width = seen.split.mask.shape
    carrier = seen.carriers[0]
    return Course.even(width, carrier.fx), Course.even(height, carrier.fy)


def _drawn_in(
    outline: Floats,
    flat: FlatCloth,
    seen: Glance,
    expected: Any,
    size: tuple[int, int],
    settings: BareSettings,
) -> Floats:
    """One outline, each of its four sides drawn in as far as the weave shows along it."""
    box = _box_of(outline, flat, seen)
    if box is None:
        return outline
    windows = _windows_in(box, flat, seen, *expected)
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    to_unit = cv2.getPerspectiveTransform(outline.astype(np.float32), unit)
    if len(windows.at) < settings.least_windows:
        return outline
    photo = flat.photo_points(windows.at)
    place = cv2.perspectiveTransform(photo[None], to_unit)[0]
    inside = ((place > 0) & (place < 1) & (photo > 0) & (photo < np.array(size))).all(axis=1)
    place, ratio = place[inside], windows.ratio[inside]
    if not inside.any():
        return outline
    missing = _missing(windows.at[inside], ratio, seen, settings)
    sides = np.linalg.norm(outline - np.roll(outline, -1, axis=0), axis=1) * flat.sampling
    cycle = max(1 / seen.carriers[0].fx, 1 / abs(seen.carriers[0].fy))
    strips = [cycle / max(float(sides[axis::2].mean()), 1.0) for axis in (0, 1)]
    low, high = _bounds(place, ratio, missing, strips, settings)
    if (high - low).min() <= 0 or (1 - np.prod(high - low)) < settings.least_gain:
        return outline
    corners = np.array([[low, [high[0], low[1]], high, [low[0], high[1]]]], dtype=np.float64)
    return np.asarray(cv2.perspectiveTransform(corners, np.linalg.inv(to_unit))[0])


def _bounds(
    place: Floats, ratio: Floats, missing: Mask, strips: list[float], settings: BareSettings
) -> tuple[Floats, Floats]:
    """(2,) where the thing begins and ends along both sides of its outline, each 0 to 1.

    Args:
        place: (K, 2) of the windows within the outline.
        ratio: (K,) of their amplitude to what is to be expected.
        missing: (K,) True where the thing hides the weave.
        strips: width of the strips that are judged, in each direction.
        settings: see `BareSettings`.
    """
    low, high = np.zeros(2), np.ones(2)
    thing = place[missing]
    for axis in (0, 1) if len(thing) else ():
        other = place[:, 1 - axis]
        level = (other >= thing[:, 1 - axis].min()) & (other <= thing[:, 1 - axis].max())
        depth, own = place[level, axis], thing[:, axis]
        low[axis] = min(_cleared(depth, ratio[level], strips[axis], settings), own.min())
        high[axis] = max(1 - _cleared(1 - depth, ratio[level], strips[axis], settings), own.max())
    return low, high


def _missing(at: Floats, ratio: Floats, seen: Glance, settings: BareSettings) -> Mask:
    """(K,) True in the windows at places (K, 2) where the weave is missing, as in those around."""
    from scipy.spatial import KDTree  # a part of scikit-image's own needs

    cycles = at * np.array([seen.carriers[0].fx, abs(seen.carriers[0].fy)])
    missing = ratio < HIDDEN.missing
    around = KDTree(cycles).query_ball_point(cycles, 1.01)
    several = [
        missing[near].mean() > 0.5 and len(near) >= settings.least_cluster for near in around
    ]
    return np.asarray(missing & np.array(several))


def _cleared(depth: Floats, ratio: Floats, step: float, settings: BareSettings) -> float:
    """How far in from a side (depth 0) the weave shows in strip after strip."""
    clear = 0.0
    for start in np.arange(0.0, 1.0, step):
        here = ratio[(depth >= start) & (depth < start + step)]
        if len(here) < settings.least_windows:
            continue
        # Ticks and numerals make stronger waves than cloth.
        shows = (here > settings.shows) & (here < 1 / settings.shows)
        if np.mean(shows) < settings.least_showing:
            break
        clear = float(start + step)
    return clear


def _box_of(outline: Floats, flat: FlatCloth, seen: Glance) -> Box | None:
    """(x0, x1, y0, y1) of the readable box that holds the outline, in its own pixels."""
    height, width = seen.split.mask.shape
    x, y = np.meshgrid(np.arange(0, width, _GRID_PX), np.arange(0, height, _GRID_PX))
    places = np.column_stack([x.ravel() + seen.split.x0, y.ravel() + seen.split.y0])
    photo = flat.photo_points(places.astype(np.float64)).astype(np.float32)
    within = places[_inside(outline.astype(np.float32), photo)]
    if len(within) < 4:
        return None
    (left, top), (right, bottom) = within.min(axis=0), within.max(axis=0)
    x0, y0 = int(left) - seen.split.x0, int(top) - seen.split.y0
    return (
        x0,
        min(x0 + int(right - left) + _GRID_PX, width),
        y0,
        min(y0 + int(bottom - top) + _GRID_PX, height),
    )


def _inside(polygon: Floats, points: Floats) -> Mask:
    """(N,) whether points (N, 2) lie in a polygon (K, 2); those far away are not asked."""
    near = ((points >= polygon.min(axis=0)) & (points <= polygon.max(axis=0))).all(axis=1)
    near[near] = [
        cv2.pointPolygonTest(polygon, (float(a), float(b)), False) >= 0 for a, b in points[near]
    ]
    return np.asarray(near)


def _windows_in(box: Box, flat: FlatCloth, seen: Glance, model: Any, least: float) -> _Windows:
    """The windows of a box that tell whether the weave shows, masked or not."""
    x0, x1, y0, y1 = box
    split = seen.split
    pixels = flat.pixels[split.y0 + y0 : split.y0 + y1, split.x0 + x0 : split.x0 + x1]
    columns, rows = _effects_in(
        pixels,
        (split.columns[x0:x1], split.rows[y0:y1]),
        (split.blind_columns[x0:x1], split.blind_rows[y0:y1]),
    )
    whole = np.ones(pixels.shape[:2], bool)
    part = replace(
        split,
        columns=columns,
        rows=rows,
        residual=left_over(pixels, whole, columns, rows),
        mask=whole,
        x0=split.x0 + x0,
        y0=split.y0 + y0,
    )
    waves = waves_of(part, seen.carriers[0])
    along_x = Course.even(x1 - x0, seen.carriers[0].fx)
    along_y = Course.even(y1 - y0, seen.carriers[0].fy)
    wide, high = window_means(columns, along_x), window_means(rows, along_y)
    expected = model(wide, high)
    tells = expected > least
    x, y = np.meshgrid(waves.xs + part.x0, waves.ys + part.y0)
    ratio = waves.amplitude / np.maximum(expected, 1e-12)
    return _Windows(at=np.column_stack([x[tells], y[tells]]), ratio=ratio[tells])


def _effects_in(
    pixels: Floats, effects: tuple[Floats, Floats], blind: tuple[Mask, Mask]
) -> tuple[Floats, Floats]:
    """Columns (W, 3) and rows (H, 3) of a part of the picture (H, W, 3).

    Those that the mask hides are told by what it hides: by the thing itself, or by the cloth.
    """
    columns, rows = (effect.copy() for effect in effects)
    dark_x, dark_y = blind
    if dark_x.any() and not dark_y.all():
        own = pixels[~dark_y][:, dark_x] - rows[~dark_y, None]
        columns[dark_x] = own.mean(axis=0)
    if dark_y.any():
        rows[dark_y] = (pixels[dark_y] - columns[None]).mean(axis=1)
    return columns, rows
