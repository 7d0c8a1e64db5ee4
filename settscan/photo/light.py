"""Even light: what the lamp did is told from what the weaver did, and divided out.

In linear light a woven check is nearly the sum of a column part and a row part, and the lamp
multiplies it by a smooth field: pixel = field(x, y) (columns(x) + rows(y)). Where the field
varies with x and y together it shows as a smooth rest of that sum. Where it varies with x alone
it could hide in the columns; but it also makes the contrast of the rows grow and shrink along x,
and that is measured. Where there is no such contrast, nothing tells, and nothing is changed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import CardFound, FloatImage, Mask
from settscan.photo.lamp import (
    Edges,
    Lamp,
    axes_of,
    edges_along,
    joint_light,
    middles,
    stepped,
    trend_along,
)
from settscan.photo.sums import by_strips
from settscan.photo.view import spline_basis
from settscan.settings import LIGHT, LightSettings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LightField:
    """The smooth illumination over a flat picture, 1 on average.

    Attributes:
        coefficients: (ky, kx) cubic B-splines of its logarithm over the whole picture.
        columns: (w, 3) linear light of the column threads' part, on the cells it was fitted on.
        rows: (h, 3) of the row threads' part.
        edges: of shadows along the threads, that step along x and along y.
    """

    coefficients: Array
    columns: Array
    rows: Array
    edges: Edges = ((), ())

    def at(self, across: Array, down: Array) -> Array:
        """(len(down), len(across)) illumination at shares 0..1 of the width and height."""
        by = spline_basis(down, self.coefficients.shape[0])
        bx = spline_basis(across, self.coefficients.shape[1])
        return np.asarray(np.exp(by @ self.coefficients @ bx.T + stepped(self.edges, across, down)))

    def spread(self) -> float:
        """The brightest over the dimmest part of the picture."""
        even = np.linspace(0.05, 0.95, 19)
        values = self.at(even, even)
        return float(values.max() / values.min())


def find_light(light: FloatImage, usable: Mask, s: LightSettings = LIGHT) -> LightField:
    """The illumination of a flat picture of woven cloth.

    Args:
        light: (H, W, 3) linear light; a reduced picture of 0.2 to 1 million pixels will do.
        usable: (H, W) True on cloth.
        s: settings.
    """
    cells, weight = _cells(light, usable, s.cell_px)
    lamp = Lamp.over(weight.shape[0], weight.shape[1], s)
    even, trust = cells, weight
    columns, rows = np.zeros((weight.shape[1], 3)), np.zeros((weight.shape[0], 3))
    for turn in range(s.rounds + s.more_rounds):
        if turn >= s.rounds and lamp.edges == ((), ()):
            break
        columns, rows = additive_parts(even, trust)
        pattern = np.maximum(columns[None] + rows[:, None], s.least_light)
        lamp = replace(lamp, joint=joint_light(even, pattern, trust, lamp, s))
        left = cells / np.exp(lamp.log())[..., None]
        axes = axes_of(left, columns, rows, trust, lamp)
        lamp = replace(lamp, trends=(trend_along(axes[0], s), trend_along(axes[1], s)))
        if turn:  # first what is smooth
            left = cells / np.exp(lamp.log())[..., None]
            axes = axes_of(left, columns, rows, trust, lamp)
            lamp = replace(lamp, edges=(edges_along(axes[0], s), edges_along(axes[1], s)))
        even = cells / np.exp(lamp.log())[..., None]
        trust = weight * _trust(even, pattern)
    level = (lamp.log() * weight).sum() / max(weight.sum(), 1e-9)
    return LightField(
        coefficients=lamp.spline() - level, columns=columns, rows=rows, edges=lamp.edges
    )


def additive_parts(light: Array, weight: Array) -> tuple[Array, Array]:
    """Column part (w, 3) and row part (h, 3) of a picture (h, w, 3), by weighted least squares."""
    total_x = np.maximum(weight.sum(axis=0), 1e-9)[:, None]
    total_y = np.maximum(weight.sum(axis=1), 1e-9)[:, None]
    rows = np.zeros((light.shape[0], 3))
    columns = np.zeros((light.shape[1], 3))
    for _ in range(_SWEEPS):
        columns = np.einsum("yxc,yx->xc", light - rows[:, None], weight) / total_x
        rows = np.einsum("yxc,yx->yc", light - columns[None], weight) / total_y
        rows -= (rows * total_y).sum(axis=0) / total_y.sum()
    return columns, rows


_SWEEPS = 6  # alternating fits; two suffice without a mask


def strangers(light: FloatImage, usable: Mask, field: LightField, s: LightSettings = LIGHT) -> Mask:
    """Where a flat picture is neither the cloth's pattern nor its light: (H, W), True there.

    Stains, folds, a hand, a ruler that nobody found, the table at a crooked edge.
    """
    cells, weight = _cells(light, usable, s.cell_px)
    height, width = weight.shape
    even = cells / field.at(middles(width), middles(height))[..., None]
    pattern = np.maximum(field.columns[None] + field.rows[:, None], 0.0)
    shown = (weight > 0).astype(np.float64)[..., None]
    # Dark threads beside bright ones are seen with the errors of the bright: halo, glare, blur.
    mean = (pattern * shown).sum(axis=(0, 1)) / max(float(shown.sum()), 1.0)
    floor = np.maximum(s.least_light * 2, s.strange_light * mean)
    # Means first: over some cells the weave itself cancels, and a stranger does not.
    around = (s.strange_cells, s.strange_cells)
    seen, model = (cv2.blur(part * shown, around) for part in (even, pattern))
    # A stripe that lies a little beside where it should is no stranger.
    beside = np.ones((3, 3), np.uint8)
    nearest = np.clip(seen, cv2.erode(model, beside), cv2.dilate(model, beside))
    off = np.log((seen + floor) / (nearest + floor)) * shown
    size = np.abs(off).max(axis=2)
    usual = float(np.median(size[weight > 0])) if (weight > 0).any() else 1.0
    limit = max(s.least_strange, s.strange_times * usual)
    crossing = np.broadcast_arrays(field.columns[None], field.rows[:, None])
    kinds = np.log(np.maximum(np.dstack([*crossing, model]), 0.0) + floor.mean())
    beyond = _beyond_kin(off, kinds, size > s.rim * limit, weight > 0, s)
    hidden = _with_rim(beyond > limit, beyond > s.rim * limit, s)
    solid = cv2.dilate(hidden, np.ones(around, np.uint8))
    whole = (usable.shape[1], usable.shape[0])
    return np.asarray(cv2.resize(solid, whole, interpolation=cv2.INTER_NEAREST) > 0)


def _with_rim(strange: Mask, rim: Mask, s: LightSettings) -> NDArray[np.uint8]:
    """(h, w) 1 for what is strange in more than specks, and for the soft rim that it goes on in."""
    solid = _without_specks(strange)
    near = cv2.dilate(solid.astype(np.uint8), np.ones((2 * s.rim_cells + 1,) * 2, np.uint8)) > 0
    soft = _without_specks(rim | solid) & near
    _, label = cv2.connectedComponents(soft.astype(np.uint8))
    touching = np.unique(label[solid & soft])
    return (solid | np.isin(label, touching[touching > 0])).astype(np.uint8)


def _without_specks(mask: Mask) -> Mask:
    """(h, w) without what is less than three cells wide."""
    core = np.ones((3, 3), np.uint8)
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, core) > 0)


def _beyond_kin(off: Array, kinds: Array, odd: Mask, shown: Mask, s: LightSettings) -> Array:
    """(h, w) by how much odd cells are off more than crossings of the same two stripes elsewhere.

    Where all crossings of two stripes are off alike, the sum of light is at fault and no stranger.

    Args:
        off: (h, w, 3) log light beyond the pattern.
        kinds: (h, w, k) what the cells should look like.
        odd: (h, w) cells to be judged; the others are 0.
        shown: (h, w) cells that show cloth.
        s: settings.
    """
    from scipy.spatial import cKDTree

    beyond = np.zeros(odd.shape)
    places = np.argwhere(odd)
    all_shown = np.argwhere(shown)
    some = all_shown[:: max(1, len(all_shown) // s.kin_cells)]
    if not len(places) or not len(some):
        return beyond
    tree = cKDTree(kinds[tuple(some.T)])
    apart, which = tree.query(kinds[tuple(places.T)], k=min(s.kin, len(some)))
    which, apart = which.reshape(len(places), -1), apart.reshape(len(places), -1)
    away = np.abs(some[which] - places[:, None]).max(axis=2) > 2 * s.strange_cells
    alike = away & (apart < s.kin_apart)
    theirs = np.where(alike[..., None], off[tuple(some[which].transpose(2, 0, 1))], np.nan)
    enough = alike.sum(axis=1) >= s.least_kin
    own = off[odd]
    usual = np.zeros_like(own)
    usual[enough] = np.nanmedian(theirs[enough], axis=1)
    beyond[odd] = np.abs(own - usual).max(axis=1)
    return beyond


def even_out(pixels: FloatImage, field: LightField) -> None:
    """Divides the illumination out of a flat picture (H, W, 3), in place."""
    height, width = pixels.shape[:2]
    nodes_x = np.linspace(0, 1, _NODES)
    inverse = (1 / field.at(nodes_x, nodes_x)).astype(np.float32)
    step = (width - 1) / (_NODES - 1), (height - 1) / (_NODES - 1)
    x = np.arange(width, dtype=np.float32) / np.float32(step[0])
    column = np.minimum(x.astype(np.int32), _NODES - 2)
    part = x - column
    by_column = inverse[:, column] * (1 - part) + inverse[:, column + 1] * part
    by_column = np.repeat(by_column, 3, axis=1)

    def divide(strip: slice) -> None:
        for row in range(strip.start, strip.stop):
            at = row / step[1]
            low = min(int(at), _NODES - 2)
            gain = by_column[low] * np.float32(low + 1 - at)
            gain += by_column[low + 1] * np.float32(at - low)
            pixels[row] *= gain.reshape(width, 3)

    by_strips(divide, height)


_NODES = 257  # places each way between which the illumination is interpolated


def neutral_gains(card: CardFound) -> Array:
    """Red, green and blue factors that turn the card's greys into their reflectances."""
    seen = np.asarray(card.grey_linear, dtype=np.float64)
    known = np.asarray(card.grey_reflectance, dtype=np.float64)[:, None]
    return np.asarray((seen * known).sum(axis=0) / np.maximum((seen * seen).sum(axis=0), 1e-9))


def _cells(light: FloatImage, usable: Mask, size: int) -> tuple[Array, Array]:
    """Mean light (h, w, 3) of cells of `size` pixels and the share of each that is usable."""
    height, width = usable.shape
    cells = (max(4, width // size), max(4, height // size))
    weight = usable.astype(np.float32)
    share = np.asarray(cv2.resize(weight, cells, interpolation=cv2.INTER_AREA), np.float64)
    total = cv2.resize(light * weight[..., None], cells, interpolation=cv2.INTER_AREA)
    mean = np.asarray(total, np.float64) / np.maximum(share, 1e-6)[..., None]
    return mean, np.where(share > 0.5, share, 0.0)


def _trust(even: Array, pattern: Array) -> Array:
    """Weights that leave out what is neither pattern nor light: stains, folds, strangers."""
    rest = np.abs(even - pattern).sum(axis=2) / pattern.sum(axis=2)
    spread = max(float(np.median(rest)), 1e-3) * 2.5
    return np.asarray(1 / (1 + (rest / spread) ** 2) ** 2)
