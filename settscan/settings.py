"""Every number the eye uses, with its reason and its unit.

One frozen class for each part of the eye; the single instance below it is what that part reads.
Each number follows from optics, print sizes or the trade; one that was settled by trial on
made-up pictures instead says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


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
class PieceSettings:
    """How several cloths in one photo are told from what they lie on.

    Attributes:
        blocks: along the longer side; a swatch of a page of forty is then some tens wide.
        frame: blocks from the edge that show what lies under the cloths.
        least_frame: fewer blocks of it, the rest under rulers, say nothing.
        rounds: of fitting light that falls off and leaving out what is no part of it.
        least_spread: of lightness, the two colours and texture; paper has no less, after JPEG.
        most_spread: likewise; boards and carpets differ by a fifth in light, which is some eight
            units of lightness, but hardly in colour; more is a pattern, and so a cloth.
        texture_weight: makes a texture half as strong again count as much as 2 units of CIELAB.
        unlike: spreads away from the frame; chance alone goes beyond three and a half in four
            directions once in 200 blocks.
        surely_unlike: where two kinds do not part clearly, a half more than that.
        farthest: spreads beyond which all is alike strange.
        one_kind: share of the frame that must be of one kind, or it is a cloth itself.
        close: blocks over which a stripe of the ground's own colour is bridged.
        clear: blocks of ground between two cloths, or between a cloth and a ruler.
        least_side_px: a smaller swatch holds no stripes that could be read.
        least_share: of the photo.
        longest: a longer, narrower thing is a ruler, a label or a hand.
        least_filled: share of its rectangle that a swatch fills, frayed as it may be.
        margin: share of the shorter side that is shown around a cloth.
    """

    blocks: int = 400
    frame: int = 6
    least_frame: int = 200
    rounds: int = 4
    least_spread: tuple[float, float, float, float] = (2.0, 1.5, 1.5, 1.0)
    most_spread: tuple[float, float, float, float] = (8.0, 4.0, 4.0, 5.0)
    texture_weight: float = 5.0
    unlike: float = 3.5
    surely_unlike: float = 5.25
    farthest: float = 20.0
    one_kind: float = 0.85
    close: int = 4
    clear: int = 3
    least_side_px: int = 150
    least_share: float = 0.005
    longest: float = 5.0
    least_filled: float = 0.8
    margin: float = 0.12


PIECES = PieceSettings()


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
        least_slope: a line in which crossing stripes show with less than this share of their
            contrast is no cloth.
        blind_cover: a column or row with a smaller share of cloth is not measured, unless as many
            pixels show as a patch is wide.
        blind_px: the same where the patch is not known.
        least_light: share of the cloth's mean light below which errors are not relative: dark
            threads beside bright ones are seen with the errors of the bright.
        telling: contrast of the crossing stripes, over the line's own light, that tells at all;
            light that is left over makes a bright line vary by as much as dark stripes do.
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
    least_slope: float = 0.5
    blind_cover: float = 0.1
    blind_px: int = 64
    least_light: float = 0.7
    telling: float = 0.15
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
        most: larger changes of light are a shadow's edge, not falling off.
    """

    degree: int = 3
    patch_px: int = 4
    least_patches: int = 16
    rounds: int = 6
    least_change: float = 0.001
    least_significance: float = 3.0
    most: float = 2.0


GAIN = GainSettings()


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
        chance_spreads: among some ten thousand bins chance reaches four and a half spreads.
        most_unlike: ratio of the two periods of a weave's wave; ends and picks differ by less than
            a factor of three even in rep.
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
    chance_spreads: float = 4.7
    most_unlike: float = 4.0
    most_carriers: int = 8
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

    "Small pixels" are those of the picture reduced to `small_pixels` for estimating; weights of
    observations are one over variance throughout.

    Attributes:
        small_pixels: of the picture that is estimated on: averaging 30 small pixels along a
            stripe places its edge to a few hundredths, a tenth of a photo pixel at 12 million.
        most_pixels: of a flat picture; a larger one is sampled at a half, a third ... of the photo
            so that it fits the memory of a small computer.
        vote_pixels: of the picture that votes on directions; tiles of it must still show
            several stripes.
        vote_tile_px: side of a voting tile, small pixels: a tenth of the picture.
        vote_step_px: distance of voting tiles, half overlapping.
        least_tile_shown: share of a tile that must be visible.
        least_cycles: lowest frequency that has a direction, cycles per tile: below it the
            window's own width covers all directions.
        most_frequency: highest frequency used, cycles per small pixel; beyond it lie corners of
            the spectrum and compression noise.
        least_power: power of a flat tile, so that noise in it does not vote; half a step of
            8-bit coding per pixel.
        most_meet: strongest convergence, per half diagonal: 35 degrees of tilt through a lens
            that sees 70 degrees across its diagonal.
        meet_steps: convergences tried; the step turns lines at the corner by about one degree
            and a half.
        most_skew_degrees: how far from square two thread families may cross; a camera tilt of
            35 degrees or cloth pulled on the bias.
        least_strength: mean log power above other directions that makes a family seen; the mean
            over a hundred tiles and thirty frequencies of noise alone stays below 0.05.
        line_smooth_px: smoothing along lines before their slope is read (sigma): four repeats
            of a twill at 6 photo pixels a thread, so that nothing of its diagonals is left to
            pull the plane.
        fold_smooth_px: the same for local slopes: two repeats, and short against a fold.
        edge_smooth_px: smoothing across lines (sigma); keeps the narrowest stripes.
        most_slope: lines that lean more after the vote are of another kind (twill, ruler);
            drape of 10 % and a lens of 5 % at the corner together stay below.
        least_gradient: of a flat tile, per small pixel; the noise of 8-bit coding.
        slope_floor: error of a tile's slope that more contrast does not mend.
        slope_tile_px: side of the tiles whose slopes are read.
        plane_rounds: fits in turn of the plane and looks at the picture; each leaves a tenth.
        first_slope_spread: scatter of slopes about the voted plane, before anything is fitted.
        least_slope_spread: scatter of slopes in a cloth that lies flat.
        lens_spread: radial term of ordinary lenses at the corner, one sigma.
        meet_spread: convergence of photos taken by hand, one sigma.
        most_lens: largest radial term believed; twice that of a wide phone lens.
        independent_parts: parts of a picture whose drape differs, about four by four.
        least_field_error_px: error of the field that is always left, photo pixels.
        field_spans: splines over the longer side; a fold is a fifth of the picture or more.
        correlated_slope: error of slopes that neighbouring tiles share.
        slope_scale: deviation from a smooth field at which a tile's slope loses its say.
        drape_slope: slopes of cloth laid down by hand, one sigma ...
        drape_reach: ... and the share of the picture over which they change.
        drape_most: shift where nothing is seen, share of the picture, one sigma.
        register_blurs_px: blur of stripe profiles while registering, coarse to fine: the first
            catches what the slopes leave, the last keeps single threads out.
        coarse: size of the picture for the first estimates against the small one.
        shares: times that drape and plane are told apart on the coarse picture.
        band_px: height of the bands that are registered; drape of 10 % moves a stripe by three
            pixels in one band.
        register_step_px: distance of the windows along a band.
        register_window_px: their reach (sigma): wider than most stripes.
        register_correlation: neighbouring pixels of a profile that err together, as a thread's
            width and the blur make them.
        least_register_px: misfit at which a window loses its say, at least.
        least_band_shown: share of a band that must be visible at a window.
        least_profile_noise: of a band's mean, root of light; keeps empty windows from counting.
        least_shift_error_px: best that a window can do.
        extent_rounds: columns and rows in turn; the second round looks within the first.
        strip_px: width of the strips compared with their neighbours; two threads or more.
        least_strip_shown: share of a strip that must be visible.
        least_agreement: correlation of two strips of one cloth; strangers reach 0.3 by chance.
        least_run: share of the strips that must agree, else the stripes run one way only.
        strip_slack_px: shift between distant parts of a cloth before it is straight.
        fine_strip_px: width of the strips that find an edge.
        fine_slack_px: so far aside may the marks of a narrow strip lie.
        marks_blur_px: smoothing of a fine strip's marks (sigma), wider than a weave repeat.
        least_fine_shown: share of a fine strip that must be visible.
        least_usual: usual correlation with the body below which stripes run one way only.
        least_judged: share of a strip, against the fullest, needed to call it no cloth.
        like_usual: correlation with the body, against the usual, that makes a strip cloth;
            a fringe keeps the warp's colours and reaches two thirds.
        like_slack: by how much less will do for a strip of which next to nothing shows.
        most_strange_strips: strips of no cloth that end it; less is a hidden spot.
        most_like_table: likeness over the cloth's own below which a strip is none; more may be.
        least_resumed: strips in a row like the cloth's beyond which it goes on after all.
        look_around: how far beyond the sure part the edge is sought, share of its size.
        recrops: so many times, as long as the area grows by the factor `grown`.
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
    least_strength: float = 0.15
    line_smooth_px: float = 20.0
    fold_smooth_px: float = 10.0
    edge_smooth_px: float = 1.5
    most_slope: float = 0.25
    least_gradient: float = 0.001
    slope_floor: float = 0.002
    slope_tile_px: int = 48
    plane_rounds: int = 3
    first_slope_spread: float = 0.1
    least_slope_spread: float = 0.003
    lens_spread: float = 0.03
    meet_spread: float = 0.2
    most_lens: float = 0.12
    field_spans: int = 10
    independent_parts: float = 15.0
    least_field_error_px: float = 0.05
    correlated_slope: float = 0.01
    slope_scale: float = 0.05
    drape_slope: float = 0.1
    drape_reach: float = 0.25
    drape_most: float = 0.05
    register_blurs_px: tuple[tuple[float, ...], ...] = ((5.0, 2.5), (1.2,))
    coarse: float = 0.6
    shares: int = 2
    small_pixels: int = 1_000_000
    most_pixels: int = 24_000_000
    band_px: int = 32
    register_step_px: int = 24
    register_window_px: float = 20.0
    register_correlation: float = 6.0
    least_register_px: float = 2.0
    least_band_shown: float = 0.3
    least_profile_noise: float = 0.002
    least_shift_error_px: float = 0.03
    extent_rounds: int = 2
    strip_px: int = 12
    least_strip_shown: float = 0.3
    least_agreement: float = 0.55
    least_run: float = 0.12
    strip_slack_px: int = 6
    fine_strip_px: int = 3
    fine_slack_px: int = 3
    marks_blur_px: float = 4.0
    least_fine_shown: float = 0.15
    least_usual: float = 0.3
    least_judged: float = 0.35
    like_usual: float = 0.75
    like_slack: float = 0.3
    most_strange_strips: int = 12
    least_resumed: int = 6
    most_like_table: float = 0.5
    look_around: float = 0.3
    recrops: int = 3
    grown: float = 1.03

    def coarser(self) -> FlattenSettings:
        """The same lengths on the cloth in a picture that is smaller by `coarse`."""
        f = self.coarse
        return replace(
            self,
            line_smooth_px=self.line_smooth_px * f,
            fold_smooth_px=self.fold_smooth_px * f,
            slope_tile_px=round(self.slope_tile_px * f),
            band_px=round(self.band_px * f),
            register_step_px=round(self.register_step_px * f),
            register_window_px=self.register_window_px * f,
            register_blurs_px=tuple(tuple(b * f for b in bs) for bs in self.register_blurs_px),
            strip_px=round(self.strip_px * f),
            fine_strip_px=round(self.fine_strip_px * f),
            marks_blur_px=self.marks_blur_px * f,
        )


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
        mixture_cells: a band narrower than this may be a blurred edge.
        mixture_off: how far off the straight line between its neighbours it may lie, as a share
            of their difference; a yarn of its own seldom lies so near.
        blur_cells: trial blurs in threads.
        rounds: Gauss-Newton steps; three bring a start within a pixel to a thousandth.
    """

    least_cell_px: float = 1.5
    least_gap_cells: float = 0.6
    least_jump: float = 1.0
    most_candidates: int = 1200
    cut_price: float = 20.0
    mixture_cells: float = 1.4
    mixture_off: float = 0.12
    blur_cells: tuple[float, ...] = (0.1, 0.25, 0.45, 0.7)
    rounds: int = 6


STRIPES = StripeSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class PaletteSettings:
    """How bands become yarns.

    Attributes:
        same_yarn: CIEDE2000 below which two levels are one yarn: between the scatter of one
            yarn's stripes (1 to 3) and the least difference that weavers use (about 6).
        start_apart: CIEDE2000 within which bands are taken together before errors are weighed;
            an eye sees no less.
        same_both_ways: CIEDE2000 within which a warp and a weft colour that are each other's most
            alike are one yarn; shading and the camera's tone curve part them.
        line_difference: CIEDE2000 by which a line of one thread must differ from its neighbours;
            for n threads an n-th of it.
        single_thread: threads up to which a line may be diluted by blur.
        least_undiluted: share of its own colour that a line of one thread keeps.
        dilution_off: how far off the straight line between yarn and neighbours it may lie, as a
            share of their difference.
        trusted_end_threads: a band cut by the frame that is narrower than this has a colour that
            the picture's border may have spoilt.
        near_end: CIEDE2000 within which such a band takes the most alike yarn.
        least_apart: standard deviations by which the mean of a class must differ from another
            class; among some hundred threads the boldest few neighbours reach 4.
        level_doubt: what is left of uneven light and of neighbours' blur in a level, however many
            threads it is the mean of; CIELAB units at L* = 50, doubled like the levels.
        shares: trial weights of the column threads; beyond these one set hides the other.
        usual_shares: shares of the usual weaves and the price of each: plain and balanced twills
            are even, 2/1 and 3/1 show one set of threads in two places of three or three of four.
        share_spread: how far from these a share usually lies; thicker threads hide more.
        refined_trials: best trials that are refined by least squares.
        refinements: rounds of pairing and fitting; the pairs settle in two.
        most_outside: mean linear light outside what yarn can reflect that costs as much as a yarn
            that does not match.
        scatter_weight: the scatter, which is seen in thousands of pixels, against the match of
            yarns that run both ways, which need not be.
        new_yarn: price of a class that runs one way only, in units of `same_yarn`.
    """

    same_yarn: float = 4.5
    start_apart: float = 1.5
    same_both_ways: float = 9.0
    line_difference: float = 14.0
    single_thread: float = 1.6
    least_undiluted: float = 0.55
    dilution_off: float = 0.15
    trusted_end_threads: float = 6.0
    near_end: float = 15.0
    least_apart: float = 6.0
    level_doubt: float = 0.7
    shares: tuple[float, ...] = tuple(round(0.12 + 0.02 * i, 2) for i in range(39))
    usual_shares: tuple[tuple[float, float], ...] = (
        (0.25, 0.15),
        (0.33, 0.15),
        (0.5, 0.0),
        (0.67, 0.15),
        (0.75, 0.15),
    )
    share_spread: float = 0.15
    refined_trials: int = 6
    refinements: int = 3
    most_outside: float = 0.01
    scatter_weight: float = 8.0
    new_yarn: float = 1.0


PALETTE = PaletteSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadSettings:
    """How threads are counted.

    Attributes:
        least_agreement: median agreement of a course, on either axis, for a wave to be believed;
            noise gives 0.2 to 0.45, a napped cloth 0.85.
        shading_weight: of the unsigned shading against the signed contrast, at equal power.
        passes: the second follows the course of the first, which noise had pulled to the mean.
        least_ripple: power over the median of its octave for a ripple to be believed alone; with
            some hundred independent frequencies chance reaches 10, stripes that the fit misses 20.
        least_ripple_told: the same where the other axis tells which pace it must have.
        ripple_segment_px: spectrum segments; the pitch wanders little within them.
        ripple_low: no thread is wider than 50 pixels in a photo that shows a repeat.
        ripple_high: just under two pixels per thread (sampling theorem).
        ripple_windows: a single ripple has no second axis to average over, so its window is
            longer than the weave's.
        multiples: threads in one cycle of the weave and log of how much rarer it is: plain,
            2/1, 2/2 and 3/1 (also hopsack and herringbone), then longer twills.
        unseen_ripple: log strength granted to a ripple that the pixels are too coarse to show.
        overtone: log power at four times the wave's frequency over that at twice, free of blur,
            halfway between a plain weave (the overtone of round threads) and a hopsack (the
            single threads themselves); seen on rendered cloth of 4 to 8 pixels a thread.
        overtone_apart, overtone_spread: how far the two are apart, and one standard deviation.
        most_overtone: bound of what one axis may say, as a log chance; most_absent: of what the
            absence of the ripple may say.
        easily_lost: cycles per pixel beyond which blur and coding leave little of a ripple.
        most_lost: bound of what the absence of so fine a ripple says, as a log chance.
        hardly_shown: cycles per pixel beyond which its absence says nothing.
        wrong_diagonals: log penalty for a plain weave that shows one diagonal only.
        odd_diagonals: log of how much rarer than a plain weave the others are that show both
            (herringbone, hopsack): six times, a judgement, no source.
        no_ripple: log strength below which the ripple does not keep step with the weave.
        plain_ripple: log strength that threads have which are wide enough to show.
        own_pace: how far from a whole number the pace of the ripple over that of the weave's wave
            may be where the wave has slipped.
        missing_ripple: log penalty for threads so wide that they would show, where only finer do.
        usual_blur_px: standard deviation of an ordinary photo's blur: the pixel's area (0.29),
            the lens and the colour mosaic together.
        blur_spread_px2: spread of its square from photo to photo, sharpening counted in.
        expected_spread: relative spread (as a logarithm) of a pitch that follows from a density
            that somebody gave and the scale.
        most_unexpected: bound of its log penalty.
        edge_weight: log penalty when no edge falls between threads.
    """

    least_agreement: float = 0.6
    shading_weight: float = 0.3
    passes: int = 2
    least_ripple: float = 30.0
    least_ripple_told: float = 15.0
    ripple_segment_px: int = 512
    ripple_low: float = 0.02
    ripple_high: float = 0.49
    ripple_windows: CarrierSettings = CarrierSettings(window_cycles=8.0, hop_cycles=0.5)
    multiples: tuple[tuple[int, float], ...] = (
        (2, 0.0),
        (3, -0.5),
        (4, 0.0),
        (5, -1.5),
        (6, -1.75),
        (8, -2.0),
    )
    unseen_ripple: float = 2.5
    overtone: float = -0.35
    overtone_apart: float = 3.3
    overtone_spread: float = 0.8
    most_overtone: float = 4.0
    most_absent: float = 2.0
    easily_lost: float = 0.28
    most_lost: float = 0.5
    hardly_shown: float = 0.4
    wrong_diagonals: float = 6.0
    odd_diagonals: float = 1.8
    no_ripple: float = 1.0
    plain_ripple: float = 2.0
    missing_ripple: float = 4.0
    own_pace: float = 0.2
    usual_blur_px: float = 0.6
    blur_spread_px2: float = 0.25
    expected_spread: float = 0.08
    most_unexpected: float = 15.0
    edge_weight: float = 8.0


THREADS = ThreadSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerSettings:
    """Finding a ruler and reading its ticks.

    A strip is a band of the photo along a straight edge, a comb a row of equal ticks in it, the
    core of a comb the rows in which all its ticks stand. "Rows" and "samples" are pixels of the
    pyramid level that a strip is cut from. Shares and tolerances that state no reason were
    settled by trial on drawn rulers, with room on both sides.

    Attributes:
        line_sides: longer sides in px of the reduced pictures in which edges are sought.
        line_turn: edges that differ by less (radians) and lie close are looked along once.
        least_level_side: no smaller picture is made; a ruler there has no ticks left.
        search_side: longer side of the largest picture in which ticks are looked for.
        most_choices: so many spacings, the likeliest of all strips, are followed along.
        least_piece: shortest piece of an edge in px of the reduced picture.
        least_line: least summed length of the pieces of an edge, over the longer side.
        line_width: pieces of one edge lie within so many px of it.
        most_lines: edges kept at each size; a check has about a hundred.
        strip_half: half width in rows of a strip: at 7 px per mm it holds the ticks of a scale.
        row_px: rows averaged before looking for ticks; the shortest ticks have twice that.
        window: samples in a piece whose tick spacing is measured: 9 ticks or more.
        short_strip: a strip of fewer samples is looked at in pieces of half that size.
        finest_px: smallest tick spacing looked for; below 2 there are no ticks (sampling).
        widest_px: largest spacing at one level; the next level has half of it.
        least_comb: share of a piece's variation that equal ticks explain at least.
        least_score: least sum of these shares over a comb: two clear pieces, or more faint ones.
        combs_per_strip: so many spacings are tried in a strip; both edges of a scale, and cloth.
        spacing_match: relative tolerance of the root of a piece's spacing within a comb.
        end_match: the same for telling where a comb ends: cloth may have nearly its spacing.
        tallest_core: the finest ticks of a scale are no longer than so many spacings.
        tick_noise: usual error of a tick's place, in spacings.
        usual_bend: usual share by which a phone's lens moves the picture's corners.
        most_slip: rms error of phases, in spacings, above which a comb has lost count.
        least_tilt: rows by which a comb must run aslant for its rows to be laid along it.
        most_tilt: rows by which a comb may run aslant before its strip is cut anew.
        long_strip: samples from which on the lean of ticks may change along a ruler.
        gap_rows: plain rows after which a tick has ended (a numeral may follow).
        gap_px: the same in photo px; the blur of a lens closes smaller gaps.
        most_combs: so many combs are examined closely.
        scale_depth_mm: ticks and numerals of one scale reach so far from their feet.
        least_ticks: fewest ticks of which an order of lengths can be told.
        most_ticks: so many are looked at to tell their order.
        reach_ticks: how far beside a comb longer ticks and numerals are looked at, in spacings.
        least_spread: mean deviation of lengths, in spacings; of eighths it is a quarter.
        least_longer: by how many tick spacings a longer class of ticks is longer at least: of
            eighths of an inch, by half a millimetre.
        least_longer_px: the same in photo px; the mean of many ticks is known to a part of one.
        length_noise: error of the mean length of ticks, in spacings, that more ticks do not mend.
        least_step: a step between classes of ticks, in its own standard deviations.
        plain_step: steps beyond so many are all as plain.
        chance_share: share of the spread of n lengths that one more class explains by chance,
            times n.
        sure_agree: share of single ticks of the right length that needs no numerals as witness.
        sure_share: the same for the share of lengths explained.
        half_cm_px: px per 5 mm between which millimetres cannot be seen, but 5 mm can.
        most_quarter_px: quarters of an inch farther apart would show the eighths between them.
        most_between: darkness half-way between ticks of 5 mm over theirs, where nothing stands.
        finest_divided_px: finest ticks in px that are looked for where coarse ones tell the place.
        clear_wave: strength of ticks there over that of spacings that divide nothing.
        few_ticks: the scatter of fewer lengths is not known from themselves.
        least_agree: share of very many single ticks that must have the length of their class; by
            chance a half or less has.
        agree_spread: what must be added for few, times the root of their number: chance spreads
            the share of n ticks by 0.5 over that root.
        least_periods: so many periods of an order must show, for two of its longest ticks.
        largest_residual: rms error of tick places, in spacings; threads wander by more.
        most_outside: ticks' strength beyond their feet over that in the core: none, but cloth of
            the same spacing may adjoin.
        most_outside_short: the same in a short piece, where chance plays a larger part.
        shortest_tick_mm: ticks on rulers are hardly shorter.
        longest_tick_mm: longest ticks on rulers and tapes are so long.
        numeral_ink: where numerals stand is at least so many times more ink than on bare ruler.
        least_ink: share of the place of a numeral that it covers at least.
        most_inked: share of whole inches whose numeral must show.
        stand_out: share of pairs of a longest and a second longest tick that differ plainly.
        thin_px: a tick's line and its blur reach so far to either side.
        as_dark: ink is darker than the ruler by so much of what usual ticks are.
        ink_alike: one numeral has hardly so many times the ink of another, and some numerals less.
        least_seen: share of a comb's ticks that must be seen one by one.
        spare_ticks: so many ticks beyond either end of a comb are looked at: the window that found
            it did not hold its last ones.
        plain_end: share of the core's rows in which such a tick must show.
        ticks_alike: so many neighbouring ticks share one error (waves of three, and blur).
        make_error: relative error of rulers themselves: school rulers keep about 0.3 mm in
            300 mm (class II of the EU rules on measures of length, from memory).
        overruled: a scale of the same ruler that disagrees must have less than this share of
            the better one's evidence, or both are dropped.
        widest_mm: rulers are no wider.
        margin_mm: so far the body is followed beyond the last tick that was seen.
        inset_mm: ticks begin no farther from the edge of the body.
        agree: scales of two edges of a ruler may differ by so much, from perspective.
        most_apart: ratio of the scales of two rulers on one cloth; at a tilt of 20 degrees the
            far edge of a wide photo is a third smaller than the near one.
    """

    line_sides: tuple[int, ...] = (1100, 550)
    line_turn: float = 0.02
    least_level_side: int = 250
    search_side: int = 2100
    most_choices: int = 120
    least_piece: float = 8.0
    least_line: float = 0.05
    line_width: float = 1.6
    most_lines: int = 80
    strip_half: int = 48
    row_px: int = 4
    window: int = 64
    short_strip: int = 400
    finest_px: float = 2.2
    widest_px: float = 7.0
    least_comb: float = 0.3
    least_score: float = 1.5
    combs_per_strip: int = 4
    tick_noise: float = 0.02
    most_slip: float = 0.12
    least_tilt: float = 1.0
    most_tilt: float = 2.0
    tallest_core: float = 10.0
    usual_bend: float = 0.01
    gap_rows: float = 2.0
    gap_px: float = 1.5
    long_strip: int = 300
    spacing_match: float = 0.03
    end_match: float = 0.01
    most_combs: int = 40
    scale_depth_mm: float = 15.0
    least_ticks: int = 12
    most_ticks: int = 200
    reach_ticks: int = 12
    least_spread: float = 0.04
    least_longer: float = 0.15
    least_longer_px: float = 0.6
    length_noise: float = 0.035
    least_step: float = 3.5
    plain_step: float = 12.0
    chance_share: float = 2.0
    sure_agree: float = 0.9
    sure_share: float = 0.6
    half_cm_px: tuple[float, float] = (4.5, 14.0)
    most_quarter_px: float = 14.0
    most_between: float = 0.4
    finest_divided_px: float = 1.9
    clear_wave: float = 3.0
    few_ticks: int = 4
    least_agree: float = 0.6
    agree_spread: float = 1.2
    least_periods: float = 1.4
    largest_residual: float = 0.06
    most_outside: float = 0.4
    most_outside_short: float = 0.5
    shortest_tick_mm: float = 1.2
    longest_tick_mm: tuple[float, float] = (3.0, 16.0)
    numeral_ink: float = 2.0
    least_ink: float = 0.03
    most_inked: float = 0.8
    stand_out: float = 0.8
    thin_px: float = 1.5
    as_dark: float = 0.5
    ink_alike: float = 1.5
    least_seen: float = 0.6
    spare_ticks: int = 4
    plain_end: float = 0.8
    ticks_alike: float = 4.0
    make_error: float = 0.001
    overruled: float = 0.4
    widest_mm: float = 60.0
    margin_mm: float = 60.0
    inset_mm: float = 3.0
    agree: float = 0.05
    most_apart: float = 1.6


RULER = RulerSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkSettings:
    """Finding the body of a small ruler, and reading its marks all together by their spectrum.

    Attributes:
        step_px: along an edge, between the places that are compared.
        least_places: fewest of them.
        most_places: and most.
        plain_cloth: spread of light (0 to 1) beside an edge below which it tells nothing.
        like_unknown: how like a body such an edge is taken to be.
        least_step: difference of light across it that there must be at least.
        least_like: how like a body either edge must be at least; a stripe's edge is 0.
        most_uneven: difference of light at the two edges.
        most_turn: sine of the angle between the edges; perspective makes them meet.
        least_width: of a body in px: ticks and numerals need so many rows.
        most_width: of a body, over the longer side.
        least_beside: both edges must show side by side so far, over the longer side.
        most_bodies: so many bands are looked at, the likeliest.
        most_cut: the same of bodies of which the frame hides an edge.
        least_cut_like: how like a body the edge must be that such a one shows.
        most_rows: so many rows are laid across a body at most.
        least_seen: share of a body's width that must lie within the photo.
        least_columns: shortest body in px.
        edge_error: px by which the width at one end of a body is known.
        most_bend: half the relative change of spacing along a ruler that its edges do not tell.
        bend_step: the same from one trial to the next.
        highest: frequency in cycles per px above which a picture holds nothing.
        finest_period: shortest period in px; its half must show too.
        finest_wave: shortest wave in px of which one may ask that it shows.
        most_px_per_mm: size from which single ticks are plain, so that a scale is read from them.
        least_times: fewest periods that must lie in a body.
        least_cm: fewest centimetres from which a scale is read.
        least_inches: the same of inches; of fewer, halves may pass for wholes.
        harmonics: of a period that are looked at.
        harmonic_cost: log power over noise that a harmonic must bring, for the strongest of many
            rows has some by chance.
        most_gain: no harmonic counts for more; one strong wave is no comb.
        searched: share of the body's width that ticks and numerals of one edge take at most.
        shown: power over noise at which marks show in a row: by chance one of 400 has it.
        odd_shown: the same where one of many rows is the strongest.
        uneven: share of the strongest harmonic's power by which print strays from even.
        gap: rows without marks between ticks and numerals, in periods.
        shared: share of the body's width that a scale takes where both edges have one.
        most_beyond: strength of marks beyond the edge over that on the body: threads go on.
        most_beyond_sure: the same at both edges where nothing else tells a ruler.
        sure_score: of a period that tells a ruler alone.
        least_score: of a period, below which chance may have made it.
        sure_families: log likelihood of one unit's families over the other's that settles it.
        doubtful_families: the same against a unit that all else speaks for.
        least_tick_rows: rows that no longest tick reaches, of which an inch is told.
        piece_periods: so many periods make a piece whose place is measured.
        least_pieces: fewest pieces.
        most_wander: rms error of the pieces' places, in periods.
        depth_mm: how far ticks and numerals reach from the edge of any ruler.
        width_mm: narrowest tape and widest ruler.
        widest_inch_mm: widest ruler in inches; one in centimetres would seem two and a half times
            as wide.
    """

    step_px: float = 4.0
    least_places: int = 20
    most_places: int = 120
    plain_cloth: float = 0.012
    like_unknown: float = 0.35
    least_step: float = 0.06
    least_like: float = 0.1
    most_uneven: float = 0.15
    most_turn: float = 0.05
    least_width: float = 12.0
    most_width: float = 0.25
    least_beside: float = 0.1
    most_bodies: int = 6
    most_cut: int = 3
    least_cut_like: float = 0.3
    most_rows: int = 48
    least_seen: float = 0.6
    least_columns: int = 100
    edge_error: float = 2.0
    most_bend: float = 0.06
    bend_step: float = 0.02
    highest: float = 0.42
    finest_period: float = 8.0
    finest_wave: float = 2.6
    most_px_per_mm: float = 3.0
    least_times: float = 4.0
    least_cm: float = 8.0
    least_inches: float = 6.0
    harmonics: int = 24
    harmonic_cost: float = 0.8
    most_gain: float = 2.5
    searched: float = 0.75
    shown: float = 6.0
    odd_shown: float = 8.0
    uneven: float = 0.1
    gap: float = 0.14
    shared: float = 0.62
    most_beyond: float = 0.5
    most_beyond_sure: float = 0.4
    sure_score: float = 10.0
    least_score: float = 7.0
    sure_families: float = 30.0
    doubtful_families: float = 15.0
    least_tick_rows: int = 3
    piece_periods: float = 2.5
    least_pieces: int = 5
    most_wander: float = 0.06
    depth_mm: tuple[float, float] = (8.0, 21.0)
    width_mm: tuple[float, float] = (10.0, 55.0)
    widest_inch_mm: float = 45.0


MARKS = MarkSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class CountSettings:
    """How thread coordinates become whole counts.

    Attributes:
        offset_bins: steps of the offset within one thread; finer than any edge is known.
        least_edge_sd: no edge is known better than this, in threads: yarn is round and hairy.
        least_drift_sd: nor is the offset held better than this along a stripe.
        stray: chance that an edge is nowhere near a thread boundary (a fault, a smear).
        break_chance: chance that a stripe breaks the repeat of an otherwise regular cloth.
    """

    offset_bins: int = 48
    least_edge_sd: float = 0.06
    least_drift_sd: float = 0.03
    stray: float = 0.004
    break_chance: float = 0.01


COUNTS = CountSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatSettings:
    """When stripes count as a repeat.

    Attributes:
        least_matches: comparisons of whole stripes that must agree; two alike stripes are common
            by chance, three in the right places are not.
        break_price: in written stripes: a repeat with a break must save more than this.
        most_breaks: share of whole stripes that may break the repeat.
        least_chance: a count that had less than this chance is a break, not a slip of the eye.
    """

    least_matches: int = 2
    break_price: float = 3.0
    most_breaks: float = 0.15
    least_chance: float = 0.003


REPEATS = RepeatSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class LightSettings:
    """How the illumination is told from the cloth.

    Attributes:
        cell_px: side in small pixels of the cells that are fitted; it holds a weave repeat.
        spans: splines over the longer and the shorter side; a soft shadow's edge is a fifth of
            the picture wide, and a spline must be narrower.
        rounds: fits in turn of the cloth's sums and of the illumination.
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
        strange_light: share of the cloth's mean light below which errors are not relative.
        kin, least_kin: crossings elsewhere with which an odd one is compared, at most and least.
        kin_apart: log light by which they may differ.
        kin_cells: among about so many cells they are sought.
    """

    cell_px: int = 4
    spans: int = 8
    rounds: int = 5
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
    strange_light: float = 0.7
    kin: int = 40
    least_kin: int = 6
    kin_apart: float = 0.3
    kin_cells: int = 4000


LIGHT = LightSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverSettings:
    """Where the weave is, and so the cloth.

    Attributes:
        share_of_usual: of the amplitude that a quarter exceeds, relative to the light; squares of
            one colour show the weave by its shading alone, at some tenth.
        least_woven: share of a column or row that must carry the weave; the rest may be squares
            of one colour, but a table shows none at all.
        least_shown: share of a column or row that must show for it to be judged.
        bridge: windows without weave that are bridged (a narrow stripe of one colour).
    """

    share_of_usual: float = 0.06
    least_woven: float = 0.12
    least_shown: float = 0.08
    bridge: int = 4


COVER = CoverSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class HiddenSettings:
    """What lies on the cloth, told by the weave that is missing there.

    Attributes:
        least_shown: share of a window that the mask must leave for it to be judged.
        rounds: of leaving out what was found; polishes: of medians of columns and rows in each.
        outlier: misfit, over the median amplitude, from which a window leads the fit less.
        trials: of the fit, at most; most_fitted: windows that it looks at.
        telling: of the amplitude that a quarter of the windows exceed; less tells nothing.
        missing: share of the amplitude to expect below which the weave is missing; light and
            blur take less from it.
        most_spread: width of the narrowest range that holds half of all ratios of what is seen to
            what is expected: where it is wider, the weave varies too much to tell.
        least_windows: fewer tell nothing. Windows are half a cycle of the wave apart.
        least_side: windows along each side of the least thing: two cycles, as a window is wide.
        least_filled: share of the telling windows of a thing in which the weave is missing.
        alike: colours of two columns or rows, over the range of all, that are the same yarn's.
        strange: share by which the light of a thing differs at least from the cloth's; looked at
            where the weave tells nothing.
    """

    least_shown: float = 0.5
    rounds: int = 3
    polishes: int = 3
    outlier: float = 0.15
    trials: int = 60
    most_fitted: int = 2000
    telling: float = 0.35
    missing: float = 0.45
    most_spread: float = 0.35
    least_windows: int = 16
    least_side: int = 4
    least_filled: float = 0.75
    alike: float = 0.1
    strange: float = 0.25


HIDDEN = HiddenSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class BareSettings:
    """Where a mask may be drawn in, since the weave shows under it.

    Attributes:
        shows: share of the amplitude to expect from which on the weave shows in full. Light and
            blur take less from it, a clear ruler, or a window half on a thing, more.
        least_showing: share of the windows of a strip in which it shows.
        least_cluster: windows close together in which it is missing, for a thing to be there.
        least_windows: fewer in a strip tell nothing.
        least_gain: share of the outline that is to be won, else it stays: its rim holds shadows.
    """

    shows: float = 0.7
    least_showing: float = 0.75
    least_cluster: int = 6
    least_windows: int = 8
    least_gain: float = 0.25


BARE = BareSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveSettings:
    """When a folded picture is called by a weave's name.

    Attributes:
        least_likeness: correlation with the drawing; blur and uneven threads leave 0.8.
        share_weight: the share of the column threads in the colours speaks for or against.
    """

    least_likeness: float = 0.55
    share_weight: float = 0.5


WEAVE = WeaveSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSettings:
    """Limits of the whole reading.

    Attributes:
        unknown_cell_px: detail that is looked for before any thread was seen.
        tone_patch_px: side of the patches that tell the camera's tone curve, a whole number of
            repeats of the weave near this.
        looks: at most so many looks until the threads found are those that were looked for.
        rim_threads: bands within so many threads of the cloth's edge whose colour occurs nowhere
            else are fringe, floor or shadow.
        sliver_threads: a band narrower than this is an edge, not a stripe.
        pinned_spread: how far a handwoven density wanders from its mean within a stripe, as a
            share; handwoven spacing wanders 5 to 10 % over centimetres, which averages in part.
        weave_unsure: confidence in the weave below which the number of threads in its cycle is
            doubted; most_without_weave: the chance that is then left to it (herringbone and
            fancy weaves are no known drawdown and yet counted right).
        told_by_ripple: chance of a number of threads that their ripple tells against the wave.
        surely_single: chance of the number of threads in a cycle from which a plain weave and a
            hopsack are not said to look alike.
        unlike_pinned: a pitch that differs from the pinned one by more than this share is not
            that of the threads.
        lost_cycles: drift in cycles of the weave along a stripe in which its wave was lost.
        steady_drift: drift of the coordinate in threads up to which a stripe tells the pitch.
        least_hidden: threads of a stripe, all covered, that may be another stripe.
        other_hidden: chance that there is one.
        wander: how far the spacing within a stripe is from the axis' mean, as a share.
        width_spread: of a stripe's width in threads, blur and soft edges.
        most_off: bound of its chi squared; a border may be sett closer.
        doubtful: a chance below this is pointed out to the weaver.
        lookalikes: CIEDE2000 of two yarns below which the weaver should compare them.
    """

    unknown_cell_px: float = 3.0
    tone_patch_px: int = 32
    looks: int = 3
    rim_threads: float = 12.0
    sliver_threads: float = 0.55
    pinned_spread: float = 0.03
    weave_unsure: float = 0.15
    most_without_weave: float = 0.93
    told_by_ripple: float = 0.9
    surely_single: float = 0.95
    unlike_pinned: float = 0.2
    steady_drift: float = 0.15
    lost_cycles: float = 0.8
    least_hidden: float = 2.0
    other_hidden: float = 0.3
    wander: float = 0.06
    width_spread: float = 0.3
    most_off: float = 18.0
    doubtful: float = 0.9
    lookalikes: float = 9.0


READ = ReadSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleSettings:
    """How sure a scale is. Errors are relative, one standard deviation, unless said otherwise.

    Attributes:
        ruler_height: a ruler 1 to 2 mm thick seen from 40 cm is that much nearer the camera.
        card_height: paper lies closer, but bends.
        given_error: a distance measured by hand on soft cloth.
        given_error_px: a point pointed at by hand, photo pixels.
        uneven_error: change of a ruler's scale from end to end that its ticks' own scatter and
            the plane's convergence leave open.
        off_plane: change from end to end, in such errors, at which the ruler is reported.
        half_diagonal_35mm: of the 36 x 24 mm frame, mm.
        focal_error: of the focal length that the file tells; phones round and crop it.
        usual_focal: of a phone's main camera (26 mm on 36 x 24 mm), half diagonals.
        usual_focal_spread: from a wide phone to a normal lens.
        skew_error: sine of the angle by which warp and weft may be out of square.
        aspect_error: of the plane's own ratio of scales: convergence read to a hundredth.
        steep_degrees: tilt that is reported; beyond it one end of the cloth is a sixth smaller.
    """

    ruler_height: float = 0.004
    card_height: float = 0.002
    given_error: float = 0.003
    given_error_px: float = 1.5
    uneven_error: float = 0.01
    off_plane: float = 4.0
    half_diagonal_35mm: float = 21.63
    focal_error: float = 0.05
    usual_focal: float = 1.25
    usual_focal_spread: float = 0.3
    skew_error: float = 0.03
    aspect_error: float = 0.005
    steep_degrees: float = 15.0


SCALE = ScaleSettings()


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


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSettings:
    """Telling which yarn each single thread is of.

    Attributes:
        least_pitch: pixels per thread; with fewer the blur mixes several threads.
        middle: share of a thread's width that is looked at.
        most_threads: a yarn whose widest band has no more may be a mixture of others.
        offset_edges: to each side, whose median tells where in a thread's width colours change.
        enough_threads: so many tell a yarn's own level and the threads' scatter.
        most_spill: share of a thread's light that may come from each of its neighbours.
        spill_spread: by which that share differs from thread to thread.
        drift_threads: to each side, over which light that is left is evened out.
        least_spread: of one thread's colour, CIELAB at L* = 50.
        tails: degrees of freedom of the scatter: few, so that one odd thread tells little.
        least_whole: with a smaller share of its width in view an outermost thread is not seen.
        as_before: odds (log) for what the bands say.
        split_price: odds (log) against a change of yarn at a given thread.
        most_cases: threads times the cube of yarns, which bounds time and memory (some 200 MB);
            no cloth that can be read comes near it.
        rounds: fits in turn of how threads look and of which they are.
        yarn_price: odds (log) against a yarn that no wide band has.
        most_new: so many yarns that only single threads show are sought.
        odd_cost: log odds above what is usual by which a thread is like no yarn.
        least_alike: so many odd threads must be like each other.
        alike: steadied CIELAB by which they may differ.
        least_slope: how much yarns must differ along the second axis, over the first.
        well_mixed: share of the light of two neighbours, from the half, within which a thread is
            no mere edge between them.
    """

    least_pitch: float = 2.5
    middle: float = 0.6
    most_threads: int = 3
    offset_edges: int = 3
    enough_threads: int = 6
    most_spill: float = 0.3
    spill_spread: float = 0.03
    drift_threads: int = 8
    least_spread: float = 0.5
    tails: float = 4.0
    least_whole: float = 0.6
    as_before: float = 0.5
    split_price: float = 4.0
    most_cases: int = 8_000_000
    rounds: int = 2
    yarn_price: float = 12.0
    most_new: int = 2
    odd_cost: float = 6.0
    least_alike: int = 3
    alike: float = 6.0
    well_mixed: float = 0.2
    least_slope: float = 0.05


LINES = LineSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class TextureSettings:
    """The weave's picture folded by its own cycle.

    Attributes:
        phases: parts of a cycle each way: four or more to a thread.
    """

    phases: int = 16


TEXTURE = TextureSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSettings:
    """When two groups of bands are one yarn. Errors are one standard deviation.

    Attributes:
        price: chi squared of three channels that a yarn of its own must save: chance alone
            passes 16 about once in a thousand pairs.
        parts: parts of a band whose levels are compared, to see how well the model holds.
        least_seen: a part of which less shows than this share of the fullest has no say.
        independent_parts: of them whose errors are independent, in an ordinary photo.
        least_light: of a level, linear light; the noise of a photo and of its coding.
        thread_scatter: relative, of a single thread's light; melange yarn has 2 to 9 %.
        band_scatter: the same that does not average out over a wide band.
        cover_scatter: relative, of the share that a single thread shows of itself: spacing and
            thickness wander by some percent.
        tint: relative, of each channel on its own: the dye of one yarn from bobbin to bobbin.
        dilution: share of its neighbours' colour in a line of one thread (blur, sharpening,
            waviness); of n threads an n-th.
        slope, bend: of the light that is left along an axis, relative, from middle to end.
        sides: warp and weft of one yarn, relative: they lie differently to the light.
        offset: of the additive model's offset, linear light.
        share: of the additive model's share.
    """

    price: float = 18.0
    parts: int = 8
    least_seen: float = 0.3
    independent_parts: float = 3.0
    least_light: float = 0.002
    thread_scatter: float = 0.15
    band_scatter: float = 0.04
    cover_scatter: float = 0.08
    tint: float = 0.02
    thread_tint: float = 0.05
    dilution: float = 0.3
    slope: float = 0.08
    bend: float = 0.06
    sides: float = 0.06
    offset: float = 0.006
    share: float = 0.035


GROUPS = GroupSettings()


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


@dataclass(frozen=True, slots=True, kw_only=True)
class BarSettings:
    """How bars that lie on the cloth are told from its stripes.

    Attributes:
        pixels: of the reduced picture that is compared.
        beside: how far on both sides of an edge one looks, share of the longer side.
        least_cloth: slope with which what crosses the edge of a stripe goes on behind it.
        most_turn: sine of the angle between the edges of a bar, perspective counted in.
        widths: least and largest width, shares of the photo's longer side.
        least_length: so much of both edges must show side by side, share of the longer side.
        step: along a bar, share of the longer side.
        smooth_steps: steps whose mean is compared; some threads, so that the weave cancels.
        least_seen: share of the longer side over which a bar is compared with what lies beside.
        least_contrast: square root of linear light by which it differs from that.
        least_edge: share of its edges along which it does: a stripe of its own colour may come
            to it here and there.
        most_slope: with which light on a bar follows that beside it: none, while in a cloth it
            has the slope one; shadows and reflections leave a little.
        plain: square root of linear light by which a bar may vary, its numerals left out.
        least_plain: share of a bar that is as plain.
        least_marks: the same that crossing stripes must vary beside it to tell anything.
        margin: of its width by which a bar is widened, for its own shadow.
    """

    pixels: int = 400_000
    beside: float = 0.012
    least_cloth: float = 0.6
    most_turn: float = 0.03
    widths: tuple[float, float] = (0.015, 0.22)
    least_length: float = 0.3
    step: float = 0.003
    smooth_steps: int = 9
    least_seen: float = 0.2
    least_contrast: float = 0.05
    least_edge: float = 0.6
    most_slope: float = 0.3
    plain: float = 0.12
    least_plain: float = 0.8
    least_marks: float = 0.025
    margin: float = 0.06


BARS = BarSettings()
