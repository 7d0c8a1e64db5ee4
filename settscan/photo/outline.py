"""Where the cloth is: first the rectangle that goes on being woven, then the spots that hide it.

Stripes run right across a cloth. In a strip along one family the other family's stripes lie at
the same places as in the strip beside it, as long as both are cloth; on a table, a floor or a
fringe they do not. So the cloth is the longest run of strips that agree with their neighbours,
found along both axes in turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.field import turned
from settscan.photo.flat import FloatImage, Mask
from settscan.photo.sums import banded
from settscan.settings import FlattenSettings

Array = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """A rectangle of a small flat picture: the ends are left out.

    Attributes:
        left, right: columns.
        top, bottom: rows.
        seen: whether each side (left, top, right, bottom) is an edge of the cloth that was seen.
    """

    left: int
    top: int
    right: int
    bottom: int
    seen: tuple[bool, bool, bool, bool]

    def mask(self, shape: tuple[int, ...]) -> Mask:
        """True inside, for a picture of this shape."""
        inside = np.zeros(shape[:2], dtype=bool)
        inside[self.top : self.bottom, self.left : self.right] = True
        return inside


def cloth_extent(picture: FloatImage, usable: Mask, s: FlattenSettings) -> Extent:
    """The rectangle in which strips agree with their neighbours, along both axes.

    Args:
        picture: (H, W, 3) small flat picture, square root of light.
        usable: (H, W) True where the photo shows something that may be cloth.
        s: settings.
    """
    height, width = usable.shape
    across, down = (0, width), (0, height)
    flipped = turned(picture), turned(usable)
    for _ in range(s.extent_rounds):
        part = np.s_[:, slice(*down)]
        across = _agreeing_run(flipped[0][part], flipped[1][part], s)
        rows = slice(*down)
        across = _with_what_goes_on(picture[rows], usable[rows], across, s)
        part = np.s_[:, slice(*across)]
        down = _agreeing_run(picture[part], usable[part], s)
        columns = slice(*across)
        down = _with_what_goes_on(flipped[0][columns], flipped[1][columns], down, s)
    seen = (across[0] > 0, down[0] > 0, across[1] < width, down[1] < height)
    return Extent(left=across[0], right=across[1], top=down[0], bottom=down[1], seen=seen)


def refined_extent(picture: FloatImage, usable: Mask, body: Extent, s: FlattenSettings) -> Extent:
    """The rectangle of cloth in a straightened picture that shows more than its sure part `body`.

    Narrow strips are compared with the mean of the body, so that an edge is found to a pixel or
    two, and cloth beyond a ruler or a hand still counts.
    """
    across, down = (body.left, body.right), (body.top, body.bottom)
    flipped = turned(picture), turned(usable)
    for _ in range(s.extent_rounds):
        part = np.s_[:, slice(*down)]
        left, right, *ends = _like_body(flipped[0][part], flipped[1][part], across, s)
        part = np.s_[:, left:right]
        top, bottom, *sides = _like_body(picture[part], usable[part], down, s)
        across, down = (left, right), (top, bottom)
    seen = (ends[0], sides[0], ends[1], sides[1])
    return Extent(left=left, right=right, top=top, bottom=bottom, seen=seen)


def fringe_of(
    picture: FloatImage,
    usable: Mask,
    extent: Extent,
    edges: tuple[bool, bool, bool, bool],
    s: FlattenSettings,
) -> tuple[int, int, int, int]:
    """How wide the fringe is at those sides of an extent that are the cloth's own edge, pixels.

    A fringe carries the warp's marks on from the cloth, but in strands that stray, the more the
    farther out: its strips are less like the body than nearly all strips of the body are like
    each other, the outer ones least. A border is unlike the body too, but evenly so.

    Args:
        picture: as for `refined_extent`.
        usable: as for `refined_extent`.
        extent: what was taken for cloth.
        edges: which sides (left, top, right, bottom) are an edge of the cloth.
        s: settings.
    """
    if not any(edges):
        return 0, 0, 0, 0
    part = np.s_[extent.top : extent.bottom, extent.left : extent.right]
    seen, shown = picture[part], usable[part]
    left, right = _strands(turned(seen), turned(shown), s)
    top, bottom = _strands(seen, shown, s)
    wide = [n if there else 0 for n, there in zip((left, top, right, bottom), edges, strict=True)]
    return wide[0], wide[1], wide[2], wide[3]


def _strands(picture: FloatImage, usable: Mask, s: FlattenSettings) -> tuple[int, int]:
    """How many rows at either end are less like the middle than its own are."""
    edges = np.arange(0, len(usable) + 1, s.fine_strip_px)
    marks, shown = _marks(picture, usable, edges, s.marks_blur_px)
    count = len(marks)
    most = int(s.most_fringe * count)
    inner = slice(most, count - most)
    mean, _ = _mean(marks[inner], shown[inner])
    unlike = 1 - _likeness(marks, shown > 0.5, mean, s.fine_slack_px)
    usual = float(np.quantile(unlike[inner], 0.9))
    strange = unlike > s.fringe_unlike * usual
    ends = []
    for way in (1, -1):
        same = np.flatnonzero(_without_specks(~strange[::way]))
        first = int(same[0]) if len(same) else 0
        outer, inner_half = np.array_split(unlike[::way][:first], 2)
        strays = len(inner_half) > 0 and outer.mean() > s.fringe_strays * inner_half.mean()
        ends.append(first * s.fine_strip_px if strays and first <= most else 0)
    return ends[0], ends[1]


def _like_body(
    picture: FloatImage, usable: Mask, body: tuple[int, int], s: FlattenSettings
) -> tuple[int, int, bool, bool]:
    """Rows [start, end) that carry the body's marks, and whether each end is an edge seen."""
    edges = np.arange(0, len(usable) + 1, s.fine_strip_px)
    marks, shown = _marks(picture, usable, edges, s.marks_blur_px)
    inner = slice(body[0] // s.fine_strip_px + 1, max(body[1] // s.fine_strip_px - 1, 2))
    mean, total = _mean(marks[inner], shown[inner])
    # What a ruler hides all along the body cannot be compared beyond the ruler's end.
    known = total > s.least_fine_shown * total.max()
    mean[~known] = 0.0
    alike = _likeness(marks, (shown > 0.5) & known, mean, s.fine_slack_px)
    share = shown.mean(axis=1)
    alive = share > s.least_fine_shown
    # A corner's few pixels prove nothing, nor does a part that no stripe crosses.
    crossed = (shown > 0.5) @ (mean**2).sum(axis=1)
    judged = share > s.least_judged * share.max()
    judged &= crossed > s.least_judged * crossed.max()
    usual = float(np.median(alike[inner][alive[inner]])) if alive[inner].any() else 0.0
    if usual < s.least_usual:
        first, last = _alive_ends(alive, (0, len(alive) - 1))
        return first * s.fine_strip_px, (last + 1) * s.fine_strip_px, False, False
    # the less of a strip shows, the more chance moves its correlation
    wanted = usual * (s.like_usual - s.like_slack * (1 - share / max(float(share.max()), 1e-6)))
    same = _without_specks(alive & (alike > wanted))
    beyond = np.where(judged, alike / usual, np.nan).astype(np.float32)
    ends, sides = [], []
    for way, start in ((-1, len(same) - 1 - inner.start), (1, inner.stop - 1)):
        last = _reach(same[::way], judged[::way], start, s)
        to = _alive_ends(alive[::way], (0, last))[1]
        seen = known & (shown[::way] > 0.5)
        rest = slice(last + 1, to + 1)
        if to > last and _goes_on(marks[::way], seen, mean, rest, wanted[::way], s):
            last = to
        ends.append(last)
        sides.append(_ends_there(beyond[::way][last + 2 :], s))
    first = len(same) - 1 - ends[0]
    return first * s.fine_strip_px, (ends[1] + 1) * s.fine_strip_px, sides[0], sides[1]


def _goes_on(
    marks: Array, seen: Mask, mean: Array, rest: slice, wanted: Array, s: FlattenSettings
) -> bool:
    """Whether all the `rest` of the strips, in blocks, carries the body's marks as it should.

    In a strip of less than a thread a bold weave can hide them; over some threads it cancels. A
    fringe carries half of them too, so that all must go on, up to the frame.
    """
    blocks = max(1, round((rest.stop - rest.start) / s.most_strange_strips))
    edges = np.linspace(rest.start, rest.stop, blocks + 1).round().astype(int)
    for part in (slice(a, b) for a, b in pairwise(edges)):
        one, count = _mean(marks[part], seen[part])
        alike = _likeness(one[None], (count > 0)[None], mean, s.fine_slack_px)
        few = 2 * len(seen[part]) < s.most_strange_strips
        if alike[0] < wanted[part].mean() * (s.most_like_table / s.like_usual if few else 1.0):
            return False
    return True


def _ends_there(beyond: Array, s: FlattenSettings) -> bool:
    """Whether the cloth ends before these strips, by their likeness to it (nan: not judged).

    Strips that are neither cloth nor unlike it, as in a fold or half under a ruler, do not tell.
    """
    told = beyond[~np.isnan(beyond)][: s.most_strange_strips]
    return len(told) > 0 and float(np.median(told)) < s.most_like_table


def _likeness(marks: Array, seen: Mask, mean: Array, slack: int) -> Array:
    """(S,) correlation of each strip's marks (S, H, 3) with the mean's (H, 3), the best of shifts.

    Where the picture is not quite straight yet, strips far from the body lie a little aside.
    """
    there = np.stack([np.roll(mean, shift, axis=0) for shift in range(-slack, slack + 1)])
    own = (marks * seen[..., None]).reshape(len(marks), -1)
    dot = own @ there.reshape(len(there), -1).T
    size = seen.astype(np.float32) @ (there**2).sum(axis=2).T
    size *= np.einsum("sk,sk->s", own, own)[:, None]
    return np.asarray(np.maximum(dot / np.sqrt(size + 1e-12), -1.0).max(axis=1))


def _alive_ends(alive: Mask, default: tuple[int, int]) -> tuple[int, int]:
    at = np.flatnonzero(alive)
    return (int(at[0]), int(at[-1])) if len(at) else default


def _without_specks(same: Mask) -> Mask:
    """Strips whose neighbours mostly agree with them: a majority of five."""
    votes = np.convolve(same.astype(int), np.ones(5, dtype=int), mode="same")
    return np.asarray(same & (votes >= 3))


def _reach(same: Mask, judged: Mask, start: int, s: FlattenSettings) -> int:
    """The last strip of cloth onwards from `start`: strips too hidden to judge are passed over.

    Beyond many strange strips, such as those of a ruler that is not masked, the cloth goes on only
    if several strips in a row carry its marks again, at their places.
    """
    last, strange, run = start, 0, 0
    for k in range(max(start, 0), len(same)):
        if not same[k]:
            run, strange = 0, strange + int(judged[k])
            continue
        run += 1
        if strange <= s.most_strange_strips or run >= s.least_resumed:
            last, strange = k, 0
    return last


def _agreeing_run(picture: FloatImage, usable: Mask, s: FlattenSettings) -> tuple[int, int]:
    """The rows [start, end) over which the marks along x stay the same."""
    height = len(usable)
    edges = _strip_edges(height, s)
    strips = len(edges) - 1
    marks, shown = _marks(picture, usable, edges, 1.5)
    alive = shown.mean(axis=1) > s.least_strip_shown
    seen = shown > 0.5
    alike = _correlation(marks[:-1], seen[:-1], marks[1:], seen[1:], 2) > s.least_agreement
    runs = _runs([*(alike & alive[:-1] & alive[1:])])
    if not runs or max(b - a for a, b in runs) < s.least_run * strips:
        return 0, height  # no marks along x to go by: stripes run one way only
    first, last = max(runs, key=lambda r: _weight(marks, shown, *r))
    body = _run_mean(marks, shown, first, last)
    for a, b in runs:  # parts beyond a hand, a ruler, a fold
        other = _run_mean(marks, shown, a, b)
        if _correlation(*body, *other, s.strip_slack_px)[0] > s.least_agreement:
            first, last = min(first, a), max(last, b)
    # One strip at the frame is too little to tell an end of the cloth.
    start = 0 if not alive[: max(first - 1, 0)].any() else int(edges[first])
    end = height if not alive[last + 2 :].any() else int(edges[last + 1])
    return start, end


def _with_what_goes_on(
    picture: FloatImage, usable: Mask, run: tuple[int, int], s: FlattenSettings
) -> tuple[int, int]:
    """The columns of a run, and those beside it in which stripes run on just as within it.

    Where no stripe crosses, it is uneven threads and gaps that make strips agree, and where these
    are lost in a bold stripe the cloth has no end: the stripes beside it run as far as its own.
    """
    height, width = usable.shape
    if run == (0, width):
        return run
    marks, shown = _marks(picture, usable, _strip_edges(height, s), 1.5)
    seen = shown > 0.5
    within = np.s_[:, slice(*run)]
    own = _stripes(marks[within], seen[within], s)
    part = turned(picture[within]), turned(usable[within])
    across, across_shown = _marks(*part, _strip_edges(run[1] - run[0], s), 1.5)
    if not own or _boldness(across, across_shown > 0.5) > s.crossed * own:
        return run
    sides = []
    for side in (slice(0, run[0]), slice(run[1], width)):
        beside = _stripes(marks[:, side], seen[:, side], s)
        sides.append(beside > s.as_bold * own)
    return 0 if sides[0] else run[0], width if sides[1] else run[1]


def _strip_edges(length: int, s: FlattenSettings) -> NDArray[np.intp]:
    """Where strips of about the usual width begin and end, pixels."""
    return np.linspace(0, length, max(1, length // s.strip_px) + 1).round().astype(int)


def _boldness(marks: Array, seen: Mask) -> float:
    """Root mean square of marks (S, W, 3), strip by strip: stripes that waver cancel in a mean."""
    return float(np.sqrt((marks**2)[seen].mean())) if seen.any() else 0.0


def _stripes(marks: Array, seen: Mask, s: FlattenSettings) -> float:
    """How bold the marks are that nearly all strips (S, W, 3) share with their neighbours; 0: none.

    A strip that hardly shows tells nothing.
    """
    if marks.shape[1] < s.strip_px:
        return 0.0
    alike = _correlation(marks[:-1], seen[:-1], marks[1:], seen[1:], 2) > s.least_agreement
    told = np.minimum(seen[:-1].mean(axis=1), seen[1:].mean(axis=1)) > s.least_strip_shown
    if told.sum() < 2 or alike[told].mean() < s.running_on:
        return 0.0
    return _boldness(marks, seen)


def _marks(
    picture: FloatImage, usable: Mask, edges: NDArray[np.intp], blur: float
) -> tuple[Array, Array]:
    """Each strip of rows' mean without its slow part, (S, W, 3), and its share shown (S, W)."""
    total, count = banded(picture, usable, edges)
    sigma = max(8.0, 0.08 * usable.shape[1])
    fine, slow = (
        _smooth(total, size) / (_smooth(count, size)[..., None] + 1e-3) for size in (blur, sigma)
    )
    return fine - slow, np.asarray(count / np.diff(edges)[:, None], dtype=np.float32)


def _smooth(values: FloatImage, sigma: float) -> FloatImage:
    """(S, W, ...) blurred along x; a wide blur on as few places as tell it."""
    strips, width = values.shape[:2]
    step = max(1, int(sigma / _PLACES_IN_BLUR))
    if step > 1:
        fewer = cv2.resize(values, (-(-width // step), strips), interpolation=cv2.INTER_AREA)
        values = np.asarray(fewer, dtype=np.float32)
    size = sigma * values.shape[1] / width
    blurred = cv2.GaussianBlur(values, (0, 0), sigmaX=size, sigmaY=1e-3)
    return np.asarray(cv2.resize(blurred, (width, strips)), dtype=np.float32)


_PLACES_IN_BLUR = 8  # of a sigma; straight lines between them err by a thousandth


def _correlation(a: Array, a_shown: Mask, b: Array, b_shown: Mask, slack: int) -> Array:
    """(N,) correlation of the marks of strips (N, W, 3) with others', the best of small shifts.

    Args:
        a: marks of the strips.
        a_shown: (N, W) where they show.
        b: marks of the others.
        b_shown: (N, W) where those show.
        slack: the most that they are shifted, pixels.
    """
    best = np.full(len(a), -1.0, dtype=np.float32)
    for shift in range(-slack, slack + 1):
        both = (a_shown & np.roll(b_shown, shift, axis=1))[..., None]
        one, two = (
            part.reshape(len(a), -1) for part in (a * both, np.roll(b, shift, axis=1) * both)
        )
        dot, *sizes = (np.einsum("sk,sk->s", p, q) for p, q in ((one, two), (one, one), (two, two)))
        best = np.maximum(best, dot / (np.sqrt(sizes[0] * sizes[1]) + 1e-9))
    return best


def _runs(alike: list[bool]) -> list[tuple[int, int]]:
    """First and last strip of every run of strips that agree with their neighbours."""
    runs, start = [], None
    for k, same in enumerate([*alike, False]):
        if same and start is None:
            start = k
        elif not same and start is not None:
            runs.append((start, k))
            start = None
    return runs


def _weight(marks: Array, shown: Array, first: int, last: int) -> float:
    """How much agreed structure a run holds."""
    part = marks[first : last + 1] * shown[first : last + 1, :, None]
    return float(np.sqrt((part**2).sum()) * (last - first + 1) ** 0.5)


def _run_mean(marks: Array, shown: Array, first: int, last: int) -> tuple[Array, Mask]:
    """The marks of a run of strips as those of one, (1, W, 3), and where it shows (1, W)."""
    mean, total = _mean(marks[first : last + 1], shown[first : last + 1])
    return mean[None], total[None] > 0.5


def _mean(marks: Array, shown: NDArray[Any]) -> tuple[Array, Array]:
    """(W, 3) mean of the marks (N, W, 3) as far as they show (N, W), and how much does (W,)."""
    total = np.asarray(shown.sum(axis=0), dtype=np.float32)
    mean = (marks * shown[..., None]).sum(axis=0) / np.maximum(total, 1e-6)[:, None]
    return np.asarray(mean, dtype=np.float32), total
