"""What neighbours lend a thread is undone as it was done: blur in light, chroma in the code."""

import cv2
import numpy as np
import pytest

from settscan.photo.srgb import encode, linear
from settscan.reading.colours import difference, to_lab
from settscan.reading.spill import Spill, spill_of

MAROON = np.array([0.093, 0.023, 0.044])
BLUE = np.array([0.236, 0.299, 0.478])
CREAM = np.array([0.7, 0.62, 0.45])
YARNS = np.stack([MAROON, BLUE, CREAM])


def test_what_is_lent_is_taken_back():
    order = np.random.default_rng(3).integers(0, 3, (40, 3))
    before, own, after = YARNS[order.T]
    spill = Spill(0.08, 0.15)
    assert spill.unmixed(before, spill.mixed(before, own, after), after) == pytest.approx(own)


def test_the_shares_are_found_though_some_threads_are_of_another_yarn():
    random = np.random.default_rng(4)
    before, own, after = YARNS[random.integers(0, 3, (90, 3)).T]
    seen = Spill(0.08, 0.15).mixed(before, own, after)
    seen[::9] = Spill(0.08, 0.15).mixed(before, CREAM, after)[::9]
    found = spill_of(before, own, after, seen, np.ones(90), 0.3)
    assert (found.light, found.hue) == pytest.approx((0.08, 0.15), abs=0.01)


def test_threads_that_are_all_of_one_yarn_tell_no_share():
    same = np.tile(MAROON, (30, 1))
    assert spill_of(same, same, same, same, np.ones(30), 0.3) == Spill()


def jpeg_threads(px, quality):
    """(n,) yarns of threads and the light of each in a file, maroon with blue lines."""
    of = np.array(([0] * 9 + [1] * 3) * 6)
    code = encode(YARNS[np.repeat(of, px)])
    picture = np.repeat(code[None, :, ::-1], 96, axis=0)
    parameters = [cv2.IMWRITE_JPEG_QUALITY, quality]
    parameters += [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420]
    _, file = cv2.imencode(".jpg", picture, parameters)
    seen = linear(cv2.imdecode(file, cv2.IMREAD_COLOR)[..., ::-1]).mean(axis=0)
    return of, seen.reshape(len(of), px, 3).mean(axis=1).astype(float)


@pytest.mark.parametrize("px", [3, 5])
@pytest.mark.parametrize("quality", [75, 92])
def test_a_files_own_coding_is_undone(px, quality):
    """The file is libjpeg's, as OpenCV writes and reads it: a thread by a line is of its yarn."""
    of, seen = jpeg_threads(px, quality)
    before, own, after = YARNS[of[:-2]], YARNS[of[1:-1]], YARNS[of[2:]]
    spill = spill_of(before, own, after, seen[1:-1], np.ones(len(own)), 0.3)
    assert spill.light < 0.02 and 0.02 < spill.hue < 0.25  # the coding blurs hue alone
    beside = (of[1:-1] == 0) & ((of[:-2] == 1) | (of[2:] == 1))
    rims = np.median(seen[1:-1][beside], axis=0)
    undone = np.median(spill.unmixed(before, seen[1:-1], after)[beside], axis=0)
    seen_off, off = (float(difference(to_lab(x), to_lab(MAROON))) for x in (rims, undone))
    assert seen_off > 1.5 and off < seen_off / 2
