"""A picture parted into columns and rows, and the light that is left in them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SeparateSettings:
    """How the picture is separated into what columns and rows give.

    Attributes:
        least_cover: columns and rows with a smaller share of cloth are left out.
        rounds: alternations of columns and rows.
        least_patch_px: patches are no smaller, or noise would decide.
        cleanings: what is left out lets the rest fit better and shows more.
        foreign_share: relative error of a patch that light falling off cannot explain.
        foreign_times: and so many times the usual error, for a cloth that fits badly everywhere.
        foreign_line_share, foreign_line_times: the same for the upper quartile along a whole
            line of patches.
        blind_cover: a column or row with a smaller share of cloth is not measured, unless as many
            pixels show as a patch is wide.
        blind_px: the same where the patch is not known.
        least_light: share of the cloth's mean light below which errors are not relative: dark
            threads beside bright ones are seen with the errors of the bright.
        most_light: share by which a whole line may be brighter or darker than the cloth around.
        steadiest: weave's power, relative to the mean, below which a line weighs no more.
    """

    least_cover: float = 0.12
    rounds: int = 8
    least_patch_px: int = 8
    cleanings: int = 5
    foreign_share: float = 0.35
    foreign_times: float = 5.0
    foreign_line_share: float = 0.15
    foreign_line_times: float = 4.0
    blind_cover: float = 0.1
    blind_px: int = 64
    least_light: float = 0.7
    most_light: float = 0.5
    steadiest: float = 0.1


SEPARATE = SeparateSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class GainSettings:
    """Light that falls off along one axis.

    Attributes:
        degree: of the polynomial: a lamp, a window and the lens give no sharper changes.
        patch_px: side of the patches: smaller than stripes, larger than noise.
        least_patches: fewer along an axis do not fix the polynomial.
        rounds: of taking out the stronger light; each leaves a tenth.
        least_change: of the light over the picture that is worth another round.
        least_significance: standard errors that a coefficient must exceed.
        least_marks: contrast of the other axis, against the light, that is one of stripes; threads
            of one yarn come to two thirds of it.
        most: larger changes of light are a shadow's edge, not falling off.
    """

    degree: int = 3
    patch_px: int = 4
    least_patches: int = 16
    rounds: int = 6
    least_change: float = 0.001
    least_significance: float = 3.0
    least_marks: float = 0.1
    most: float = 2.0


GAIN = GainSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class CreaseSettings:
    """Light that changes within a stripe.

    Attributes:
        hue: by which the logarithms of the three channels' ratios may differ among two parts of one
            hue.
        narrow_hue: the same from one part to one beside it that is a thread or two wide.
        hue_share: the same, as a share of the ratio: a fold has a little light of its own.
        least: logarithm of a ratio of levels below which the light is even enough.
        most: the same above which a shadow is too dark to be read.
        most_step: the same from a part to one beside it, too narrow to tell, in the same light.
        least_threads: a narrower part does not tell its slope.
        least_error: of a slope: threads of one yarn are not all equally thick.
        errors, errors_beside: standard errors by which a slope must differ, and so must that beside
            a part in such light.
        agree: standard errors, and
        share: of the levels' ratio, by which slope and level may differ: tone and gloss are not
            quite straight.
    """

    hue: float = 0.04
    narrow_hue: float = 0.08
    hue_share: float = 0.3
    least: float = 0.08
    most: float = 0.8
    most_step: float = 0.2
    least_threads: float = 3.0
    least_error: float = 0.02
    errors: float = 4.0
    errors_beside: float = 1.5
    agree: float = 2.0
    share: float = 0.25


CREASES = CreaseSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneSettings:
    """How the camera's tone curve is found.

    Attributes:
        least_patches: fewer patches each way show too few crossings.
        least_cover: share of a patch that must be cloth.
        bright: linear light that may have been cut off before the lamp was evened out.
        most_cut: share of a patch that may be so bright.
        reach: of the terms in the first search; a strong S-curve has 0.6.
        spread: of the terms before anything is seen, one standard deviation.
        usual_rest: share of the variation that uneven light and yarn leave over anyhow.
        crossings: independent crossings of stripes in an ordinary photo.
    """

    least_patches: int = 12
    least_cover: float = 0.5
    bright: float = 0.85
    most_cut: float = 0.03
    reach: float = 0.8
    spread: float = 0.3
    usual_rest: float = 0.0001
    crossings: float = 25.0


TONE = ToneSettings()
