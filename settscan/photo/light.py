"""Even light: what the lamp did is told from what the weaver did, and divided out.

In linear light a woven check is nearly the sum of a column part and a row part, and the lamp
multiplies it by a smooth field: pixel = field(x, y) (columns(x) + rows(y)). Where the field
varies with x and y together it shows as a smooth rest of that sum. Where it varies with x alone
it could hide in the columns; but it also makes the contrast of the rows grow and shrink along x,
and that is measured. Where there is no such contrast, nothing tells, and nothing is changed.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.field import normal_matrix, solved
from settscan.photo.flat import CardFound, FloatImage, Mask
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
        bent: (3,) what a product of the two adds to their sum: the camera's curve bends light.
    """

    coefficients: Array
    columns: Array
    rows: Array
    bent: Array

    def pattern(self) -> Array:
        """(h, w, 3) the cloth's light without the illumination."""
        return (
            self.columns[None] + self.rows[:, None] + _bending(self.columns, self.rows, self.bent)
        )

    def at(self, across: Array, down: Array) -> Array:
        """(len(down), len(across)) illumination at shares 0..1 of the width and height."""
        by = spline_basis(down, self.coefficients.shape[0])
        bx = spline_basis(across, self.coefficients.shape[1])
        return np.asarray(np.exp(by @ self.coefficients @ bx.T))

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
    height, width = weight.shape
    down, across = _middles(height), _middles(width)
    by, bx = spline_basis(down, s.spans + 3), spline_basis(across, s.spans + 3)
    joint = np.zeros((s.spans + 3, s.spans + 3))
    along_x, along_y = np.zeros(_ORDERS), np.zeros(_ORDERS)
    trust = weight
    columns, rows = np.zeros((width, 3)), np.zeros((height, 3))
    smooth, bent = np.zeros((height, width)), np.zeros(3)
    for _ in range(s.rounds):
        even = cells / np.exp(smooth)[..., None]
        columns, rows = additive_parts(even - _bending(columns, rows, bent), trust)
        bent = _bent(even, columns, rows, trust, s)
        bending = _bending(columns, rows, bent)
        pattern = np.maximum(columns[None] + rows[:, None] + bending, s.least_light)
        joint = _together(even, pattern, trust, by, bx, joint, s)
        moved = by @ joint @ bx.T + _trend(along_y, down)[:, None] + _trend(along_x, across)[None]
        left = even * np.exp(smooth - moved)[..., None] - bending
        flipped = (left - rows[:, None]).transpose(1, 0, 2)
        told_x = _contrast_trend(left - columns[None], rows, trust, across, along_x, s)
        told_y = _contrast_trend(flipped, columns, trust.T, down, along_y, s)
        # Where a ruler or the frame hides some stripes of one axis, the other's mean would step.
        only_x = left - rows[:, None]
        only_y = (left - (columns - columns.mean(axis=0))[None]).transpose(1, 0, 2)
        along_x = _recurring_trend(only_x, trust, across, along_x, told_x, s)
        along_y = _recurring_trend(only_y, trust.T, down, along_y, told_y, s)
        smooth = by @ joint @ bx.T + _trend(along_y, down)[:, None] + _trend(along_x, across)[None]
        trust = weight * _trust(cells / np.exp(smooth)[..., None], pattern)
    coefficients = joint + _spline_of(_trend(along_y, down), by)[:, None]
    coefficients = coefficients + _spline_of(_trend(along_x, across), bx)[None]
    level = (by @ coefficients @ bx.T * weight).sum() / max(weight.sum(), 1e-9)
    return LightField(coefficients=coefficients - level, columns=columns, rows=rows, bent=bent)


def _bending(columns: Array, rows: Array, bent: Array) -> Array:
    """(h, w, 3) what the product of column (w, 3) and row (h, 3) parts adds to their sum."""
    return np.asarray(bent * (columns - columns.mean(axis=0))[None] * rows[:, None])


def _bent(even: Array, columns: Array, rows: Array, weight: Array, s: LightSettings) -> Array:
    """(3,) how much of the product of both parts shows in a picture (h, w, 3).

    A curve bends a sum of two parts by their product, to the second order. A cloth of few stripes
    would else pass its bent squares for light that falls unevenly.
    """
    product = _bending(columns, rows, np.ones(3))
    rest = even - columns[None] - rows[:, None]
    light = np.maximum(columns.mean(axis=0) + rows.mean(axis=0), s.least_light)
    say = weight[..., None] / (s.cell_noise * light) ** 2 / s.alike_cells
    power = (say * product**2).sum(axis=(0, 1))
    # A curve of x to the power 1 + g bends by g over the light.
    return np.asarray((say * product * rest).sum(axis=(0, 1)) / (power + (light / s.curve) ** 2))


_ORDERS = 2  # slope and bend of a trend along one axis


def _trend(terms: Array, at: Array) -> Array:
    """Log illumination along an axis at shares 0..1: Legendre terms without the constant."""
    return np.asarray(np.polynomial.legendre.legval(2 * at - 1, np.r_[0.0, terms]))


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
    even = cells / field.at(_middles(width), _middles(height))[..., None]
    pattern = np.maximum(field.pattern(), 0.0)
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
    strange = (_beyond_kin(off, kinds, size > limit, weight > 0, s) > limit).astype(np.uint8)
    solid = cv2.morphologyEx(strange, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    solid = cv2.dilate(solid, np.ones(around, np.uint8))
    whole = (usable.shape[1], usable.shape[0])
    return np.asarray(cv2.resize(solid, whole, interpolation=cv2.INTER_NEAREST) > 0)


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
    for row in range(height):
        at = row / step[1]
        low = min(int(at), _NODES - 2)
        gain = by_column[low] * np.float32(low + 1 - at) + by_column[low + 1] * np.float32(at - low)
        pixels[row] *= gain.reshape(width, 3)


_NODES = 65  # places each way between which the illumination is interpolated; errs < 0.1 %


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


def _middles(count: int) -> Array:
    return (np.arange(count, dtype=np.float64) + 0.5) / count


def _together(
    even: Array,
    pattern: Array,
    weight: Array,
    by: Array,
    bx: Array,
    before: Array,
    s: LightSettings,
) -> Array:
    """Spline coefficients of the light that varies with x and y together, `before` improved."""
    power = (pattern**2).sum(axis=2)
    rest = ((even - pattern) * pattern).sum(axis=2) / power
    rest = np.clip(rest, -s.most_rest, s.most_rest) + by @ before @ bx.T
    # dark cloth tells little of the light
    say = weight * power / (power + np.median(power)) / s.cell_noise**2 / s.alike_cells
    pull = (by.T @ (say * rest) @ bx).ravel()
    terms = solved(normal_matrix(by, bx, say) + _stiffness(by.shape[1], s), pull)
    return np.asarray(terms.reshape(by.shape[1], bx.shape[1]))


def _stiffness(count: int, s: LightSettings) -> Array:
    """What bending of the log illumination costs, per knot."""
    one = np.eye(count)
    bend, lean = (np.diff(one, order, axis=0) for order in (2, 1))
    bend, lean = bend.T @ bend, lean.T @ lean
    total = np.kron(bend, one) + np.kron(one, bend) + 2 * np.kron(lean, lean)
    size = 1 / (s.bend * (10 / s.spans) ** 2) ** 2
    return np.asarray(total * size + np.eye(count * count) / s.most_log_light**2)


def _contrast_trend(
    rest: Array, marks: Array, weight: Array, at: Array, before: Array, s: LightSettings
) -> Array:
    """Legendre terms of the log gain along an axis, from how strong the other axis' marks are.

    Args:
        rest: (h, w, 3) light less the part of the threads along which the gain is sought.
        marks: (h, 3) the other axis' part.
        weight: (h, w).
        at: (w,) positions 0..1.
        before: terms already divided out.
        s: settings.
    """
    total = np.maximum(weight.sum(axis=0), 1e-9)
    mean_marks = np.einsum("hc,hw->wc", marks, weight) / total[:, None]
    mean_rest = np.einsum("hwc,hw->wc", rest, weight) / total[:, None]
    about = marks[:, None] - mean_marks[None]
    moved = rest - mean_rest[None]
    power = np.einsum("hwc,hwc,hw->w", about, about, weight)
    product = np.einsum("hwc,hwc,hw->w", about, moved, weight)
    if power.max() <= 0 or product.sum() <= 0:
        return before
    gain = product / np.maximum(power, 1e-12) * power.sum() / product.sum()
    wanted = np.clip(gain - 1, -1.0, 1.0) + _trend(before, at)
    basis = np.stack([_trend(unit, at) for unit in np.eye(_ORDERS)], axis=1)
    terms = before
    share = power / power.sum()
    for _ in range(_TREND_ROUNDS):
        off = wanted - basis @ terms
        spread = float((share * off**2).sum()) + s.least_gain_error**2
        trust = share / (1 + off**2 / (4 * spread)) ** 2
        # stripes of one colour err together, so only a handful of them are independent
        say = trust * s.independent_stripes / spread
        normal = basis.T @ (basis * say[:, None]) + np.diag(
            1 / np.array([s.gain_spread, s.bend_spread]) ** 2
        )
        terms = np.linalg.solve(normal, basis.T @ (say * wanted))
    return np.asarray(terms)


_TREND_ROUNDS = 4  # reweighted fits


def _recurring_trend(
    even: Array, weight: Array, at: Array, before: Array, told: Array, s: LightSettings
) -> Array:
    """Legendre terms of the log gain along an axis that make recurring stripes most alike.

    Every pair of stripes votes for the trends under which the two would have one colour. Pairs of
    one yarn agree on the true trend, other pairs on nothing. `told` is what the contrast says.
    """
    level, place, size = _plain_stripes(even, weight, at, s)
    if len(place) < 3:
        return told
    one, two = np.triu_indices(len(place), 1)
    ratio = (
        level[one] - level[two] + (_trend(before, place[one]) - _trend(before, place[two]))[:, None]
    )
    say = np.minimum(size[one], size[two])
    say = say / say.sum() * len(place)
    basis = np.stack([_trend(unit, place) for unit in np.eye(_ORDERS)], axis=1)
    gap = basis[one] - basis[two]
    best = told
    for step in s.trend_steps:  # coarse to fine about the best so far
        tries = np.stack(np.meshgrid(*[np.arange(-4, 5) * step] * 2), axis=2).reshape(-1, 2) + best
        off = ratio[None] - (tries @ gap.T)[..., None]
        alike = np.exp(-(off**2).sum(axis=2) / (2 * s.same_stripe**2))
        usual = np.array([s.gain_spread, s.bend_spread])
        against = (tries / usual) ** 2 + ((tries - told) / s.told_spread) ** 2
        best = tries[np.argmax(alike @ say * s.vote_weight - against.sum(axis=1) / 2)]
    return np.asarray(best)


def _plain_stripes(
    even: Array, weight: Array, at: Array, s: LightSettings
) -> tuple[Array, Array, Array]:
    """Log light (N, 3), place (N,) and width (N,) of the stretches of one colour along an axis."""
    total = np.maximum(weight.sum(axis=0), 1e-9)
    mean = np.einsum("hwc,hw->wc", even, weight) / total[:, None]
    level = np.log(np.maximum(mean, s.least_light))
    alive = weight.mean(axis=0) > 0.2
    steps = np.abs(np.diff(level, axis=0)).max(axis=1) > s.stripe_step
    starts = np.flatnonzero(np.r_[True, steps | (alive[1:] != alive[:-1])])
    ends = np.r_[starts[1:], len(at)]
    kept = [(a, b) for a, b in zip(starts, ends, strict=True) if b - a >= 2 and alive[a:b].all()]
    levels = np.array([np.median(level[a:b], axis=0) for a, b in kept]).reshape(-1, 3)
    places = np.array([at[a:b].mean() for a, b in kept])
    return levels, places, np.array([float(b - a) for a, b in kept])


def _spline_of(values: Array, basis: Array) -> Array:
    return np.asarray(np.linalg.lstsq(basis, values, rcond=1e-6)[0])


def _trust(even: Array, pattern: Array) -> Array:
    """Weights that leave out what is neither pattern nor light: stains, folds, strangers."""
    rest = np.abs(even - pattern).sum(axis=2) / pattern.sum(axis=2)
    spread = max(float(np.median(rest)), 1e-3) * 2.5
    return np.asarray(1 / (1 + (rest / spread) ** 2) ** 2)
