"""What is printed on a clear ruler, apart from the bold cloth that shines through it.

A printed line is dark and narrow; the floats of a cloth, and the gaps between them, are wider where
they are bold enough to hide it. So a picture of narrow dark lines alone shows the ticks plainly.
"""

from __future__ import annotations

import cv2
import numpy as np

from settscan.photo.ruler_lines import Grey
from settscan.settings import RULER, RulerSettings


def narrow_lines(levels: tuple[Grey, ...], s: RulerSettings = RULER) -> tuple[Grey, ...]:
    """The pyramid with dark lines narrower than `s.print_px` on white, and nothing else.

    Each level has lines of its own: a tick that is too wide at one is narrow at a coarser one.

    Args:
        levels: the grey pyramid.
        s: settings.
    """
    disc = np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (s.print_px, s.print_px)), dtype=np.uint8
    )
    return tuple(_inked(level, disc, s) for level in levels)


def _inked(level: Grey, disc: Grey, s: RulerSettings) -> Grey:
    """Its lines as grey on white, blurred as wide as a lens and pixels draw a line."""
    dark = cv2.morphologyEx(level, cv2.MORPH_BLACKHAT, disc).astype(np.float32)
    ink = cv2.GaussianBlur(dark, (0, 0), s.print_blur_px)
    step = max(int(np.sqrt(ink.size / _ENOUGH)), 1)
    strong = max(float(np.quantile(ink[::step, ::step], s.print_strong)), 1.0)
    return np.asarray(np.clip(255 - ink * (s.print_depth / strong), 0, 255), dtype=np.uint8)


_ENOUGH = 1_000_000  # pixels of which a quantile is known as well as of more
