"""Pictures of what is no woven check or stripe, drawn with numpy: (H, W, 3) uint8 sRGB.

They are drawn sharp and then lightly blurred and given a sensor's noise, as a camera would, so
that nothing tells them from a photo but what they show.
"""

from __future__ import annotations

import cv2
import numpy as np

HEIGHT, WIDTH = 720, 960
BLUE, CREAM, RED, GREEN = (40, 60, 130), (232, 222, 196), (168, 42, 48), (46, 96, 60)


def taken(picture, seed=0, noise=3.0, blur=0.8):
    """As a camera takes it: a little soft, a little noisy."""
    soft = cv2.GaussianBlur(np.asarray(picture, np.float32), (0, 0), blur)
    grain = np.random.default_rng(seed).normal(0, noise, soft.shape)
    return np.clip(np.round(soft + grain), 0, 255).astype(np.uint8)


def grid():
    """Row and column numbers of the pixels, (H, 1) and (1, W)."""
    return np.arange(HEIGHT)[:, None], np.arange(WIDTH)[None]


def coloured(which, *colours):
    """A picture of whole numbers as colours."""
    return np.array(colours, np.float32)[which]


def chequerboard(square=36):
    """Squares of two pure colours: none is mixed."""
    y, x = grid()
    return taken(coloured((y // square + x // square) % 2, BLUE, CREAM))


def uneven_chequerboard():
    """The same with squares of several widths, as a printed check without mixed colours."""
    rng = np.random.default_rng(11)
    flips = [np.zeros(n, int) for n in (HEIGHT, WIDTH)]
    for flip in flips:
        at = np.cumsum(rng.choice([16, 24, 40, 72], 60))
        flip[at[at < len(flip)]] = 1
    down, across = (np.cumsum(flip) % 2 for flip in flips)
    return taken(coloured(down[:, None] ^ across[None], RED, CREAM))


def printed_lines(step=60, line=12):
    """Lines of one colour that do not get darker where they cross, as on a printed tile."""
    y, x = grid()
    return taken(coloured(((y % step < line) | (x % step < line)).astype(int), CREAM, BLUE))


def bricks(course=36, brick=72, joint=5):
    """A wall in running bond."""
    y, x = grid()
    row = y // course
    shifted = x + (row % 2) * (brick // 2)
    which = (y % course < joint) | (shifted % brick < joint)
    shade = np.random.default_rng(5).normal(0, 14, (HEIGHT // course + 2, WIDTH // brick + 2))
    wall = coloured(which.astype(int), (160, 82, 66), (206, 200, 190))
    return taken(wall + (shade[row, shifted // brick] * ~which)[:, :, None])


def knit(wale=22, course=16, colours=(GREEN,), rows_each=12):
    """Stockinette: columns of V-shaped stitches; colours change by whole courses."""
    y, x = grid()
    across = (x % wale) / wale
    lean = np.abs(across - 0.5) * 2  # 0 in the middle of a wale, 1 at its sides
    down = (y - 0.9 * course * (1 - lean)) / course
    leg = np.abs(across % 0.5 - 0.25) / 0.25
    light = (0.45 + 0.55 * np.cos(np.pi * (down % 1 - 0.5)) ** 0.7) * (1 - 0.45 * leg**3)
    yarn = (np.floor(down).astype(int) // rows_each) % len(colours)
    return taken(coloured(yarn, *colours) * light[:, :, None], noise=4.0)


def striped_knit():
    """Stockinette in stripes of whole courses."""
    return knit(colours=(BLUE, CREAM, RED), rows_each=9)


def gradient():
    """A soft change of colour, as a sky."""
    y, x = grid()
    t = (0.8 * y / HEIGHT + 0.2 * x / WIDTH)[:, :, None]
    return taken(np.array((96, 140, 214.0)) * (1 - t) + np.array((236, 228, 220.0)) * t)


def noise():
    """Nothing but noise."""
    return np.random.default_rng(3).integers(0, 256, (HEIGHT, WIDTH, 3)).astype(np.uint8)


def plain():
    """One colour."""
    return taken(np.full((HEIGHT, WIDTH, 3), BLUE, np.float32))


def text():
    """A printed page."""
    page = np.full((HEIGHT, WIDTH, 3), 244, np.uint8)
    words = "the quick weaver winds a long warp around the mill and counts it"
    for line, y in enumerate(range(40, HEIGHT - 20, 26)):
        start = words[line % 20 :]
        cv2.putText(page, start, (36, y), cv2.FONT_HERSHEY_SIMPLEX, 0.62, (20, 20, 20), 1)
    return taken(page)


def blobs(across=60):
    """Random colours out of focus."""
    few = np.random.default_rng(7).integers(0, 256, (across * 3 // 4, across, 3))
    return taken(cv2.resize(few.astype(np.float32), (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC))


def wallpaper(stripe=36):
    """Flat stripes one way, with no threads in them."""
    y, x = grid()
    return taken(coloured((x // stripe) % 3 + 0 * y, RED, CREAM, BLUE))


def leaves():
    """A print: motifs scattered in rows."""
    rng = np.random.default_rng(9)
    picture = np.full((HEIGHT, WIDTH, 3), CREAM, np.uint8)
    for row, y in enumerate(range(30, HEIGHT, 64)):
        for x in range(30 + 40 * (row % 2), WIDTH, 80):
            turn = float(rng.integers(0, 4) * 45)
            colour = GREEN if (row + x // 80) % 3 else RED
            cv2.ellipse(picture, (x, y), (26, 11), turn, 0, 360, colour, -1)
    return taken(picture)


ALL = {
    f.__name__: f
    for f in (
        chequerboard, uneven_chequerboard, printed_lines, bricks, knit, striped_knit, gradient,
        noise, plain, text, blobs, wallpaper, leaves,
    )
}  # fmt: skip
