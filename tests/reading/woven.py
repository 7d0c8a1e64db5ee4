"""Small cloths drawn thread by thread with numpy, so that every thread of them is known.

Nothing of the reader is used here. A picture is (H, W, 3) linear light; the centre of its first
pixel is at 0, so the cloth reaches from -0.5. A drawdown is (rows, columns), True where the column
thread lies on top, its first row on top of the picture.
"""

import numpy as np

from settscan.photo.flat import FlatCloth, Scale

FINE = 6  # samples per pixel each way


def drawdown(name):
    """A weave's drawdown from its definition.

    A twill's line that rises to the right goes one row up for each column to the right: it keeps
    the sum of both numbers, rows being counted downwards.
    """
    if name == "plain":
        return np.add.outer(np.arange(2), np.arange(2)) % 2 == 0
    if name == "hopsack":
        return np.add.outer(np.arange(4) // 2, np.arange(4) // 2) % 2 == 0
    if name.startswith("herringbone"):
        return _herringbone(int(name.split()[1]))
    ratio, _, rest = name.partition(" ")
    over, under = (int(n) for n in ratio.split("/"))
    y, x = np.mgrid[0 : over + under, 0 : over + under]
    return (x + y if rest.endswith("Z") else x - y) % (over + under) < over


def _herringbone(ends):
    """A 2/2 twill that turns back after so many ends, each half beginning opposite the last end."""
    steps = np.r_[np.arange(ends), ends + 1 - np.arange(ends)]
    return (steps[None] + np.arange(4)[:, None]) % 4 < 2


def threads_of(text):
    """Yarn keys thread by thread of "A8 B4"."""
    stripes = [(word[0], int(word[1:])) for word in text.split()]
    return [key for key, number in stripes for _ in range(number)]


def edges_of(text, px, start=-0.5):
    """Edges of the stripes of "A8 B4" in pixels at `px` per thread."""
    counts = [int(word[1:]) for word in text.split()]
    return start + px * np.concatenate([[0], np.cumsum(counts)])


def woven(columns, rows, weave, px, *, light, bounds=None, round_=0.5, noise=0.0, seed=0):
    """A picture of a cloth.

    Args:
        columns: yarn keys of the column threads, left to right.
        rows: yarn keys of the row threads, top to bottom.
        weave: a name for `drawdown`.
        px: pixels per thread.
        light: linear light (3,) of each yarn key.
        bounds: (columns + 1,) where the column threads begin and end in pixels, if not evenly.
        round_: how much darker a thread is at its sides than in its middle.
        noise: of each pixel and channel, one standard deviation.
        seed: of the noise.
    """
    across = _places(len(columns), px, bounds)
    down = _places(len(rows), px, None)
    drawing = drawdown(weave)
    high, wide = drawing.shape
    on_top = drawing[np.ix_(down[0] % high, across[0] % wide)]
    tones = [
        np.array([light[k] for k in keys])[index] * (1 - round_ * (2 * part - 1) ** 2)[:, None]
        for keys, (index, part) in ((columns, across), (rows, down))
    ]
    fine = np.where(on_top[:, :, None], tones[0][None], tones[1][:, None])
    height, width = len(down[0]) // FINE, len(across[0]) // FINE
    picture = fine.reshape(height, FINE, width, FINE, 3).mean(axis=(1, 3))
    picture += noise * np.random.default_rng(seed).standard_normal(picture.shape)
    return picture.astype(np.float32)


def _places(threads, px, bounds):
    """Thread number and place across it (0..1) of each fine sample along an axis."""
    if bounds is None:
        bounds = -0.5 + px * np.arange(threads + 1)
    pixels = int(np.floor(bounds[-1] + 0.5 + 1e-9))
    at = (np.arange(pixels * FINE) + 0.5) / FINE - 0.5
    index = np.clip(np.searchsorted(bounds, at, side="right") - 1, 0, threads - 1)
    return index, (at - bounds[index]) / np.diff(bounds)[index]


def flat(picture, **changes):
    """The picture as a straightened cloth without a scale."""
    height, width = picture.shape[:2]
    given = {
        "pixels": np.ascontiguousarray(picture, dtype=np.float32),
        "mask": np.ones((height, width), bool),
        "to_photo": np.eye(3),
        "scale": Scale(px_per_mm_x=None, px_per_mm_y=None, source="none"),
    }
    return FlatCloth(**{**given, **changes})
