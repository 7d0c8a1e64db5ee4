"""Which ways the threads run: two families of lines and the points where each family meets.

Every tile of the picture votes. In the tile's spectrum a family of parallel edges lies on one
ray through the middle, across the lines, at all frequencies at once; the diagonals of a twill
and single threads light up only a few isolated frequencies. A vote therefore counts frequencies
that stand out, not their power. The votes of all tiles are then summed along every pencil of
lines (direction at the middle, and how fast the lines draw together), which is a Hough transform
over vanishing points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.photo.flat import FloatImage, Mask
from settscan.photo.plane import Plane
from settscan.photo.sums import masked, tiled
from settscan.settings import FLATTEN, FlattenSettings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Votes:
    """What tiles say about directions of lines.

    Attributes:
        centres: (T, 2) positions from the photo's middle, in half diagonals.
        counts: (T, 180) how many frequencies stand out, per degree of line direction (0 is
            along x, 90 is along y, turning clockwise as seen).
    """

    centres: Array
    counts: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """One family of lines.

    Attributes:
        degrees: direction at the photo's middle, 0..180.
        meet: how it converges, per half diagonal.
        strength: its votes above those of an ordinary direction (mean log of power).
    """

    degrees: float
    meet: float
    strength: float


def tile_votes(picture: FloatImage, usable: Mask, tile: int, step: int) -> Votes:
    """Votes of square tiles of `tile` pixels laid every `step` pixels over the picture.

    Args:
        picture: (H, W, 3), evenly stepped to the eye (square root of light).
        usable: (H, W) False where a ruler or card lies; tiles mostly hidden do not vote.
        tile: side in pixels.
        step: distance of neighbouring tiles in pixels.
    """
    height, width = usable.shape
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    reach = math.hypot(width, height) / 2
    window = np.outer(np.hanning(tile), np.hanning(tile)).astype(np.float32)
    rays = _rays(tile)
    centres, counts = [], []
    for y in _starts(height, tile, step):
        for x in _starts(width, tile, step):
            shown = usable[y : y + tile, x : x + tile]
            if shown.mean() < FLATTEN.least_tile_shown:
                continue
            centres.append((np.array([x, y]) + (tile - 1) / 2 - middle) / reach)
            counts.append(_tile_counts(picture[y : y + tile, x : x + tile], shown, window, rays))
    if not centres:
        return Votes(centres=np.zeros((0, 2)), counts=np.zeros((0, 180)))
    return Votes(centres=np.array(centres), counts=np.array(counts))


def _starts(length: int, tile: int, step: int) -> list[int]:
    """Starts of tiles that cover `length` evenly."""
    room = length - tile
    if room < 0:
        return []
    return [round(s) for s in np.linspace(0, room, max(1, 1 + math.ceil(room / step)))]


def _rays(tile: int) -> NDArray[np.intp]:
    """(180, R) flat indices into a tile's (tile, tile / 2 + 1) spectrum, per line direction."""
    radii = np.arange(FLATTEN.least_cycles, int(tile * FLATTEN.most_frequency))
    # lines along `a` have their spectrum across it
    across = np.radians(np.arange(180) + 90)[:, None]
    x, y = (np.rint(radii * part).astype(int) for part in (np.cos(across), np.sin(across)))
    # the half that is left out is the mirror image
    return np.asarray(np.where(x < 0, -y, y) % tile * (tile // 2 + 1) + np.abs(x), dtype=np.intp)


def _tile_counts(
    pixels: FloatImage, shown: Mask, window: FloatImage, rays: NDArray[np.intp]
) -> Array:
    """(180,) votes of one tile; zero on average where no direction stands out."""
    weight = window * shown
    planes = np.stack(cv2.split(pixels))
    mean = np.einsum("cyx,yx->c", planes, weight) / weight.sum()
    spectrum = np.fft.rfft2((planes - mean[:, None, None]) * weight)
    power = (spectrum.real**2 + spectrum.imag**2).sum(axis=0).ravel()[rays]
    floor = np.median(power, axis=0, keepdims=True) + FLATTEN.least_power
    # What stands out by much counts no more than what stands out: a twill's diagonals are the
    # strongest of all at the frequency of the twill, and nothing beside it.
    votes = np.minimum(np.log1p(power / floor), math.log1p(FLATTEN.stands_out)).mean(axis=1)
    return np.asarray(votes - np.median(votes))


def find_families(votes: Votes) -> tuple[Family, Family | None]:
    """The family that runs nearest to upright and the one that runs nearest to level.

    The pair is the one with the most votes among all that cross at about a right angle and of
    which both stand out from noise. Where one family alone has more, as stripes across threads
    that are not seen, it is returned alone, whichever way it runs. (The diagonals of a twill may
    have more than either way of its threads, but cross nothing at a right angle.)

    Returns:
        (strongest, other): ordered by strength; `other` is None when only one family is seen.
    """
    meets = np.linspace(-FLATTEN.most_meet, FLATTEN.most_meet, FLATTEN.meet_steps)
    sums = _pencil_sums(votes, meets)
    best_meet = sums.argmax(axis=1)
    peak = sums.max(axis=1)
    peak -= np.median(peak)
    turn = np.arange(180)
    heard = np.where(peak > FLATTEN.least_crossing, peak, -np.inf)
    pairs = []
    for skew in range(-FLATTEN.most_skew_degrees, FLATTEN.most_skew_degrees + 1):
        pairs.append(heard + heard[(turn + 90 + skew) % 180])
    skew_at, first = np.unravel_index(int(np.argmax(np.array(pairs))), (len(pairs), 180))
    second = (first + 90 + int(skew_at) - FLATTEN.most_skew_degrees) % 180

    def family(at: int) -> Family:
        # Where a family hardly stands out, chance says where its lines meet.
        plain = peak[at] >= FLATTEN.least_strength
        meet = float(meets[best_meet[at]]) if plain else 0.0
        return Family(degrees=float(at), meet=meet, strength=float(peak[at]))

    if np.max(pairs) < peak.max():
        return family(int(peak.argmax())), None
    one, two = sorted((family(int(first)), family(int(second))), key=lambda f: -f.strength)
    return one, two


def _pencil_sums(votes: Votes, meets: Array) -> Array:
    """(180, M) mean votes along the pencil of lines with each direction and convergence."""
    angle = np.radians(np.arange(180))[:, None, None]
    meet = meets[None, :, None]
    x, y = votes.centres.T
    local = np.degrees(np.arctan2(np.sin(angle) - meet * y, np.cos(angle) - meet * x)) % 180
    low = np.floor(local).astype(int) % 180
    part = local - np.floor(local)
    tile = np.arange(len(x))
    found = votes.counts[tile, low] * (1 - part) + votes.counts[tile, (low + 1) % 180] * part
    return np.asarray(found.mean(axis=2))


def start_plane(
    families: tuple[Family, Family | None], centre: tuple[float, float], reach: float
) -> Plane:
    """The plane that two families span; a missing one is taken square to the other."""
    one, two = families
    if two is None:
        two = Family(degrees=(one.degrees + 90) % 180, meet=0.0, strength=0.0)
    down, across = sorted((one, two), key=lambda f: abs(f.degrees - 90))
    # bisect, so that the rest of each lean is small whatever the roll
    tilt_across = (across.degrees + 90) % 180 - 90
    roll = math.radians((tilt_across + down.degrees - 90) / 2)
    return Plane(
        centre=centre,
        reach=reach,
        roll=roll,
        **_terms("down", down, roll),
        **_terms("across", across, roll),
    )


def _terms(name: str, family: Family, roll: float) -> dict[str, float]:
    """Lean and convergence of a family in coordinates turned back by `roll`."""
    angle = math.radians(family.degrees) - roll
    x, y, meet = math.cos(angle), math.sin(angle), family.meet
    lead, lean = (y, x) if name == "down" else (x, y)
    return {f"lean_{name}": lean / lead, f"meet_{name}": meet / lead}


def line_slopes(
    picture: FloatImage, usable: Mask, settings: FlattenSettings, step: int, sigma: float
) -> tuple[Array, Array]:
    """Sideways step per downward step of the lines that run roughly down, tile by tile.

    A picture of lines x = u(y) has gradients (1, -u') times a function, so the slope is a
    regression of one derivative on the other (the structure tensor). Smoothing along the lines
    first removes weft, twill and single threads and keeps the lines.

    Args:
        picture: (H, W, 3), flat but for small slopes.
        usable: (H, W).
        settings: how much to smooth.
        step: side of the tiles in pixels.
        sigma: smoothing along the lines, pixels.

    Returns:
        slopes (h, w) and their weights, one over variance, (h, w); weight 0 where nothing shows.
    """
    solid = cv2.erode(usable.astype(np.uint8), np.ones((int(1.5 * sigma) | 1, 5), np.uint8))
    smooth = cv2.GaussianBlur(picture, (0, 0), sigmaX=settings.edge_smooth_px, sigmaY=sigma)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    # lines of the other family, and whatever leans too much, are not evidence here
    cone = (np.abs(gy) < settings.most_slope * np.abs(gx)).view(np.uint8)
    gx, gy = (masked(np.asarray(cv2.copyTo(g, cone)), solid > 0) for g in (gx, gy))
    energy, product, other = (_tiles(a * b, step) for a, b in ((gx, gx), (gx, gy), (gy, gy)))
    slope = -product / np.maximum(energy, 1e-12)
    # neighbouring pixels share the smoothing, so fewer of them are independent
    share = 4 * math.pi * sigma * settings.edge_smooth_px
    noise = np.maximum(other - slope * slope * energy, 0) + settings.least_gradient**2 * step**2
    variance = noise / np.maximum(energy, 1e-12) * share / step**2
    weight = np.where(energy > 0, 1 / (variance + settings.slope_floor**2), 0.0)
    return slope, weight


def _tiles(values: FloatImage, step: int) -> Array:
    """Sums over tiles of `step` pixels and all channels (H, W, 3); what is left over is dropped."""
    return np.asarray(tiled(values, step).sum(axis=2, dtype=np.float64) * step**2)
