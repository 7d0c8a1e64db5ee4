"""The cloth as it lies: where each thread runs, which is on top, and how it takes the light.

The surface is a height model: each yarn is a tube of elliptical section whose axis goes over and
under the crossing yarns; whichever tube is higher at a point is seen there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tests.render.bend import Bend, lay_bend
from tests.render.noise import TILE, hair_tile, smooth_line, tile
from tests.render.specs import ClothSpec, LightSpec, Stripes, linear_from_srgb
from tests.render.weaves import columns_on_top

FLATTEN = 0.62  # height of a yarn's section over its width; pressed cloth lies between 0.5 and 0.8


@dataclass(frozen=True, slots=True)
class Axis:
    """The threads of one direction.

    Attributes:
        position: (N,) mm of each thread's centreline, rising.
        yarn: (N,) index of its yarn.
        stripes: (yarn index, first thread, threads) of every stripe.
        full: threads of each stripe in a cloth that goes on beyond the picture.
        pitch: mean mm from thread to thread.
        radius: (N,) half the yarn's width, in pitches.
        crimp: mm that the thread's axis goes up and down.
        colour: (N, 3) linear colour.
        lut_start, lut_step, lut: thread coordinate (0 on thread 0) at `lut_start + k lut_step`.
    """

    position: np.ndarray
    yarn: np.ndarray
    stripes: tuple[tuple[int, int, int], ...]
    full: tuple[int, ...]
    pitch: float
    radius: np.ndarray
    crimp: float
    colour: np.ndarray
    lut_start: float
    lut_step: float
    lut: np.ndarray

    def thread_at(self, mm: np.ndarray) -> np.ndarray:
        """Continuous thread coordinate at material positions, float32."""
        k = (mm - np.float32(self.lut_start)) / np.float32(self.lut_step)
        k = np.clip(k, 0, len(self.lut) - 1.001)
        low = k.astype(np.int32)
        part = k - low
        first = self.lut[low]
        return first + (self.lut[low + 1] - first) * part


@dataclass(frozen=True, slots=True)
class LaidCloth:
    """A cloth ready to be looked at. Columns run up and down in the photo, rows across."""

    spec: ClothSpec
    columns: Axis
    rows: Axis
    on_top: np.ndarray
    tiles: dict[str, np.ndarray]
    bend: Bend


def unfold(stripes: Stripes, kind: str) -> Stripes:
    """One whole repeat: a symmetric sett runs there and back, each pivot once."""
    if kind == "symmetric" and len(stripes) > 2:
        return stripes + stripes[-2:0:-1]
    return stripes


def lay_stripes(
    stripes: Stripes, kind: str, border: Stripes, threads: int, phase: int
) -> list[tuple[str, int]]:
    """Stripes, first to last, that fill so many threads; neighbours of one yarn are joined."""
    whole = unfold(stripes, kind)
    inner = threads - 2 * sum(n for _, n in border)
    out = [list(s) for s in border]
    skip, k = phase % sum(n for _, n in whole), 0
    while inner > 0:
        yarn, n = whole[k % len(whole)]
        used = min(n, skip)
        skip -= used
        n = min(n - used, inner)
        inner -= n
        k += 1
        if n:
            out.append([yarn, n])
    out += [list(s) for s in border[::-1]]
    joined = out[:1]
    for yarn, n in out[1:]:
        if yarn == joined[-1][0]:
            joined[-1][1] += n
        else:
            joined.append([yarn, n])
    return [(y, n) for y, n in joined]


def full_counts(
    laid: list[tuple[str, int]], stripes: Stripes, kind: str, phase: int
) -> tuple[int, ...]:
    """Threads of each stripe if the cloth went on: the first and the last may grow."""
    repeat = sum(n for _, n in unfold(stripes, kind))
    length = sum(n for _, n in laid)
    longer = lay_stripes(stripes, kind, (), length + 2 * repeat, phase)
    ends = np.cumsum([n for _, n in longer])
    starts = repeat + np.cumsum([0] + [n for _, n in laid[:-1]])
    return tuple(longer[k][1] for k in np.searchsorted(ends, starts, side="right"))


def lay_axis(spec: ClothSpec, which: str, low: float, high: float, phase: int, rng) -> Axis:
    """Threads of the "warp" or "weft" from `low` to `high` mm."""
    warp = which == "warp"
    pitch = 25.4 / (spec.epi if warp else spec.ppi)
    threads = max(8, round((high - low) / pitch))
    stripes, kind = (spec.warp, spec.warp_kind) if warp else (spec.weft, spec.weft_kind)
    border = spec.warp_border if warp else spec.weft_border
    laid = lay_stripes(stripes, kind, border, threads, phase)
    full = tuple(n for _, n in laid)
    if spec.size_mm is None:
        full = full_counts(laid, stripes, kind, phase)
    wander = spec.wander * smooth_line(rng, threads, spec.wander_mm / pitch)
    gaps = pitch * np.exp(wander - wander.mean())
    position = np.cumsum(gaps)
    position += (low + high) / 2 - (position[0] + position[-1]) / 2
    position += np.clip(spec.jitter * rng.standard_normal(threads), -0.3, 0.3) * pitch
    index = {y.key: k for k, y in enumerate(spec.yarns)}
    yarn = np.repeat([index[y] for y, _ in laid], [n for _, n in laid])
    base = np.array([linear_from_srgb(y.srgb) for y in spec.yarns])[yarn]
    melange = np.array([y.melange for y in spec.yarns])[yarn]
    lightness = np.exp(melange * rng.standard_normal(threads) - melange**2 / 2)
    hue = np.exp(0.25 * melange[:, None] * rng.standard_normal((threads, 3)))
    starts = np.cumsum([0] + [n for _, n in laid])
    cover = spec.warp_cover if warp else spec.weft_cover
    heights = 0.5 * FLATTEN * 25.4 * (spec.warp_cover / spec.epi + spec.weft_cover / spec.ppi)
    grid = np.arange(position[0] - 2 * pitch, position[-1] + 2 * pitch, pitch / 12)
    edges = np.r_[position[0] - 2 * pitch, position, position[-1] + 2 * pitch]
    return Axis(
        position=position,
        yarn=yarn,
        stripes=tuple((index[y], int(s), n) for (y, n), s in zip(laid, starts, strict=False)),
        full=full,
        pitch=float(np.mean(np.diff(position))),
        radius=(0.5 * cover * np.exp(0.05 * rng.standard_normal(threads))).astype(np.float32),
        crimp=float(heights * (spec.crimp if warp else 1 - spec.crimp)),
        colour=(base * lightness[:, None] * hue).astype(np.float32),
        lut_start=float(grid[0]),
        lut_step=pitch / 12,
        lut=np.interp(grid, edges, np.arange(-1, threads + 1) - np.r_[1, [0] * threads, -1])
        .astype(np.float32),
    )  # fmt: skip


@lru_cache(maxsize=1)
def stock_tiles() -> dict[str, np.ndarray]:
    """Noise that every cloth starts from, each at a place of its own."""
    rng = np.random.default_rng(20)
    return {
        "fibre": tile(rng, TILE, 1.0, 7.0),
        "slub": tile(rng, TILE, 0.6, 40.0),
        "nap_x": 0.87 * tile(rng, TILE, 0.8, 0.8) + 0.5 * tile(rng, TILE, 3.0, 3.0),
        "nap_y": 0.87 * tile(rng, TILE, 0.8, 0.8) + 0.5 * tile(rng, TILE, 3.0, 3.0),
        "lead_x": tile(rng, TILE, 12.0, 12.0),
        "lead_y": tile(rng, TILE, 12.0, 12.0),
        "hair": hair_tile(rng, TILE, 700, 90.0),
        "sway_x": tile(rng, TILE, 14.0, 1.6),
        "sway_y": tile(rng, TILE, 1.6, 14.0),
    }


def lay_cloth(
    spec: ClothSpec, box: tuple[float, float, float, float], light: LightSpec, rng
) -> LaidCloth:
    """The cloth that fills the plane box, or lies in it with the size it has."""
    left, top, right, bottom = box
    if spec.size_mm:
        (w, h), (cx, cy) = spec.size_mm, spec.centre_mm
        left, top, right, bottom = cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2
    names = ("weft", "warp") if spec.warp_across else ("warp", "weft")
    columns = lay_axis(spec, names[0], left, right, spec.phase[0], rng)
    rows = lay_axis(spec, names[1], top, bottom, spec.phase[1], rng)
    places = rng.integers(0, TILE, (len(stock_tiles()), 2))
    tiles = {
        name: np.roll(field, tuple(place), (0, 1))
        for (name, field), place in zip(stock_tiles().items(), places, strict=True)
    }
    for name in ("sway_x", "sway_y"):
        tiles[name] = np.pad(tiles[name], (0, 1), mode="wrap")
    on_top = columns_on_top(spec.weave, spec.warp_across)
    return LaidCloth(spec, columns, rows, on_top, tiles, lay_bend(spec, box, light, rng))


def _pick(field: np.ndarray, y: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Nearest entries of a tile that repeats for ever."""
    return field[y.astype(np.int32) & (TILE - 1), x.astype(np.int32) & (TILE - 1)]


def _tube(laid: LaidCloth, column: bool, i, a, t):
    """Height, slope along and across (mm/mm) of thread `i` at offset `a`, crossing place `t`.

    Height is -inf where the yarn isn't.
    """
    me, other = (laid.columns, laid.rows) if column else (laid.rows, laid.columns)
    sign = np.where(laid.on_top, 1, -1).astype(np.float32)
    if not column:
        sign = -sign.T
    m, n = sign.shape
    under = np.floor(t)
    part = t - under
    k = under.astype(np.int32)
    row = i % m
    first = sign[row, k % n]
    rise = sign[row, (k + 1) % n] - first
    angle = part * np.float32(np.pi)
    height = me.crimp * (first + rise * (0.5 - 0.5 * np.cos(angle)))
    along = (me.crimp * np.pi / 2 / other.pitch) * rise * np.sin(angle)
    radius = me.radius[np.clip(i, 0, len(me.radius) - 1)]
    rel = a / radius
    inside = 1 - rel * rel
    root = np.sqrt(np.maximum(inside, 0.02))
    tall = FLATTEN * radius * me.pitch
    top = np.where(inside > 0, height + tall * root, np.float32(-1e3))
    return top, along, -FLATTEN * rel / root


def _best_tube(laid: LaidCloth, column: bool, s, t):
    """The highest thread of one direction: (thread, offset, height, slopes)."""
    me = laid.columns if column else laid.rows
    i = np.rint(s).astype(np.int32)
    a = s - i
    best = _tube(laid, column, i, a, t)
    if me.radius.mean() <= 0.52:
        return i, a, *best
    step = np.where(a > 0, 1, -1).astype(np.int32)
    beside = _tube(laid, column, i + step, a - step, t)
    win = beside[0] > best[0]
    i, a = np.where(win, i + step, i), np.where(win, a - step, a)
    return i, a, *(np.where(win, p, q) for p, q in zip(beside, best, strict=True))


def surface(laid: LaidCloth, u: np.ndarray, v: np.ndarray, light: LightSpec):
    """What is seen at material mm `u`, `v` (N,): (is column, thread, shade).

    `shade` multiplies the thread's colour; a smooth flat surface would have shade 1.
    """
    cols, rows = laid.columns, laid.rows
    fine = np.float32(14.0 / min(cols.pitch, rows.pitch))
    u, v = _napped(laid, u, v, fine)
    s, t = cols.thread_at(u), rows.thread_at(v)
    ci, ca, cz, c_along, c_across = _best_tube(laid, True, s, t)
    ri, ra, rz, r_along, r_across = _best_tube(laid, False, t, s)
    column = cz >= rz
    thread = np.where(column, ci, ri)
    z = np.maximum(cz, rz)
    slope_x = np.where(column, c_across, r_along)
    slope_y = np.where(column, c_along, r_across)
    shade = _lit(laid, z, slope_x, slope_y, light)
    along = np.where(column, v, u)
    across = np.where(column, ca * cols.pitch, ra * rows.pitch)
    return column, thread, shade * _texture(laid, column, thread, along, across, fine)


def _napped(laid: LaidCloth, u, v, fine):
    """Positions whose fibres are seen here: nap and stray hairs carry colour sideways."""
    spec = laid.spec
    reach = np.float32(0.42 * spec.fulling * min(laid.columns.pitch, laid.rows.pitch))
    x, y = u * fine, v * fine
    dx, dy = _pick(laid.tiles["nap_x"], y, x), _pick(laid.tiles["nap_y"], y, x)
    u, v = u + dx * reach, v + dy * reach
    if spec.hair > 0:
        hair = _pick(laid.tiles["hair"], y * np.float32(0.8), x * np.float32(0.8))
        over = np.where(hair > 1 - spec.hair, np.float32(0.6 * laid.columns.pitch), 0)
        u = u + over * _pick(laid.tiles["lead_x"], y, x)
        v = v + over * _pick(laid.tiles["lead_y"], y, x)
    return u, v


def _lit(laid: LaidCloth, z, slope_x, slope_y, light: LightSpec):
    """Shade of the bare form: main light from one side, sky from above, dark in the gaps."""
    relief = np.float32(laid.spec.relief * (1 - 0.75 * laid.spec.fulling))
    el, az = np.radians(light.elevation_deg), np.radians(light.azimuth_deg)
    lx, ly, lz = np.cos(el) * np.cos(az), np.cos(el) * np.sin(az), np.sin(el)
    sx, sy = slope_x * relief, slope_y * relief
    length = 1 / np.sqrt(1 + sx * sx + sy * sy)
    # z points at the viewer, x right, y down; the normal of a height field is (-sx, -sy, 1).
    sun = np.maximum((lz - lx * sx - ly * sy) * length, 0) / np.float32(lz)
    sky = 0.5 + 0.5 * length
    tall = laid.columns.crimp + laid.rows.crimp
    depth = np.clip((z + 0.3 * tall) / (1.3 * tall), 0, 1)
    open_sky = 1 - relief * 0.55 * (1 - depth)
    bare = z > -100
    lit = (0.55 * sun + 0.45 * sky) * open_sky
    return np.where(bare, lit, np.float32(0.10 + 0.5 * laid.spec.fulling)).astype(np.float32)


def _texture(laid: LaidCloth, column, thread, along, across, fine):
    """Plies, fibres and slubs along the yarn; mean 1."""
    spec = laid.spec
    hand = np.float32(1.0 if spec.twist == "Z" else -1.0)
    hand = np.where(column, hand, -hand)
    width = np.float32(laid.columns.pitch * spec.warp_cover)
    lane = thread * 37 + np.where(column, 0, 511)
    lead = along / (np.float32(2.2) * width) + hand * across / width * 0.8
    lead = lead + _pick(laid.tiles["slub"], lane, along * 3) * 0.3
    ply = np.cos(np.float32(2 * np.pi) * lead)
    fibre = _pick(laid.tiles["fibre"], lane + across * fine * 2, (along + hand * across) * fine)
    slub = _pick(laid.tiles["slub"], lane + 7, along * 6)
    out = 1 + spec.ply_mark * 0.45 * ply + spec.fibre * fibre
    return np.maximum(out * (1 + 0.06 * slub), 0.05)


def colour_of(laid: LaidCloth, column, thread) -> np.ndarray:
    """(N, 3) colour of the threads."""
    c, r = laid.columns.colour, laid.rows.colour
    first = c[np.clip(thread, 0, len(c) - 1)]
    second = r[np.clip(thread, 0, len(r) - 1)]
    return np.where(column[:, None], first, second)


def mean_shade(laid: LaidCloth, light: LightSpec, rng) -> tuple[float, float]:
    """Mean shade of the whole surface, and the share of the light that comes from columns."""
    c, r = laid.columns.position, laid.rows.position
    u = rng.uniform(c[0], c[-1], 200_000).astype(np.float32)
    v = rng.uniform(r[0], r[-1], 200_000).astype(np.float32)
    column, _, shade = surface(laid, u, v, light)
    return float(shade.mean()), float(shade[column].sum() / shade.sum())
