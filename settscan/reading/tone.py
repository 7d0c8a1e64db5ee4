"""The camera's tone curve, found by what it spoils: the sum of warp and weft.

Cameras bend the scale of light to please the eye, more than the file says. Bent light does not
add up: where a dark and a bright yarn cross, the square is not halfway between the two. So the
curve under which columns and rows explain most of the picture is the camera's own, and the
picture is bent back by it. Cloth that varies along one axis only tells nothing, and nothing is
changed.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.sums import by_strips, masked, tiled
from settscan.reading.colours import encode
from settscan.settings import TONE, ToneSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]

_STEPS = 2048  # entries of the table by which a picture is bent
_MOST = 2.0  # linear light of the last entry; little in a photo is brighter


def find_tone(
    pixels: FloatImage, mask: Mask, patch_px: int, settings: ToneSettings = TONE
) -> tuple[float, float]:
    """The two terms of the curve that makes the picture a sum; zeros where nothing tells.

    The curve is x -> x (1 + p (1 - s) + q (1 - s)^2), with s the sRGB-encoded x: black and white
    stay where they are, and what lies between is lifted or lowered.

    Args:
        pixels: (H, W, 3) linear light, evenly lit.
        mask: (H, W) True where there is cloth.
        patch_px: side of the patches whose means are added up: a repeat of the weave, or more.
        settings: see `ToneSettings`.
    """
    height, width = (n // patch_px for n in mask.shape)
    if min(height, width) < settings.least_patches:
        return 0.0, 0.0
    height, width = height * patch_px, width * patch_px
    weight = tiled(mask[:height, :width].astype(np.float32), patch_px).astype(np.float64)
    # Light that the camera cut off adds up no more, and no curve brings it back.
    cut = _cut(pixels[:height, :width], patch_px, settings)
    whole = (weight > settings.least_cover) & (cut < settings.most_cut)
    weight = np.where(whole, weight, 0.0)
    if weight.sum() < settings.least_patches**2:
        return 0.0, 0.0
    known = np.maximum(weight, settings.least_cover)[..., None]
    parts = [m / known for m in _means(pixels[:height, :width], mask[:height, :width], patch_px)]
    centred = [m - np.average(m, axis=(0, 1), weights=weight) for m in parts]
    left = [_rest(m, weight) for m in centred]
    return _best(_products(centred, weight), _products(left, weight), settings)


def _cut(pixels: FloatImage, size: int, settings: ToneSettings) -> Floats:
    """(h, w) share of each patch in which a channel is brighter than cameras tell."""
    most = (settings.bright,) * 3
    within = by_strips(
        lambda s: tiled(cv2.inRange(pixels[s], (-np.inf,) * 3, most).astype(np.float32), size),
        len(pixels),
        size,
    )
    return 1 - np.vstack(within) / 255.0


def _means(pixels: FloatImage, mask: Mask, size: int) -> list[Floats]:
    """Patch means (h, w, 3) of the light in the mask and of what each term adds to it."""
    light = np.linspace(0, _MOST, _STEPS)
    room = (1 - encode(light)).astype(np.float32)

    def terms(strip: slice) -> list[Floats]:
        shown = masked(pixels[strip], mask[strip])
        # Where nothing is shown there is no light, whatever room it leaves.
        left = room.take(_entries(shown))
        found = [tiled(shown, size)]
        for _ in range(2):
            shown *= left
            found.append(tiled(shown, size))
        return found

    every = zip(*by_strips(terms, len(pixels), size), strict=True)
    return [np.concatenate(term).astype(np.float64) for term in every]


def bent(pixels: FloatImage, terms: tuple[float, float]) -> FloatImage:
    """The picture (H, W, 3) bent back by the curve of these terms."""
    if terms == (0.0, 0.0):
        return pixels
    at = np.linspace(0, _MOST, _STEPS)
    gain = 1 + terms[0] * (1 - encode(at)) + terms[1] * (1 - encode(at)) ** 2
    # How bright the whole is cannot be told: middle grey stays as it is, as cameras mean it to.
    gain /= 1 + terms[0] / 2 + terms[1] / 4
    table = gain.astype(np.float32)
    straight = np.empty(pixels.shape, np.float32)

    def bend(strip: slice) -> None:
        np.multiply(pixels[strip], table.take(_entries(pixels[strip])), out=straight[strip])

    by_strips(bend, len(pixels))
    return straight


def _entries(pixels: FloatImage) -> NDArray[np.int16]:
    scaled = pixels * np.float32((_STEPS - 1) / _MOST)
    scaled += np.float32(0.5)
    return np.asarray(np.clip(scaled, 0, _STEPS - 1, out=scaled), dtype=np.int16)


def _rest(mean: Floats, weight: Floats, rounds: int = 4) -> Floats:
    """What columns and rows do not explain of patch means (h, w, 3), by alternating means."""
    left = mean
    for _ in range(rounds):
        for axis in (0, 1):
            total = np.maximum(weight.sum(axis=axis, keepdims=True), 1e-9)[..., None]
            left = left - (left * weight[..., None]).sum(axis=axis, keepdims=True) / total
    return left


def _products(parts: list[Floats], weight: Floats) -> Floats:
    """(3, 3) sums of products of the parts over patches and channels."""
    flat = np.stack([(p * np.sqrt(weight)[..., None]).ravel() for p in parts])
    return np.asarray(flat @ flat.T)


def _best(whole: Floats, left: Floats, settings: ToneSettings) -> tuple[float, float]:
    """The terms under which the least share of the variation is left over, as the prior allows.

    A wide grid, then two finer ones about the best.
    """
    at, reach = np.zeros(2), settings.reach
    spread = np.array([settings.spread, settings.spread])
    for _ in range(3):
        steps = np.linspace(-reach, reach, 9)
        tries = at + np.stack(np.meshgrid(steps, steps), axis=2).reshape(-1, 2)
        v = np.hstack([np.ones((len(tries), 1)), tries])
        share = np.einsum("ti,ij,tj->t", v, left, v) / np.maximum(
            np.einsum("ti,ij,tj->t", v, whole, v), 1e-12
        )
        share = np.maximum(share, settings.usual_rest)
        cost = settings.crossings * np.log(share) + ((tries / spread) ** 2).sum(axis=1)
        # A curve that falls anywhere is no camera's.
        cost[(1 + tries.sum(axis=1) < 0.2) | (tries[:, 0] > 1.0)] = np.inf
        at = tries[int(np.argmin(cost))]
        reach /= 4
    return float(at[0]), float(at[1])
