"""Long straight edges."""

from __future__ import annotations

import numpy as np

from settscan.photo.ruler_lines import long_lines, pyramid, rough_lines


def test_a_body_as_light_as_its_cloth_has_edges_where_it_is_smooth():
    """Threads break the edge into pieces, of light and of dark, that are too short to be lines."""
    y, x = np.mgrid[:600, :800]
    rng = np.random.default_rng(0)
    wander = np.cumsum(rng.normal(0, 0.05, 800))
    cloth = 120 + 50 * np.sign(np.sin((x + wander[None]) * 0.9) * np.sin(y * 0.8 + x * 0.02))
    edge = 430.0 + 0.03 * x
    grey = np.where(y > edge, 120.0, cloth) + rng.normal(0, 3, cloth.shape)
    levels = pyramid(np.clip(grey, 0, 255).astype(np.uint8))

    def along_it(lines):
        off = [np.abs(ln.ends[:, 1] - 430 - 0.03 * ln.ends[:, 0]).max() for ln in lines]
        return [ln for ln, far in zip(lines, off, strict=True) if far < 8 and ln.length > 600]

    assert not along_it(long_lines(levels))
    assert along_it(rough_lines(levels))
