"""The additive model: in linear light, pixel = column effect + row effect + weave residual.

In linear light a woven check averages to k W(x) + (1-k) F(y): what the column threads give plus
what the row threads give. This module separates the two by alternating masked means; what is
left over, the residual, holds the weave itself, from which the threads are counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.errors import Refusal
from settscan.photo.sums import (
    by_strips,
    counted,
    masked,
    masked_tiles,
    outer_sum,
    tiled,
)
from settscan.reading.effects import alternate
from settscan.reading.gain import light_left
from settscan.reading.runs import runs
from settscan.reading.uncrossed import uncrossed
from settscan.settings import SEPARATE, SeparateSettings

Floats = NDArray[Any]
FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Additive:
    """The separated picture, cropped to the box of columns and rows that can be read.

    Attributes:
        columns: (W, 3) column effect, linear light; together with `rows` it sums to the picture.
        rows: (H, 3) row effect, linear light, with mean zero over the rows.
        residual: (H, W, 3) what the sum does not explain; zero outside the mask.
        mask: (H, W) True where the residual may be trusted.
        x0, y0: position of the box in the flat picture, pixels.
        blind_columns, blind_rows: (W,), (H,) True where too little cloth shows; the effect there
            is that of the nearest measured ones.
        noise_columns, noise_rows: (3,) standard error of one element of the two effects.
        steady_columns, steady_rows: (W,), (H,) weights of columns in the rows' means and of rows
            in the columns'.
    """

    columns: Floats
    rows: Floats
    residual: FloatImage
    mask: Mask
    x0: int
    y0: int
    blind_columns: Mask
    blind_rows: Mask
    noise_columns: Floats
    noise_rows: Floats
    steady_columns: Floats
    steady_rows: Floats

    def shown(self) -> tuple[Floats, Floats]:
        """(W,), (H,) pixels of which each effect is the mean; 0 where it is that of others."""
        down, across = self.mask.sum(axis=0), self.mask.sum(axis=1)
        return np.where(self.blind_columns, 0.0, down), np.where(self.blind_rows, 0.0, across)


@dataclass(frozen=True, slots=True, kw_only=True)
class Readable:
    """The box of columns and rows that can be read, and a first fit within it.

    Attributes:
        mask: (H, W) of the box, True where there is cloth.
        x0, y0: position of the box in the flat picture, pixels.
        columns, rows: (W, 3), (H, 3) effects, see `Additive`.
        patch_px: side of the patches that were judged, None if none were.
    """

    mask: Mask
    x0: int
    y0: int
    columns: Floats
    rows: Floats
    patch_px: int | None

    def of(self, pixels: FloatImage) -> FloatImage:
        """The box of the flat picture, as a view."""
        height, width = self.mask.shape
        return pixels[self.y0 : self.y0 + height, self.x0 : self.x0 + width]


def separate(
    pixels: FloatImage,
    mask: Mask,
    *,
    patch_px: int | None = None,
    settings: SeparateSettings = SEPARATE,
) -> Additive:
    """Fit column and row effects to a flat picture.

    Args:
        pixels: (H, W, 3) linear light.
        mask: (H, W) True where there is cloth.
        patch_px: see `readable`.
        settings: see `SeparateSettings`.

    Raises:
        Refusal: if too little cloth remains.
    """
    return separated(pixels, readable(pixels, mask, patch_px=patch_px, settings=settings), settings)


def readable(
    pixels: FloatImage,
    mask: Mask,
    *,
    patch_px: int | None = None,
    settings: SeparateSettings = SEPARATE,
) -> Readable:
    """The part of a flat picture that can be read.

    Patches that no column and row effect can explain (a finger, the end of a ruler, fringe) are
    found by their mean residual, in which the weave cancels, and left out of a second fit.

    Args:
        pixels: (H, W, 3) linear light.
        mask: (H, W) True where there is cloth.
        patch_px: side of the patches that are judged, one repeat of the weave, in which the
            weave cancels; None if that is not known: then nothing is left out.
        settings: see `SeparateSettings`.

    Raises:
        Refusal: if too little cloth remains.
    """
    box = _readable_box(mask, settings.least_cover)
    columns, rows = alternate(_inside(pixels, box), _inside(mask, box), settings.rounds)
    mask = mask.copy()
    for _ in range(settings.cleanings if patch_px else 0):
        size = max(int(patch_px or 0), settings.least_patch_px)
        inner = _inside(mask, box)
        foreign = _foreign(_inside(pixels, box), inner, columns, rows, size, settings)
        if not foreign.any():
            break
        inner[foreign] = False
        box = _readable_box(mask, settings.least_cover)
        columns, rows = alternate(_inside(pixels, box), _inside(mask, box), settings.rounds)
    return Readable(
        mask=_inside(mask, box),
        x0=box[0],
        y0=box[2],
        columns=columns,
        rows=rows,
        patch_px=patch_px,
    )


def separated(
    pixels: FloatImage,
    cloth: Readable,
    settings: SeparateSettings = SEPARATE,
    *,
    spoil: bool = False,
) -> Additive:
    """The effects of the readable part, lines weighed by how little the weave stands out there.

    Args:
        pixels: (H, W, 3) linear light.
        cloth: its readable part.
        settings: see `SeparateSettings`.
        spoil: whether the picture is wanted no more, so that the residual may take its place.
    """
    mask, pixels = cloth.mask, cloth.of(pixels)
    height, width = mask.shape
    seen = counted(mask)
    weights = _steadiness(pixels, cloth, seen, settings)
    columns, rows = alternate(pixels, mask, settings.rounds, *weights)
    blind = cloth.patch_px or settings.blind_px
    blind_columns = seen[0] < min(blind, settings.blind_cover * height)
    blind_rows = seen[1] < min(blind, settings.blind_cover * width)
    columns = _bridged(columns, blind_columns, seen[0])
    rows = _bridged(rows, blind_rows, seen[1])
    residual = left_over(pixels, mask, columns, rows, out=pixels if spoil else None)
    spread = np.sqrt(np.mean(residual[::4, ::4].astype(np.float64) ** 2, axis=(0, 1)))
    return Additive(
        columns=columns,
        rows=rows,
        residual=residual,
        mask=mask,
        x0=cloth.x0,
        y0=cloth.y0,
        blind_columns=blind_columns,
        blind_rows=blind_rows,
        noise_columns=spread / np.sqrt(max(height, 1)),
        noise_rows=spread / np.sqrt(max(width, 1)),
        steady_columns=weights[0],
        steady_rows=weights[1],
    )


def _bridged(effect: Floats, blind: Mask, seen: Floats, look: int = 8) -> Floats:
    """An effect (N, 3) whose blind runs go on level from both sides and meet in the middle.

    So a run within one stripe makes no new one, and an edge hidden in a run is put in its middle.
    Close to a run little is `seen` (N, pixels) of the cloth as well, and has as little say.
    """
    if not blind.any() or blind.all():
        return effect
    bridged = effect.copy()
    for start, stop in runs(blind):
        before, after = slice(max(start - look, 0), start), slice(stop, stop + look)
        middle = (start + stop) // 2
        middle = stop if stop == len(effect) else start if start == 0 else middle
        if start:
            bridged[start:middle] = np.average(effect[before], axis=0, weights=seen[before])
        if stop < len(effect):
            bridged[middle:stop] = np.average(effect[after], axis=0, weights=seen[after])
    return bridged


def _inside(image: NDArray[Any], box: tuple[int, int, int, int]) -> NDArray[Any]:
    """The part of an image within (x0, x1, y0, y1), as a view."""
    x0, x1, y0, y1 = box
    return image[y0:y1, x0:x1]


def left_over(
    pixels: FloatImage, mask: Mask, columns: Floats, rows: Floats, out: FloatImage | None = None
) -> FloatImage:
    """(H, W, 3) the picture without column (W, 3) and row (H, 3) effects; 0 outside the mask.

    It is written into `out`, which may be the picture itself.
    """
    left = np.empty(pixels.shape, np.float32) if out is None else out

    def fill(strip: slice) -> None:
        left[strip] = _left_in(strip, pixels, mask, columns, rows)

    by_strips(fill, len(pixels))
    return left


def _left_in(
    strip: slice, pixels: FloatImage, mask: Mask, columns: Floats, rows: Floats
) -> FloatImage:
    """What is left over in a strip of the rows."""
    way = outer_sum(columns, rows, strip)
    return masked(np.subtract(pixels[strip], way, out=way), mask[strip])


def _foreign(
    pixels: FloatImage,
    mask: Mask,
    columns: Floats,
    rows: Floats,
    size: int,
    settings: SeparateSettings,
) -> Mask:
    """(H, W) True in patches whose mean is far from the sum of the two effects."""
    height, width = (n // size * size for n in mask.shape)
    if height == 0 or width == 0:
        return np.zeros_like(mask)
    weight = np.maximum(tiled(mask.astype(np.float32), size), 1e-6)
    means = masked_tiles(pixels, mask, size) / weight[:, :, None]
    left = by_strips(
        lambda strip: tiled(_left_in(strip, pixels, mask, columns, rows), size), height, size
    )
    off = np.concatenate(left) / weight[:, :, None]
    light = np.maximum(means - off, 0.0)
    cloth = weight > 0.5
    mean = float(light.sum(axis=2)[cloth].mean()) if cloth.any() else 1.0
    share = 1 / np.maximum(light.sum(axis=2), settings.least_light * mean)
    ratio = np.abs(off).sum(axis=2) * share
    usual = float(np.median(ratio[cloth])) if cloth.any() else 0.0
    odd = ratio > max(settings.foreign_share, settings.foreign_times * usual)
    if odd[cloth].any():
        # Patches first: what they spoilt along their lines mends itself in the next fit.
        return _whole(_with_neighbours(odd), mask, size)
    # Fringe, or a tape laid across: no patch is far off, but many in the line are, be it those
    # of the tape or, where it covers most of the line, those beside it.
    limit = max(settings.foreign_line_share, settings.foreign_line_times * usual)
    lying, standing = (
        np.abs(_otherwise_lit(off, light, weight, axis, settings)).sum(axis=2) * share
        for axis in (1, 0)
    )
    odd |= (_upper(lying, weight, axis=1) > limit)[:, None]
    odd |= (_upper(standing, weight, axis=0) > limit)[None]
    strange = uncrossed(pixels, mask, (columns, rows), size)
    return np.asarray(_whole(odd, mask, size) | (mask & (strange[0] | strange[1][:, None])))


def _otherwise_lit(
    off: Floats, light: Floats, weight: Floats, axis: int, settings: SeparateSettings
) -> Floats:
    """What is off (M, N, 3) from the light that the sum gives, but for that of each line.

    At a fold a line is brighter or darker than its neighbours, by one factor all along, or by one
    that changes slowly where the fold runs aslant. What shows none of the stripes that cross it is
    no cloth, in whatever light: there no factor is alike from patch to patch.
    """
    part = weight[..., None] / np.maximum(weight.sum(axis=axis, keepdims=True), 1e-6)[..., None]
    across = light - (part * light).sum(axis=axis, keepdims=True)
    pull, power = (
        (part * other * across).sum(axis=(axis, 2), keepdims=True) for other in (off, across)
    )
    more = pull / np.maximum(power, 1e-12)
    off = off - np.where(np.abs(more) < settings.most_light, more, 0.0) * across
    say = weight / np.maximum(np.square(light).sum(axis=2), 1e-12)
    pull, power = (
        _with_next(say * (other * light).sum(axis=2), axis)[..., None] for other in (off, light)
    )
    slowly = pull / np.maximum(power, 1e-12)
    return np.asarray(off - np.where(np.abs(slowly) < settings.most_light, slowly, 0.0) * light)


def _with_next(values: Floats, axis: int) -> Floats:
    """Values (M, N) plus those of both neighbours along an axis."""
    moved = np.moveaxis(values, axis, 0)
    wide = np.pad(moved, ((1, 1), (0, 0)))
    return np.moveaxis(wide[:-2] + moved + wide[2:], 0, axis)


def _whole(odd: Mask, mask: Mask, size: int) -> Mask:
    """Patches as pixels (H, W), within the mask."""
    foreign = np.zeros_like(mask)
    down, across = odd.shape
    foreign[: down * size, : across * size] = np.kron(odd, np.ones((size, size), dtype=bool))
    return foreign & mask


def _with_neighbours(odd: Mask) -> Mask:
    """The eight patches around each odd one are likely to hold a part of it."""
    wide = np.pad(odd, 1)
    rows = wide[:-2] | wide[1:-1] | wide[2:]
    return np.asarray(rows[:, :-2] | rows[:, 1:-1] | rows[:, 2:])


def _upper(values: Floats, weight: Floats, axis: int) -> Floats:
    """Upper quartiles along an axis over the patches that are mostly cloth; 0 where none is."""
    cloth = np.where(weight < 0.5, np.nan, values)
    none = np.isnan(cloth).all(axis=axis)
    cloth = np.where(np.expand_dims(none, axis), 0.0, cloth)
    return np.asarray(np.nanquantile(cloth, 0.75, axis=axis))


def evened(pixels: FloatImage, cloth: Readable, *, spoil: bool = False) -> FloatImage | None:
    """The picture (H, W, 3) with the light that is left along either axis divided out.

    The factors hold within the readable box and go on level beyond it.

    Args:
        pixels: (H, W, 3) linear light.
        cloth: its readable part.
        spoil: whether the picture is wanted no more, so that the result may take its place.

    Returns:
        None where no light is left.
    """
    height, width = cloth.mask.shape
    along_x, along_y = light_left(cloth.of(pixels), cloth.mask)
    if np.ptp(along_x) < 1e-3 and np.ptp(along_y) < 1e-3:
        return None
    beyond_x = (cloth.x0, pixels.shape[1] - cloth.x0 - width)
    beyond_y = (cloth.y0, pixels.shape[0] - cloth.y0 - height)
    wide_x = np.pad(along_x, beyond_x, mode="edge").astype(np.float32)
    wide_y = np.pad(along_y, beyond_y, mode="edge").astype(np.float32)
    even = pixels if spoil else np.empty(pixels.shape, np.float32)
    across = np.repeat(1 / wide_x, 3)

    def divide(strip: slice) -> None:
        gain = (1 / wide_y[strip, None]) * across
        np.multiply(pixels[strip], gain.reshape(even[strip].shape), out=even[strip])

    by_strips(divide, len(pixels))
    return even


def _readable_box(mask: Mask, least_cover: float) -> tuple[int, int, int, int]:
    """(x0, x1, y0, y1) of the columns and rows that hold enough cloth."""
    box = [0, mask.shape[1], 0, mask.shape[0]]
    for _ in range(3):
        inner = mask[box[2] : box[3], box[0] : box[1]]
        across = np.flatnonzero(counted(inner)[0] / len(inner) >= least_cover)
        if len(across) == 0:
            raise _too_little()
        box[0], box[1] = box[0] + int(across[0]), box[0] + int(across[-1]) + 1
        inner = mask[box[2] : box[3], box[0] : box[1]]
        down = np.flatnonzero(counted(inner)[1] / inner.shape[1] >= least_cover)
        if len(down) == 0:
            raise _too_little()
        box[2], box[3] = box[2] + int(down[0]), box[2] + int(down[-1]) + 1
    if box[1] - box[0] < 32 or box[3] - box[2] < 32:
        raise _too_little()
    return box[0], box[1], box[2], box[3]


def _too_little() -> Refusal:
    return Refusal(
        "Too little of the picture is cloth that can be read.",
        "Fill the frame with the cloth, keep the ruler to one side, and photograph again.",
    )


def _steadiness(
    pixels: FloatImage, cloth: Readable, seen: tuple[Floats, Floats], settings: SeparateSettings
) -> tuple[Floats, Floats]:
    """Weights (W,) and (H,) of columns and rows: the less the weave stands out there, the more.

    A white stripe among dark ones shows each crossing thread as white or not at all. A few such
    stripes that lie alike in the weave would lend a row more white or less, as a stripe would.
    """
    height = len(cloth.mask)
    total_y = np.zeros(height)
    ones = np.ones(height, np.float32)

    def added(strip: slice) -> Floats:
        left = _left_in(strip, pixels, cloth.mask, cloth.columns, cloth.rows)
        power = cv2.transform(np.square(left, out=left), np.ones((1, 3), np.float32))
        total_y[strip] = power.sum(axis=1)
        return np.asarray(ones[: len(power)] @ power)

    total_x = np.add.reduce(by_strips(added, height), axis=0, dtype=np.float64)

    def weights(total: Floats, shown: Floats) -> Floats:
        shown = shown.astype(np.float64)
        kernel = np.ones(max(1, min(cloth.patch_px or settings.least_patch_px, len(total))))
        spread = np.convolve(total, kernel, "same")
        power = spread / np.maximum(np.convolve(shown, kernel, "same"), 1.0)
        usual = float(np.average(power, weights=np.maximum(shown, 1e-9)))
        say = 1.0 / np.maximum(power / max(usual, 1e-12), settings.steadiest)
        return np.asarray(say / say.mean())

    return weights(total_x, seen[0]), weights(total_y, seen[1])
