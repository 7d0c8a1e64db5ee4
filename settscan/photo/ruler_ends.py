"""Where a ruler ends: the cloth beside it is known, and so is its body between its ticks.

Beyond the last tick a body of the cloth's own light, or one through which the cloth shows, seems
to go on for ever by its light alone. So each place there is compared, by colour and by fine
detail, with the body between the ticks and with the cloth on both sides, and the end is put where
the two together explain the row of places best.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import Photo, RulerFound
from settscan.settings import ENDS, EndSettings

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


class _Strip(NamedTuple):
    """The band along a ruler, three outlines high, cut into square cells.

    Attributes:
        features: (M, N, 4) colour, and the logarithm of fine contrast.
        shown: (M, N) whether a cell lies in the picture.
        rows: first row of the outline and the row after its last.
        known: row after the last that is surely body.
        columns: of the first and of the last tick.
    """

    features: Array
    shown: Mask
    rows: tuple[int, int]
    known: int
    columns: tuple[int, int]


def at_its_ends(photo: Photo, ruler: RulerFound, s: EndSettings = ENDS) -> RulerFound:
    """The ruler with its outline where its body ends, beside its ticks and beyond them.

    Once more within what was found, for the cells are smaller there.
    """
    asked = _to_the_frame(photo, ruler)
    for _ in range(s.rounds):
        drawn = _drawn_in(photo, asked, s)
        if drawn is None:
            break
        ruler = asked = drawn
    return ruler


def _to_the_frame(photo: Photo, ruler: RulerFound) -> RulerFound:
    """The ruler, as long as the picture allows at an end whose middle the frame cuts off.

    Where the frame cuts off a ruler aslant its outline was followed too short.
    """
    corners, _ = _laid(ruler)
    size = np.array([photo.width - 1, photo.height - 1])
    longer = corners.copy()
    for end, other in (((0, 3), (1, 2)), ((1, 2), (0, 3))):
        middle = corners[[*end]].mean(axis=0)
        if ((middle >= 0) & (middle <= size)).all():
            continue
        along = (corners[[*end]] - corners[[*other]]).mean(axis=0)
        along /= np.linalg.norm(along)
        frame = np.array([[0, 0], [size[0], 0], size, [0, size[1]]])
        more = (frame @ along).max() - (corners[[*end]] @ along).min()
        for here, there in zip(end, other, strict=True):
            side = corners[here] - corners[there]
            longer[here] += max(more, 0.0) * side / np.linalg.norm(side)
    return replace(ruler, outline_px=longer)


def _drawn_in(photo: Photo, ruler: RulerFound, s: EndSettings) -> RulerFound | None:
    """The ruler with the outline that one look at cells of one size gives; None: they tell none."""
    corners, ticks = _laid(ruler)
    strip = _strip(photo, corners, ticks, ruler.a, s)
    if strip is None or ticks[:, 1].mean() > _AT_EDGE:
        return None
    (top, bottom), (first, last) = strip.rows, strip.columns
    told = _told(strip, s, (top, strip.known), (strip.known, bottom), None)
    stop = strip.known + _end(told[strip.known : bottom, first : last + 1].mean(axis=1)) + 1
    stop = min(stop, bottom)
    told = _told(strip, s, (top + 1, stop - 1), (top + 1, stop - 1), s.row_weight)
    beyond = told.sum(axis=0)
    count = strip.shown.shape[1]
    low = max(first - _end(beyond[:first][::-1]) - 1, 0)
    high = min(last + _end(beyond[last + 1 :]) + 2, count)
    if (low, high, stop) == (0, count, bottom):
        return ruler
    deep = (stop - top) / (bottom - top)
    ends = np.array([[low, 0], [high, 0], [high, count * deep], [low, count * deep]]) / count
    outline = cv2.perspectiveTransform(ends[None], np.linalg.inv(_to_unit(corners)))[0]
    return replace(ruler, outline_px=np.asarray(outline, dtype=np.float64))


_AT_EDGE = 0.3  # of the body's width: ticks farther in leave open which way it goes on


def _laid(ruler: RulerFound) -> tuple[Array, Array]:
    """(4, 2) corners, along the edge with the ticks first, and (T, 2) ticks from 0 to 1 in them."""
    corners = np.asarray(ruler.outline_px, dtype=np.float64)
    places = np.asarray(ruler.ticks_px, dtype=np.float64)[None]
    ticks = cv2.perspectiveTransform(places, _to_unit(corners))[0]
    if np.ptp(ticks[:, 1]) > np.ptp(ticks[:, 0]):
        corners = np.roll(corners, -1, axis=0)
        ticks = cv2.perspectiveTransform(places, _to_unit(corners))[0]
    if ticks[:, 1].mean() > 0.5:
        corners = corners[::-1]
        ticks = cv2.perspectiveTransform(places, _to_unit(corners))[0]
    return corners, np.asarray(ticks, dtype=np.float64)


def _to_unit(corners: Array) -> Array:
    """(3, 3) from the photo to the square from 0 to 1."""
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    return np.asarray(cv2.getPerspectiveTransform(corners.astype(np.float32), unit))


def _end(told: Array) -> int:
    """How many of the rows or columns (N,) belong to the body, from what each tells for it.

    What tells nothing, such as what the frame cuts off, goes with what comes before it.
    """
    so_far = np.concatenate([[0.0], np.cumsum(told)])
    return len(told) - int(np.argmax(so_far[::-1]))


def _strip(
    photo: Photo, corners: Array, ticks: Array, px_per_mm: float, s: EndSettings
) -> _Strip | None:
    """The band along a ruler; None where it is too small to be cut into cells.

    Args:
        photo: the photo.
        corners: (4, 2) of the outline, along the edge with the ticks first.
        ticks: (T, 2) places of the ticks, 0 to 1 along and across.
        px_per_mm: along the ruler.
        s: settings.
    """
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    length, width = float(sides[0::2].mean()), float(sides[1::2].mean())
    across = int(np.clip(width / s.cell_px, 0, s.most_across))
    if across < s.least_across:
        return None
    cell = width / across
    count = int(length / cell)
    if count < s.least_along or count > s.most_along:
        return None
    grid = (count, 3 * across)
    size = (grid[0] * s.cell_px, grid[1] * s.cell_px)
    places = np.array(
        [[0, across], [count, across], [count, 2 * across], [0, 2 * across]], dtype=np.float32
    )
    to_photo = cv2.getPerspectiveTransform(places * s.cell_px - 0.5, corners.astype(np.float32))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    picture = cv2.warpPerspective(photo.encoded, to_photo, size, flags=flags)
    there = np.ones((photo.height, photo.width), np.uint8)
    shown = cv2.warpPerspective(there, to_photo, size, flags=cv2.INTER_NEAREST | flags)
    whole = cv2.resize(shown.astype(np.float32), grid, interpolation=cv2.INTER_AREA) > 0.99
    first, last = (
        int(np.clip(end * count, 0, count - 1)) for end in (ticks[:, 0].min(), ticks[:, 0].max())
    )
    feet = across + float(ticks[:, 1].mean()) * across
    known = int(np.clip(feet + s.known_mm * px_per_mm / cell, across + 1, 2 * across))
    seen = np.asarray(picture, np.float32) / np.float32(np.iinfo(photo.encoded.dtype).max)
    return _Strip(_features(seen, grid), whole, (across, 2 * across), known, (first, last))


def _features(seen: NDArray[np.floating[Any]], grid: tuple[int, int]) -> Array:
    """(M, N, 4) of the cells of a picture: encoded colour, and the logarithm of fine contrast."""
    grey = seen.mean(axis=2)
    fine = (grey - cv2.GaussianBlur(grey, (0, 0), 2.0)) ** 2
    contrast = cv2.resize(fine, grid, interpolation=cv2.INTER_AREA)
    contrast = cv2.blur(contrast, (3, 3))
    colour = cv2.resize(seen, grid, interpolation=cv2.INTER_AREA)
    return np.dstack([colour, _CONTRAST * 0.5 * np.log(contrast + _NOISE**2)]).astype(np.float64)


_NOISE = 0.004  # of encoded light: one step of eight bits
_CONTRAST = 0.1  # encoded light that tells as much as fine contrast that is e times as strong


def _told(
    strip: _Strip,
    s: EndSettings,
    sure: tuple[int, int],
    asked: tuple[int, int],
    row_weight: float | None,
) -> Array:
    """(M, N) how much each cell of the rows `asked` tells for the body (above zero) or for cloth.

    By the distance to the nearest few of the known places of each, which stands for how common
    the like is there. The body is known between its ticks, and cloth outside of the outline.

    Args:
        strip: the band.
        s: settings.
        sure: first row that is surely body, and the row after the last.
        asked: the same of the rows to be told.
        row_weight: of numerals, ticks and shading, which lie at rows of their own; None where
            rows are asked of which nothing is known.
    """
    from scipy.spatial import KDTree  # a part of scikit-image's own needs

    features, shown = strip.features, strip.shown
    (top, bottom), (first, last) = strip.rows, strip.columns
    rows = np.broadcast_to(np.arange(len(shown))[:, None] * (row_weight or 0.0), shown.shape)
    placed = np.dstack([features, rows])
    known, beside, open_ = np.zeros_like(shown), shown.copy(), np.zeros_like(shown)
    known[slice(*sure), first : last + 1] = shown[slice(*sure), first : last + 1]
    beside[top - 1 : bottom + 1] = False
    open_[slice(*asked)] = shown[slice(*asked)]
    told = np.zeros(shown.shape)
    if min(known.sum(), beside.sum()) < s.least_cells or not open_.any():
        return told

    def away(tree: KDTree, asked: Array) -> Array:
        """(K,) how far places (K, F) lie from the nearest few of a tree of those known."""
        nearest = max(int(s.nearest * tree.n), 2)
        return np.asarray(tree.query(asked, k=[nearest])[0][:, 0] + s.least_apart)

    near_cloth = _thinned(features[beside], s.most_known)
    body, cloth = KDTree(_thinned(placed[known], s.most_known)), KDTree(near_cloth)
    body_away, cloth_away = away(body, placed[open_]), away(cloth, features[open_])
    # What is like neither may be a part of the body that bears no ticks.
    strange = s.strange * np.median(away(cloth, near_cloth))
    ratio = cloth_away / np.minimum(body_away, strange)
    told[open_] = np.clip(_DIMENSIONS * np.log(ratio), -s.most, s.most)
    return told


def _thinned(cells: Array, most: int) -> Array:
    """About `most` of the cells (N, F), evenly chosen: a long ruler has more than tell more."""
    return cells[:: max(len(cells) // most, 1)]


_DIMENSIONS = 4.0  # of the features: how fast a cloud of them thins out
