"""Where the cloths lie in a photo, what lies on them, and how they are laid flat."""

from __future__ import annotations

from dataclasses import dataclass, replace


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
        stands_out: power of a frequency, over the median of all directions, that has its whole
            vote; of noise one in a hundred reaches it.
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
        least_crossing: the same of each of two families that cross at about a right angle.
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
        slopes_alike: times that the plane of the slopes errs more than their scatter says.
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
        crossed: how bold what crosses stripes is, over them, where it is no uneven threads alone.
        running_on: share of the strips that must agree for stripes to run on beside a run ...
        as_bold: ... as bold as so much of those within it; the grain of a table is fainter.
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
        most_fringe: so much of the cloth at either end may be fringe, as a share.
        fringe_unlike: times as unlike the body's mean as nine tenths of its strips: a fringe,
        fringe_strays: if its outer half is so many times as unlike as its inner half.
        look_around: how far beyond the sure part the edge is sought, share of its size.
        recrops: so many times, as long as the area grows by the factor `grown`.
        margin_strips: so many fine strips beyond an edge of the cloth are kept, to find its very
            place.
    """

    vote_pixels: int = 400_000
    vote_tile_px: int = 96
    vote_step_px: int = 48
    least_tile_shown: float = 0.6
    least_cycles: int = 3
    most_frequency: float = 0.4
    stands_out: float = 6.6
    least_power: float = 1e-2
    most_meet: float = 0.5
    meet_steps: int = 41
    most_skew_degrees: int = 14
    least_strength: float = 0.15
    least_crossing: float = 0.06
    line_smooth_px: float = 20.0
    fold_smooth_px: float = 10.0
    edge_smooth_px: float = 1.5
    most_slope: float = 0.25
    least_gradient: float = 0.001
    slope_floor: float = 0.002
    slope_tile_px: int = 48
    slopes_alike: float = 3.0
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
    crossed: float = 0.5
    running_on: float = 0.9
    as_bold: float = 0.5
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
    most_fringe: float = 0.15
    fringe_unlike: float = 3.0
    fringe_strays: float = 1.5
    look_around: float = 0.3
    recrops: int = 3
    grown: float = 1.03
    margin_strips: int = 12

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
        most_slopes: with which light on a bar follows that beside it, its root and itself: not at
            all, while in a cloth it has the slope one, or less by the root where it is bright.
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
    most_slopes: tuple[float, float] = (0.3, 0.5)
    plain: float = 0.12
    least_plain: float = 0.8
    least_marks: float = 0.025
    margin: float = 0.06


BARS = BarSettings()
