"""Is it a woven check or stripe at all? Other pictures lack what a warp and a weft must make.

Four tests, each from what weaving is:

- a stripe runs right across: averaged over a weave repeat, the light is a sum of what the column
  and what the row gives, so little is left over (bricks, motifs, patches of colour leave much);
- where two stripes cross, the colours mix: the square of yarns a and b lies between those of a and
  of b alone (a printed chequerboard or a printed grid has pure colours everywhere);
- every thread is like the next one of its colour: over the whole length of it, a thread of warp
  shows as much as its neighbour, so nothing repeats at half the pace of the threads along both
  axes (the legs of knitted stitches do);
- there are threads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from settscan.cloth.model import ColourSequence, SequenceKind
from settscan.doubts import Doubt, doubt
from settscan.errors import Refusal
from settscan.photo.flat import FlatCloth, Photo
from settscan.photo.sums import banded, counted, summed
from settscan.reading.model import AxisRead, BandSeen, ClothRead, RepeatRead, WeaveRead

Floats = NDArray[Any]
Mask = NDArray[np.bool_]

_MOST_CELLS = 450  # along a side: about a thread each in a photo of a whole cloth
_CELL = 3.0  # pixels: fine enough for the lines of a print
_REPEAT = 4  # threads that are averaged: no common weave repeats in more
_LEAST_BLOCKS = 24  # blocks along a side, lest the pattern itself is averaged away
_LEAST_PAIR = 16  # cells of a pair of colours, or its mean is chance
_LEAST_SHOWN = 0.1  # of the picture
_LEAST_READ = 0.3  # of a side: a cloth that does not fill the frame
_MOST_HIDDEN = 0.25  # of the picture: a hand, but not the squares of a print
_PLAIN = 0.04  # contrast over mean light below which there is one colour: yarn itself varies so
_SHARE_DOUBTED = 0.8  # of the variance; stripes with uneven light keep nine tenths
_SHARE_REFUSED = 0.5  # more is left over than is explained
# Squares of equal weight: a sum explains all of a weave, two thirds of lines that do not mix
# (0, 1, 1, 1) and nothing of a chequerboard (0, 1, 1, 0). Refused and doubted half way, each.
_MIXED_REFUSED = 5 / 6
_MIXED_DOUBTED = 11 / 12
_TWO_TONES = 0.9  # a sine has 0.81, an even spread of colours 0.75, two blurred ones 0.93 or more
_ONE_PATTERN = 0.6  # share of the rest that is one pattern across times one pattern down
# What a weave leaves over is chance; a product of two patterns is what crossing prints leave.
_PRODUCT = 0.9
_SHARE_OF_SUM = 0.98  # of the variance; beyond it the camera's tone curve may leave a product
_HALF_PACE = 100.0  # power over its surroundings; noise alone exceeds ten once in 20 000


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """What the tests measure.

    Attributes:
        contrast: standard deviation of the light over its mean, averaged over weave repeats.
        share: of its variance that columns plus rows explain, less what chance would.
        two_tones: share of the variance between cells that two colours alone explain.
        one_pattern: of the rest, the share that is one pattern across times one down.
        mixed: the share that a sum explains where each pair of colours counts once; None with
            fewer than two colours on an axis.
        half_pace: the weaker axis' wave at half the pace of the threads, power over noise.
        counted: whether threads were followed on either axis.
        woven: whether they were followed by the wave of a weave.
        one_way: whether stripes show on one axis only.
        one_coloured: whether one axis was read as of one yarn, and the other as of several.
    """

    contrast: float
    share: float
    two_tones: float
    one_pattern: float
    mixed: float | None
    half_pace: float
    counted: bool
    woven: bool
    one_way: bool
    one_coloured: bool = False


class NotCloth(Refusal):
    """The picture is of something else, or of a knit or a print; `doubt` names it."""

    def __init__(self, doubt: Doubt) -> None:
        super().__init__(doubt.sentence, doubt.check)
        self.doubt = doubt


@dataclass(frozen=True, slots=True)
class Verdict:
    """A doubt, and whether it is grave enough to refuse."""

    doubt: Doubt
    refuse: bool


def judged(
    photo: Photo,
    flat: FlatCloth,
    read: ClothRead,
    outlines: Sequence[Floats],
    *,
    named_weave: bool = False,
) -> ClothRead:
    """The reading, doubted where the picture hardly looks like a woven check or stripe.

    Args:
        photo: the photo, for its size.
        flat: the straightened picture.
        read: what was read of it.
        outlines: (N, 2) corners in photo pixels of rulers and the card.
        named_weave: whether somebody named the weave, and so says that this is woven.

    Raises:
        NotCloth: naming what it looks like instead.
    """
    looks = look_at(photo, flat, read, outlines)
    found = None if looks is None else verdict(looks)
    if found is None:
        return read
    if found.refuse and not named_weave:
        raise NotCloth(found.doubt)
    return replace(read, doubts=(found.doubt, *read.doubts))


def named(photo: Photo, flat: FlatCloth, outlines: Sequence[Floats]) -> NotCloth | None:
    """What a picture of which nothing could be read looks like; None if that is not clear."""
    nothing = ColourSequence(SequenceKind.PARTIAL, ())
    repeat = RepeatRead(
        kind=SequenceKind.PARTIAL, sequence=nothing, threads=None, members=(), chance=0.0
    )
    axis = AxisRead(
        bands=(), stripes=(), pitch_px=None, density=None, repeat=repeat, counted_by="nothing"
    )
    weave = WeaveRead(name="unknown", confidence=0.0)
    read = ClothRead(yarns=(), columns=axis, rows=axis, weave=weave, column_share=0.5)
    looks = look_at(photo, flat, read, outlines)
    found = None if looks is None else verdict(looks)
    return NotCloth(found.doubt) if found is not None and found.refuse else None


def verdict(looks: Looks) -> Verdict | None:
    """The gravest thing that speaks against a woven cloth."""
    reason, refuse = "", True
    if looks.share < _SHARE_DOUBTED and looks.contrast > _PLAIN:
        refuse = looks.share < _SHARE_REFUSED
        reason = "its colours do not lie in straight stripes that run right across"
        if _pure(looks):
            refuse = True
            reason = "it has patches of pure colours and none where two mix, like a printed check"
    elif looks.mixed is not None and looks.mixed < _MIXED_DOUBTED:
        refuse = looks.mixed < _MIXED_REFUSED
        reason = "where its stripes cross, the colours do not mix as those of threads do"
    elif looks.one_pattern > _PRODUCT and looks.share < _SHARE_OF_SUM:
        refuse = False
        reason = "where its stripes cross, the colours do not mix as those of threads do"
    elif looks.half_pace > _HALF_PACE:
        reason = "it repeats as knitted stitches do, not as threads that cross"
    elif not looks.woven and looks.contrast < _PLAIN:
        refuse = not looks.counted
        reason = f"it shows one even colour and {'hardly any' if looks.counted else 'no'} threads"
    elif not looks.woven and looks.one_way:
        refuse = not looks.counted
        few = "hardly any" if looks.counted else "no"
        reason = f"it shows stripes one way only and {few} threads"
    if not reason:
        return None
    return Verdict(doubt("not-cloth", reason=reason), refuse)


def _pure(looks: Looks) -> bool:
    """Whether squares of pure colours alone leave over what they do.

    A product of two patterns is left over by stripes that all waver alike as well, and by checks
    of few threads, whose squares hold but a part of a weave repeat. So it tells nothing of stripes
    that nothing crosses, nor of squares that mix.
    """
    if looks.mixed is None and looks.one_coloured and looks.share >= _SHARE_REFUSED:
        return False
    if looks.mixed is not None and looks.mixed >= _MIXED_REFUSED:
        return False
    return looks.one_pattern > _ONE_PATTERN or looks.two_tones > _TWO_TONES


def look_at(
    photo: Photo, flat: FlatCloth, read: ClothRead, outlines: Sequence[Floats]
) -> Looks | None:
    """What the tests measure; None where too little of the picture is left to judge by.

    The mask leaves out what does not look like stripes. That must not help a print, so that it
    is heeded only if it hides little, such as a finger or a stain.
    """
    x_cuts = _cuts(flat.pixels.shape[1], read.columns)
    y_cuts = _cuts(flat.pixels.shape[0], read.rows)
    light = _cell_means(flat.pixels, x_cuts, y_cuts)
    inside, masked = _shown(photo, flat, x_cuts, y_cuts, outlines)
    reached = np.outer(_reached(read.rows, y_cuts), _reached(read.columns, x_cuts))
    inside, masked = inside & reached, masked & reached
    if inside.mean() < _LEAST_SHOWN:
        return None
    cells = _Cells(light=light, x_cuts=x_cuts, y_cuts=y_cuts)
    looks = _measured(cells, inside.astype(float), flat, read)
    if masked.sum() > (1 - _MOST_HIDDEN) * inside.sum():
        other = _measured(cells, masked.astype(float), flat, read)
        looks = max(looks, other, key=lambda found: found.share)
    return looks


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cells:
    """Mean light (h, w, 3) of cells, and their edges in pixels."""

    light: Floats
    x_cuts: NDArray[np.intp]
    y_cuts: NDArray[np.intp]


def _measured(cells: _Cells, weight: Floats, flat: FlatCloth, read: ClothRead) -> Looks:
    """All measures of the cells with a weight."""
    light, x_cuts, y_cuts = cells.light, cells.x_cuts, cells.y_cuts
    repeats = (_repeat(y_cuts, read.rows), _repeat(x_cuts, read.columns))
    blocks, block_weight = _blocks(light, weight, repeats)
    mean, across, down, rest = _sum_fit(blocks, block_weight)
    bright = max(float(mean.mean()), 1e-3)
    number = max(block_weight.sum(), 1.0)
    total = float((((blocks - mean) ** 2).sum(axis=2) * block_weight).sum() / number)
    free = max(number - sum(blocks.shape[:2]) + 1, 1.0)
    left = float(((rest**2).sum(axis=2) * block_weight).sum() / free)
    spreads = [float(np.sqrt(np.mean((e**2).sum(axis=1)))) / bright for e in (across, down)]
    colours = [len({band.yarn for band in axis.bands}) for axis in (read.columns, read.rows)]
    counted_by = (read.columns.counted_by, read.rows.counted_by)
    return Looks(
        contrast=float(np.sqrt(total)) / bright,
        share=1 - left / max(total, 1e-12),
        two_tones=_two_tones(light[weight > 0]),
        one_pattern=_one_pattern(rest * block_weight[:, :, None]),
        mixed=_mixed(light, weight, read, x_cuts, y_cuts),
        half_pace=_half_paces(flat, read),
        counted="ripple" in counted_by or "weave" in counted_by,
        woven="weave" in counted_by,
        one_way=min(spreads) < _PLAIN < max(spreads),
        one_coloured=min(colours) == 1 < max(colours),
    )


def _cuts(length: int, axis: AxisRead) -> NDArray[np.intp]:
    """Edges of cells of a few pixels and no more than a thread, whole pixels."""
    cell = _CELL if axis.pitch_px is None else min(_CELL, float(axis.pitch_px.value))
    number = round(length / max(cell, length / _MOST_CELLS, 1.0))
    return np.linspace(0, length, max(number, 2) + 1).astype(np.intp)


def _repeat(cuts: NDArray[np.intp], axis: AxisRead) -> int:
    """Cells in a weave repeat."""
    pitch = _CELL if axis.pitch_px is None else float(axis.pitch_px.value)
    return max(2, round(_REPEAT * pitch * (len(cuts) - 1) / float(cuts[-1])))


def _cell_means(
    pixels: NDArray[np.float32], x_cuts: NDArray[np.intp], y_cuts: NDArray[np.intp]
) -> Floats:
    """(h, w, 3) mean light of each cell."""
    down, _ = banded(pixels, np.ones(pixels.shape[:2], bool), y_cuts)
    total = np.add.reduceat(down, x_cuts[:-1], axis=1, dtype=np.float64)
    area = np.outer(np.diff(y_cuts), np.diff(x_cuts))
    return np.asarray(total / area[:, :, None])


def _shown(
    photo: Photo,
    flat: FlatCloth,
    x_cuts: NDArray[np.intp],
    y_cuts: NDArray[np.intp],
    outlines: Sequence[Floats],
) -> tuple[Mask, Mask]:
    """(h, w) cells that lie within the photo and not under a ruler, and those of them unmasked."""
    x, y = (x_cuts[1:] + x_cuts[:-1] - 1) / 2, (y_cuts[1:] + y_cuts[:-1] - 1) / 2
    points = flat.photo_points(np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2))
    size = np.array([photo.width - 1, photo.height - 1])
    inside = ((points >= 1) & (points <= size - 1)).all(axis=1)
    for outline in outlines:
        inside &= ~_within(points, np.asarray(outline, dtype=float))
    inside = inside.reshape(len(y), len(x))
    return inside, inside & flat.mask[np.ix_(y.round().astype(int), x.round().astype(int))]


def _reached(axis: AxisRead, cuts: NDArray[np.intp]) -> Mask:
    """Cells (n,) between the first and the last band; all where these are but a small part."""
    middle = (cuts[1:] + cuts[:-1] - 1) / 2
    if not axis.bands:
        return np.ones(len(middle), dtype=bool)
    reached = (middle >= axis.bands[0].start_px) & (middle <= axis.bands[-1].end_px)
    return reached if reached.mean() > _LEAST_READ else np.ones(len(middle), dtype=bool)


def _within(points: Floats, outline: Floats) -> Mask:
    """Whether points lie in a convex outline, a tenth enlarged."""
    centre = outline.mean(axis=0)
    corners = centre + 1.1 * (outline - centre)
    sides = np.roll(corners, -1, axis=0) - corners
    away = points[:, None] - corners[None]
    turn = sides[None, :, 0] * away[:, :, 1] - sides[None, :, 1] * away[:, :, 0]
    return np.asarray((turn >= 0).all(axis=1) | (turn <= 0).all(axis=1))


def _blocks(light: Floats, weight: Floats, repeats: tuple[int, int]) -> tuple[Floats, Floats]:
    """Means over blocks of a weave repeat (cells down and across), and which are mostly shown."""
    starts = []
    for length, repeat in zip(weight.shape, repeats, strict=True):
        number = max(length // repeat, min(length, _LEAST_BLOCKS))
        starts.append(np.linspace(0, length, number + 1).astype(np.intp)[:-1])

    def summed(values: Floats) -> Floats:
        once = np.add.reduceat(values, starts[0], axis=0)
        return np.asarray(np.add.reduceat(once, starts[1], axis=1))

    seen = summed(weight)
    means = summed(light * weight[:, :, None]) / np.maximum(seen, 1e-9)[:, :, None]
    return means, (seen > 0.5 * summed(np.ones_like(weight))).astype(float)


def _sum_fit(
    values: Floats, weight: Floats, rounds: int = 20
) -> tuple[Floats, Floats, Floats, Floats]:
    """Mean (3,), effects of columns (w, 3) and rows (h, 3), and the rest (h, w, 3)."""
    mean = (values * weight[:, :, None]).sum(axis=(0, 1)) / max(weight.sum(), 1e-9)
    apart = (values - mean) * weight[:, :, None]
    per_column = np.maximum(weight.sum(axis=0), 1e-9)[:, None]
    per_row = np.maximum(weight.sum(axis=1), 1e-9)[:, None]
    sums = apart.sum(axis=0), apart.sum(axis=1)
    across, down = np.zeros_like(sums[0]), np.zeros_like(sums[1])
    for _ in range(rounds):
        across = (sums[0] - weight.T @ down) / per_column
        down = (sums[1] - weight @ across) / per_row
    return mean, across, down, (values - mean - across[None] - down[:, None])


def _two_tones(light: Floats) -> float:
    """Share of the variance of cells (N, 3) along their main colour that one threshold explains."""
    apart = light - light.mean(axis=0)
    main = np.linalg.eigh(apart.T @ apart)[1][:, -1]
    values = np.sort(apart @ main)
    n = len(values)
    low = np.cumsum(values)[:-1]
    count = np.arange(1, n)
    between = low**2 / count + low**2 / (n - count)  # the sum of all values is zero
    return float(between.max() / max(float((values**2).sum()), 1e-12))


def _one_pattern(rest: Floats) -> float:
    """Share of the rest's power in its strongest product of a pattern across and one down."""
    flat = np.concatenate([rest[:, :, c] for c in range(3)], axis=1)
    sizes = np.linalg.svd(flat, compute_uv=False) ** 2
    return float(sizes[0] / max(sizes.sum(), 1e-12))


def _mixed(
    light: Floats,
    weight: Floats,
    read: ClothRead,
    x_cuts: NDArray[np.intp],
    y_cuts: NDArray[np.intp],
) -> float | None:
    """Share of the variance between pairs of colours that a sum explains, each pair once."""
    along, down = _inside(read.columns.bands, x_cuts), _inside(read.rows.bands, y_cuts)
    if along.shape[1] < 2 or down.shape[1] < 2:
        return None
    seen = down.T @ weight @ along
    sums = np.einsum("yb,yxc,xa->bac", down, light * weight[:, :, None], along, optimize=True)
    known = (seen >= _LEAST_PAIR).astype(float)
    if (known.sum(axis=0) > 1).sum() < 2 or (known.sum(axis=1) > 1).sum() < 2:
        return None
    pairs = sums / np.maximum(seen, 1e-9)[:, :, None]
    mean, _, _, rest = _sum_fit(pairs, known)
    total = float((((pairs - mean) ** 2).sum(axis=2) * known).sum())
    if np.sqrt(total / known.sum()) < _PLAIN * float(mean.mean()):
        return None
    return 1 - float(((rest**2).sum(axis=2) * known).sum()) / max(total, 1e-12)


def _inside(bands: tuple[BandSeen, ...], cuts: NDArray[np.intp]) -> Floats:
    """(cells, yarns) one where a cell lies wholly within bands of a yarn."""
    keys = sorted({band.yarn for band in bands})
    found = np.zeros((len(cuts) - 1, len(keys)))
    edges = cuts - 0.5
    for band in bands:
        whole = (edges[:-1] >= band.start_px + 1) & (edges[1:] <= band.end_px - 1)
        found[whole, keys.index(band.yarn)] = 1.0
    return found


def _half_paces(flat: FlatCloth, read: ClothRead) -> float:
    """Power of either profile at half the pace of the threads over that beside it: the lesser.

    The threads of a hopsack lie in pairs, which have half the pace of threads: it tells nothing.
    """
    if "hopsack" in read.weave.name:
        return 0.0
    height, width = flat.mask.shape
    light = summed(flat.pixels, flat.mask, np.ones(width), np.ones(height))
    shown = [np.maximum(seen, 1) for seen in counted(flat.mask)]
    return min(
        _half_pace(light[k].sum(axis=1) / shown[k], axis)
        for k, axis in enumerate((read.columns, read.rows))
    )


def _half_pace(profile: Floats, axis: AxisRead) -> float:
    """The same for one profile (N,)."""
    if axis.pitch_px is None:
        return 0.0
    pitch = float(axis.pitch_px.value)
    ripple = np.zeros(len(profile))
    for band in axis.bands:  # relative to the stripe, so that colours do not count
        first, stop = int(np.ceil(band.start_px + pitch)), int(band.end_px - pitch)
        if stop - first > 4 * pitch:
            part = profile[max(first, 0) : stop]
            middle = float(np.median(part))
            if middle > 1e-3:
                ripple[max(first, 0) : stop] = part / middle - 1
    steps = np.concatenate([np.linspace(0.97, 1.03, 13), [0.75, 0.8, 0.85, 1.15, 1.2, 1.25]])
    at = np.arange(len(ripple))
    waves = np.exp(-1j * np.pi / pitch * steps[:, None] * at[None])
    power = np.abs(waves @ (ripple * np.hanning(len(ripple)))) ** 2
    return float(power[:13].max() / max(power[13:].mean(), 1e-12))
