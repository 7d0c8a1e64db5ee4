"""What a photo is, what light lies on it, and how good it is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSettings:
    """What counts as a picture that can be read.

    Attributes:
        least_side_px: a smaller picture holds no stripe of a few threads at 4 px per thread.
        largest_pixels: the largest phone sensors have 200 million pixels; more is a mistake or
            an attack on memory.
        largest_bytes: so many pixels with three times 16 bits, and some room for notes.
    """

    least_side_px: int = 64
    largest_pixels: int = 201_000_000
    largest_bytes: int = 1_300_000_000


LOAD = LoadSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class CardSettings:
    """Finding the printed scale card.

    Attributes:
        working_sides: longer side in px of the reduced pictures in which marks are sought; at
            the larger one a mark of 17.5 mm still has 3 px per cell in a field of 2 m.
        least_marks: two marks give eight corners for the eight numbers of a homography twice.
        corner_window: half window of the corner refinement, in cells; the black border of a
            mark is one cell wide, and nothing else may enter the window.
        largest_misfit: rms distance of a mark's corners from the common plane, in mark sides;
            0.03 is half a millimetre, as a card that does not lie flat shows.
        print_error: relative length error of an office printer at 100 % (common practice, no
            source).
        patch_share: inner part of a grey patch that is averaged, free of its blurred rim.
        patch_unevenness: largest spread (10th to 90th percentile) over the mean of a patch that
            nothing hides; light falls off by a few per cent over 2 cm at most.
        dark_noise: spread in linear light that sensor noise and grain alone give a dark patch.
    """

    working_sides: tuple[int, ...] = (1200, 2400)
    least_marks: int = 2
    corner_window: float = 0.7
    largest_misfit: float = 0.03
    print_error: float = 0.002
    patch_share: float = 0.6
    patch_unevenness: float = 0.35
    dark_noise: float = 0.05


CARD = CardSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class LightSettings:
    """How the illumination is told from the cloth.

    Attributes:
        cell_px: side in small pixels of the cells that are fitted; it holds a weave repeat.
        spans: splines over the longer and the shorter side; a soft shadow's edge is a fifth of
            the picture wide, and a spline must be narrower.
        rounds: fits in turn of the cloth's sums and of the illumination.
        more_rounds: of them where a shadow's edge was found, which smooth light imitated.
        most_edges: of shadows along one axis.
        least_marks: contrast of the other axis' stripes, against the light, that tells.
        least_light: linear light below which cloth counts as this dark; the noise of a photo.
        most_rest: largest relative change taken from one cell in one round.
        cell_noise: relative scatter of a cell's light: threads differ by a few percent.
        alike_cells: neighbouring cells that scatter together, as parts of one stripe do.
        bend: bending of log illumination between tenths of the picture, one sigma; a lamp at
            half a metre over a cloth of half a metre bends it by about this.
        most_log_light: log illumination, one sigma, where nothing tells.
        least_gain_error: relative error of a contrast that more cells do not mend.
        independent_stripes: stripes whose contrast may err on its own, in an ordinary photo.
        gain_spread: slope of illumination along one axis, one sigma.
        uneven: brightest over dimmest part that is reported: one stop and a half.
        told_spread: error of a trend that the contrast tells, one sigma.
        bend_spread: bend of illumination along one axis, one sigma; a vignette of a fifth.
        trend_steps: steps in which the best trend is sought, coarse to fine.
        same_stripe: log light by which two stripes of one yarn differ.
        stripe_step: log light between neighbouring cells that begins another stripe.
        vote_weight: say of one pair of alike stripes against what is usual.
        least_strange: log light off the pattern that hides the cloth: a third ...
        strange_times: ... or so many times what is usual in this cloth.
        strange_cells: cells whose mean is judged: a repeat of four threads of ten pixels.
        rim: share of that which hides it beside such a place: a stain fades out.
        rim_cells: cells by which a rim goes on at most: as far as a place of that kind is wide.
        strange_light: share of the cloth's mean light below which errors are not relative.
        kin, least_kin: crossings elsewhere with which an odd one is compared, at most and least.
        kin_apart: log light by which they may differ.
        kin_cells: among about so many cells they are sought.
    """

    cell_px: int = 4
    spans: int = 8
    rounds: int = 5
    more_rounds: int = 4
    most_edges: int = 2
    least_marks: float = 0.1
    least_light: float = 0.01
    most_rest: float = 0.4
    cell_noise: float = 0.05
    alike_cells: float = 10.0
    bend: float = 0.05
    most_log_light: float = 1.0
    least_gain_error: float = 0.03
    gain_spread: float = 0.3
    told_spread: float = 0.1
    bend_spread: float = 0.1
    trend_steps: tuple[float, ...] = (0.05, 0.015)
    same_stripe: float = 0.05
    stripe_step: float = 0.06
    vote_weight: float = 3.0
    independent_stripes: float = 8.0
    uneven: float = 2.8
    least_strange: float = 0.3
    strange_times: float = 4.0
    strange_cells: int = 5
    rim: float = 0.4
    rim_cells: int = 12
    strange_light: float = 0.7
    kin: int = 40
    least_kin: int = 6
    kin_apart: float = 0.3
    kin_cells: int = 4000


LIGHT = LightSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadowSettings:
    """When light steps along an axis as at the edge of a shadow. Lengths are shares of the axis.

    Attributes:
        reaches: of the windows that are compared on both sides, within one stripe.
        widths: scales of the edge that are tried: of a thing near the cloth, and farther off.
        least: log step that a shadow makes at least; contrasts of yarns differ by a few percent.
        slack, share: by which the steps of colours and contrast may differ, or as a share.
        even: scatter of log light within a window, or a stripe ends there.
        near: within so little no lamp falls by that much.
        falling: share of the step that light would make which goes on as it falls beside it.
        least_shown: of the cloth, against the most.
        wider: by how much a softer edge must be higher to be preferred.
    """

    reaches: tuple[float, ...] = (0.03, 0.012)
    widths: tuple[float, ...] = (0.004, 0.012, 0.03)
    least: float = 0.15
    slack: float = 0.05
    share: float = 0.25
    even: float = 0.06
    near: float = 0.06
    falling: float = 0.5
    least_shown: float = 0.3
    wider: float = 1.1


SHADOW = ShadowSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class QualitySettings:
    """When a photo's quality is worth a word.

    Attributes:
        too_bright: linear light beyond which all channels are at the camera's stop (code 252).
        too_dark: linear light below which 8-bit codes are 1 or 2 and colours are noise.
        clipped_share: share of the cloth that is reported.
        glare_share: share of the cloth that one bright spot covers to be reported.
        look_px: side of the middle part that is looked at for sharpness.
        blurred_ratio: change over one pixel against that over four; a pure ramp has 0.25.
    """

    too_bright: float = 0.97
    too_dark: float = 0.0008
    clipped_share: float = 0.02
    glare_share: float = 0.005
    look_px: int = 1024
    blurred_ratio: float = 0.3


QUALITY = QualitySettings()
