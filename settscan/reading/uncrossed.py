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
    thin = max(tile // 2, settings.least_px)
    down, across = _tiles(pixels, mask, tile, thin), _tiles(pixels, mask, thin, tile)
    turned = down[0].swapaxes(0, 1), down[1].T
    columns = _slopes_at_most(*turned, _means(effects[1], tile), settings)
    rows = _slopes_at_most(*across, _means(effects[0], tile), settings)
    height, width = mask.shape
    return (
        _as_pixels(_halves(columns, settings), thin, width),
        _as_pixels(_halves(rows, settings), thin, height),
    )


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


def _halves(at_most: Floats, settings: UncrossedSettings) -> Mask:
    """(M + 1,) True in halves of lines (M,), each of which begins a half after the last.

    Of a line in which stripes show a little a part may be cloth: what it has in common with
    another, or all of it if there is none.
    """
    none, plainly = at_most < settings.least_slope, at_most < settings.least_slope / 2
    edged = np.pad(none, 1)
    shared = edged[:-1] & edged[1:]
    whole = plainly | (none & ~edged[:-2] & ~edged[2:])
    return np.asarray(shared | np.pad(whole, (0, 1)) | np.pad(whole, (1, 0)))


def _as_pixels(halves: Mask, thin: int, length: int) -> Mask:
    """(length,) each as the half of a line that it lies in; what is left over is False."""
    wide = np.repeat(halves, thin)[:length]
    return np.pad(wide, (0, length - len(wide)))


def _in_twos(seen: Floats, share: Floats) -> tuple[Floats, Floats]:
    """Means (M - 1, N, 3) and shares (M - 1, N) of each two neighbouring lines together.

    So high is a line that each thread lies above the weft in it as often as below: in one pick
    those that are seen best may all lie beneath.
    """
    both = share[1:] + share[:-1]
    sums = seen[1:] * share[1:, :, None] + seen[:-1] * share[:-1, :, None]
    return sums / np.maximum(both, 1e-6)[..., None], both / 2


def _slopes_at_most(
    seen: Floats, share: Floats, stripes: Floats, settings: UncrossedSettings
) -> Floats:
    """(M - 1,) with which stripes (N, 3) show in each two of lines (M, N, 3), and a share shown."""
    few = len(stripes) < settings.least_places or len(seen) < 2
    if few or not _are_striped(seen, share, stripes, settings):
        return np.full(max(len(seen) - 1, 0), np.inf)
    seen, share = _in_twos(seen, share)
    weight = np.where(share > 0.5, share, 0.0)
    dimmed = _dimmed(seen, weight)
    told = _tells(weight, stripes, settings)
    slope, error = _slopes(seen, weight, stripes, 1, settings)
    odd = told & (slope < settings.suspect * dimmed)
    if odd.any():
        slope[odd], error[odd] = _slopes(seen[odd], weight[odd], stripes, settings.rounds, settings)
    at_most = np.where(told, slope / dimmed + settings.errors * error, np.inf)
    # No thing covers so much: this is no cloth, which is told elsewhere.
    return (
        np.full(len(at_most), np.inf)
        if np.mean(at_most < settings.least_slope) > settings.most
        else at_most
    )


def _are_striped(seen: Floats, share: Floats, stripes: Floats, settings: UncrossedSettings) -> bool:
    """Whether stripes (N, 3) stand out of the light of lines (M, N, 3) as those of yarns do.

    Where one yarn alone crosses, its threads come to a little: how much of it shows. In a line of
    the same yarn that changes nothing.
    """
    light = (seen * share[..., None]).sum(axis=(0, 1)) / max(float(share.sum()), 1e-6)
    spread = np.square(stripes - stripes.mean(axis=0)).sum(axis=1).mean()
    return bool(spread >= settings.least_marks**2 * np.square(light).sum())


def _dimmed(seen: Floats, weight: Floats) -> Floats:
    """(M,) light of each line over that of all, from 0.1 to 1.

    Light that is left over passes for stripes across, which show the less the darker a line is.
    """
    shown = weight.sum(axis=1)
    light = (weight * seen.sum(axis=2)).sum(axis=1)
    mean = light.sum() / max(float(shown.sum()), 1e-6)
    return np.asarray(np.clip(light / np.maximum(shown, 1e-6) / max(mean, 1e-6), 0.1, 1.0))


def _tells(weight: Floats, stripes: Floats, settings: UncrossedSettings) -> Mask:
    """(M,) whether enough of the stripes (N, 3) cross what shows of each line, by weight (M, N).

    A thread or two of great contrast may by chance lie beneath, wherever they cross the line.
    """
    say = np.repeat(weight[..., None], 3, axis=2)
    across = _without_lamp(
        np.broadcast_to(stripes, say.shape), _smooth(len(stripes), settings), say
    )
    each = (say * across**2).sum(axis=2)
    spread = (each.sum(axis=1) + 1e-12) ** 2 / ((each**2).sum(axis=1) + 1e-24)
    shown = (weight > 0).sum(axis=1)
    return np.asarray((shown >= settings.least_places) & (spread >= settings.least_telling))


def _smooth(places: int, settings: UncrossedSettings) -> Floats:
    """(N, K) polynomials along a line of so many places, of which a lamp's light is made up."""
    along = np.linspace(-1, 1, places)
    return np.asarray(np.polynomial.legendre.legvander(along, settings.lamp_degree))


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
    smooth = _smooth(len(stripes), settings)
    shown, hidden = (weight > 0).sum(axis=1), weight[..., None] <= 0
    say = np.repeat(weight[..., None], 3, axis=2)
    slope = usual = power = np.ones(len(seen))
    for _ in range(rounds):
        own = _without_lamp(seen, smooth, say)
        across = _without_lamp(np.broadcast_to(stripes, seen.shape), smooth, say)
        slope = (say * own * across).sum(axis=(1, 2)) / ((say * across**2).sum(axis=(1, 2)) + 1e-12)
        power = (weight[..., None] * across**2).sum(axis=(1, 2)) + 1e-12
        left = np.abs(own - slope[:, None, None] * across)
        order = np.sort(np.where(hidden, 0.0, left).reshape(len(seen), -1), axis=1)
        usual = order[np.arange(len(seen)), -1 - 3 * shown // 2]  # what is hidden comes first
        # At a few places something else lies: the farther off they are the less they say.
        near = settings.near * usual[:, None, None] + 1e-6
        say = weight[..., None] / (1 + (left / near) ** 2)
    # Neighbouring places and the three colours err alike: about one in four tells on its own.
    free = np.maximum(shown - settings.lamp_degree - 2, 1) / 4
    error = _SIGMAS * usual * np.sqrt(shown / free / power)
    return slope, error


_SIGMAS = 1.4826  # in the median of a normal variable's modulus, which a few far off do not sway


def _without_lamp(light: Floats, smooth: Floats, say: Floats) -> Floats:
    """Light (M, N, 3) without its smooth part along each line, fitted by the say of each place."""
    gram = np.einsum("mnc,ni,nj->mcij", say, smooth, smooth) + 1e-9 * np.eye(smooth.shape[1])
    sums = np.einsum("mnc,ni,mnc->mci", say, smooth, light)
    lamp = np.linalg.solve(gram, sums[..., None])[..., 0]
    return np.asarray(light - np.einsum("ni,mci->mnc", smooth, lamp))
