"""Lines of the picture in which the stripes that cross them do not show: those of no cloth.

A cloth is the sum of its warp and its weft, so that along every row the columns show with the
slope one. A tape or a ruler that lies along a row shows none of them, nor does a fringe, however
well its own light passes for that of one more stripe. Light that falls off is smooth and is left
out.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import by_strips, masked
from settscan.settings import UNCROSSED, UncrossedSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]


def uncrossed(
    pixels: FloatImage,
    mask: Mask,
    effects: tuple[Floats, Floats],
    tile: int,
    settings: UncrossedSettings = UNCROSSED,
) -> tuple[Mask, Mask]:
    """(W,) and (H,) True in columns and rows of a picture in which those across do not show.

    Args:
        pixels: (H, W, 3) linear light.
        mask: (H, W) True where there is cloth.
        effects: (W, 3) and (H, 3) what the columns and the rows give.
        tile: pixels along a line over which the weave cancels.
        settings: see `UncrossedSettings`.
    """
    thin = max(tile // settings.heights, settings.least_px)
    down, across = _tiles(pixels, mask, tile, thin), _tiles(pixels, mask, thin, tile)
    turned = down[0].swapaxes(0, 1), down[1].T
    columns = _without_stripes(*turned, _means(effects[1], tile), settings)
    rows = _without_stripes(*across, _means(effects[0], tile), settings)
    width, height = mask.shape[1], mask.shape[0]
    return _as_pixels(columns, thin, width), _as_pixels(rows, thin, height)


def _tiles(pixels: FloatImage, mask: Mask, down: int, across: int) -> tuple[Floats, Floats]:
    """(M, N, 3) means over tiles of a picture's cloth, and the share (M, N) of it in each."""
    height, width = mask.shape[0] // down * down, mask.shape[1] // across * across
    if height == 0 or width == 0:
        return np.zeros((0, 0, 3)), np.zeros((0, 0))

    def means(strip: slice) -> tuple[FloatImage, FloatImage]:
        part = strip, slice(0, width)
        size = (width // across, (strip.stop - strip.start) // down)
        one, two = (
            cv2.resize(light, size, interpolation=cv2.INTER_AREA)
            for light in (masked(pixels[part], mask[part]), mask[part].astype(np.float32))
        )
        return np.asarray(one, np.float32), np.asarray(two, np.float32)

    found = by_strips(means, height, down)
    share = np.concatenate([two for _, two in found])
    return np.concatenate([one for one, _ in found]) / np.maximum(share, 1e-6)[..., None], share


def _means(effect: Floats, tile: int) -> Floats:
    """(N // tile, 3) means of an effect (N, 3)."""
    length = len(effect) // tile * tile
    return np.asarray(effect[:length].reshape(-1, tile, 3).mean(axis=1))


def _as_pixels(lines: Mask, thin: int, length: int) -> Mask:
    found = np.zeros(length, dtype=bool)
    found[: len(lines) * thin] = np.repeat(lines, thin)
    return found


def _without_stripes(
    seen: Floats, share: Floats, stripes: Floats, settings: UncrossedSettings
) -> Mask:
    """(M,) True in lines (M, N, 3) of which a `share` (M, N) shows that lack the stripes (N, 3)."""
    if len(stripes) < settings.least_places or not len(seen):
        return np.zeros(len(seen), dtype=bool)
    weight = np.where(share > 0.5, share, 0.0)
    dimmed = _dimmed(seen, weight)
    slope, error = _slopes(seen, weight, stripes, 1, settings)
    odd = slope < settings.least_beside * dimmed
    if odd.any():
        slope[odd], error[odd] = _slopes(seen[odd], weight[odd], stripes, settings.rounds, settings)
    at_most = slope / dimmed + settings.errors * error
    none = at_most < settings.least_slope
    # The rim of such a thing falls within a line: half of its pixels show the stripes.
    beside = np.convolve(none, np.ones(3), mode="same") > 0
    return np.asarray(none | (beside & (at_most < settings.least_beside)))


def _dimmed(seen: Floats, weight: Floats) -> Floats:
    """(M,) light of each line over that of all, from 0.1 to 1.

    Light that is left over passes for stripes across, which show the less the darker a line is.
    """
    shown = weight.sum(axis=1)
    light = (weight * seen.sum(axis=2)).sum(axis=1)
    mean = light.sum() / max(float(shown.sum()), 1e-6)
    return np.asarray(np.clip(light / np.maximum(shown, 1e-6) / max(mean, 1e-6), 0.1, 1.0))


def _slopes(
    seen: Floats, weight: Floats, stripes: Floats, rounds: int, settings: UncrossedSettings
) -> tuple[Floats, Floats]:
    """(M,) how strongly stripes show in each line, one in a cloth, and the standard error.

    Args:
        seen: (M, N, 3) light along the lines.
        weight: (M, N) of each place, 0 where it does not show.
        stripes: (N, 3) what the stripes across give.
        rounds: of the fit; after the first, places that are far off have less say.
        settings: see `UncrossedSettings`.
    """
    smooth = np.polynomial.legendre.legvander(
        np.linspace(-1, 1, len(stripes)), settings.lamp_degree
    )
    shown, hidden = (weight > 0).sum(axis=1), weight[..., None] <= 0
    say = np.repeat(weight[..., None], 3, axis=2)
    slope = rest = power = np.ones(len(seen))
    for _ in range(rounds):
        own = _without_lamp(seen, smooth, say)
        across = _without_lamp(np.broadcast_to(stripes, seen.shape), smooth, say)
        power = (say * across**2).sum(axis=(1, 2)) + 1e-12
        slope = (say * own * across).sum(axis=(1, 2)) / power
        left = np.abs(own - slope[:, None, None] * across)
        rest = (say * left**2).sum(axis=(1, 2))
        order = np.sort(np.where(hidden, 0.0, left).reshape(len(seen), -1), axis=1)
        usual = order[np.arange(len(seen)), -1 - 3 * shown // 2]  # what is hidden comes first
        # At a few places something else lies: the farther off they are the less they say.
        near = settings.near * usual[:, None, None] + 1e-6
        say = weight[..., None] / (1 + (left / near) ** 2)
    # Neighbouring places and the three colours err alike: about one in four tells on its own.
    free = np.maximum(shown - settings.lamp_degree - 2, 1) / 4
    error = np.sqrt(rest / 3 / free / power)
    error[shown < settings.least_places] = np.inf
    return slope, error


def _without_lamp(light: Floats, smooth: Floats, say: Floats) -> Floats:
    """Light (M, N, 3) without its smooth part along each line, fitted by the say of each place."""
    gram = np.einsum("mnc,ni,nj->mcij", say, smooth, smooth) + 1e-9 * np.eye(smooth.shape[1])
    sums = np.einsum("mnc,ni,mnc->mci", say, smooth, light)
    lamp = np.linalg.solve(gram, sums[..., None])[..., 0]
    return np.asarray(light - np.einsum("ni,mci->mnc", smooth, lamp))
