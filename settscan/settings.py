"""Every number the eye uses, with its reason and its unit.

One frozen class for each part of the eye; the single instance below it is what that part reads.
Nothing here was tuned on pictures: each number follows from optics, print sizes or the trade.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSettings:
    """What counts as a picture that can be read.

    Attributes:
        least_side_px: a smaller picture holds no stripe of a few threads at 4 px per thread.
        largest_pixels: the largest phone sensors have 200 million pixels; more is a mistake or
            an attack on memory.
    """

    least_side_px: int = 64
    largest_pixels: int = 201_000_000


LOAD = LoadSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierSettings:
    """How the waves of the weave are found and followed.

    Attributes:
        tile_px: side of a spectrum tile: some twenty weave repeats at 3 px per thread, yet short
            enough that a pitch wandering by 10 % stays in a few bins.
        most_tiles: enough to average the noise; more only costs time.
        least_cover: a tile with less cloth than this is left out.
        least_cycles: waves longer than a sixth of a tile are shading, not threads.
        least_strength: power over the median of its ring; chance alone reaches about 3 after the
            3 x 3 mean of some tens of tiles.
        most_carriers: a weave has two diagonals and their overtones; more are not used.
        window_cycles: two cycles pass a wandering of a quarter and still part plain from twill.
        hop_cycles: half a cycle, so that a step can never be mistaken for the next cycle.
        bands: parts along a thread within which a drift of the cloth may be neglected.
        least_coherence: below this a step is guessed from its neighbours and counts as doubtful.
    """

    tile_px: int = 256
    most_tiles: int = 48
    least_cover: float = 0.7
    least_cycles: float = 6.0
    least_strength: float = 4.0
    most_carriers: int = 6
    window_cycles: float = 2.0
    hop_cycles: float = 0.5
    bands: int = 12
    least_coherence: float = 0.25


CARRIERS = CarrierSettings()


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
class FlattenSettings:
    """How a photo is made flat.

    "Small pixels" are those of the picture reduced for estimating.

    Attributes:
        vote_pixels: small pixels of the picture that votes on directions; tiles of it must still
            show several stripes.
        vote_tile_px: side of a voting tile, small pixels: a tenth of the picture.
        vote_step_px: distance of voting tiles, half overlapping.
        least_tile_shown: share of a tile that must be visible.
        least_cycles: lowest frequency that has a direction, cycles per tile: below it the
            window's own width covers all directions.
        most_frequency: highest frequency used, cycles per small pixel; beyond it lie corners of
            the spectrum and compression noise.
        least_power: power of a flat tile, so that noise in it does not vote; half a step of
            8-bit coding per pixel.
        most_meet: strongest convergence, per half diagonal: 45 degrees of tilt at a diagonal
            field of view of 40 degrees each way.
        meet_steps: convergences tried; the step turns lines at the corner by about one degree
            and a half.
        most_skew_degrees: how far from square two thread families may cross; a camera tilt of
            35 degrees or cloth pulled on the bias.
        least_strength: spreads above other directions that make a family seen.
    """

    vote_pixels: int = 400_000
    vote_tile_px: int = 96
    vote_step_px: int = 48
    least_tile_shown: float = 0.6
    least_cycles: int = 3
    most_frequency: float = 0.4
    least_power: float = 1e-2
    most_meet: float = 0.5
    meet_steps: int = 41
    most_skew_degrees: int = 14
    least_strength: float = 6.0
    line_smooth_px: float = 6.0
    edge_smooth_px: float = 1.5
    most_slope: float = 0.5
    least_gradient: float = 0.001
    slope_floor: float = 0.002


FLATTEN = FlattenSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class StripeSettings:
    """How bands of one colour are told apart.

    Attributes:
        least_cell_px: nothing smaller than about two pixels can be told from noise.
        least_gap_cells: two edges closer than this share of a thread are one edge.
        least_jump: CIELAB units in the mixed profile; the weft halves what the eye would see,
            and one unit is what an eye just notices.
        most_candidates: bounds the exact search; a cloth of 300 stripes has 301 edges.
        cut_price: in units of chi squared over three channels: chance alone passes 16 about once
            in a thousand.
        blur_cells: trial blurs in threads.
        rounds: Gauss-Newton steps; three bring a start within a pixel to a thousandth.
    """

    least_cell_px: float = 1.5
    least_gap_cells: float = 0.6
    least_jump: float = 1.0
    most_candidates: int = 1200
    cut_price: float = 20.0
    blur_cells: tuple[float, ...] = (0.1, 0.25, 0.45, 0.7)
    rounds: int = 6


STRIPES = StripeSettings()
