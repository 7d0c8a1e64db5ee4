"""What can be noticed about a photo's quality once the cloth lies flat: clipping, glare, blur."""

from __future__ import annotations

import cv2
import numpy as np

from settscan.doubts import Doubt, doubt
from settscan.photo.flat import FloatImage, Mask
from settscan.settings import QUALITY, QualitySettings


def clipping_doubts(
    light: FloatImage, shown: Mask, s: QualitySettings = QUALITY
) -> tuple[Doubt, ...]:
    """Doubts about too bright and too dark cloth, and about glare.

    Args:
        light: (H, W, 3) linear light of a reduced flat picture, as the camera gave it.
        shown: (H, W) True where the photo shows the flat picture's place.
        s: settings.
    """
    area = max(1, int(np.count_nonzero(shown)))
    red, green, blue = cv2.split(light)
    bright = shown & (np.minimum(np.minimum(red, green), blue) > s.too_bright)
    dark = shown & (np.maximum(np.maximum(red, green), blue) < s.too_dark)
    found = []
    share = (np.count_nonzero(bright) + np.count_nonzero(dark)) / area
    if share > s.clipped_share:
        found.append(doubt("clipped", percent=100 * share))
    count, _, stats, _ = cv2.connectedComponentsWithStats(bright.astype(np.uint8))
    if count > 1 and stats[1:, cv2.CC_STAT_AREA].max() > s.glare_share * area:
        found.append(doubt("glare"))
    return tuple(found)


def is_blurred(pixels: FloatImage, mask: Mask, s: QualitySettings = QUALITY) -> bool:
    """Whether nothing in the middle of a flat picture is sharp.

    In a sharp picture threads or stripe edges change within one or two pixels. After a blur that
    is wide against four pixels everything is a ramp over four pixels, and the change over one
    pixel is a quarter of the change over four.
    """
    height, width = mask.shape
    tall, wide = min(height, s.look_px), min(width, s.look_px)
    rows = slice((height - tall) // 2, (height + tall) // 2)
    columns = slice((width - wide) // 2, (width + wide) // 2)
    tones = np.sqrt(np.maximum(pixels[rows, columns].mean(axis=2), 0.0))
    shown = mask[rows, columns]
    changes = []
    for step in (1, 4):
        across = np.abs(tones[:, step:] - tones[:, :-step]) * (shown[:, step:] & shown[:, :-step])
        down = np.abs(tones[step:] - tones[:-step]) * (shown[step:] & shown[:-step])
        changes.append(float((across**2).sum() + (down**2).sum()))
    return changes[1] > 0 and (changes[0] / changes[1]) ** 0.5 < s.blurred_ratio
