"""The beat of the threads, their counts and doubts, repeats and weave."""

from __future__ import annotations

from dataclasses import dataclass


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
class BentSettings:
    """The phase of a wave over a cloth that bends. Windows are half a cycle apart.

    Attributes:
        least_part: power of a wave over the strongest's for it to have a say.
        rounds: of alternating means; a dozen bring them to a thousandth of a cycle.
        agreed: length of the mean of phases below which all places do not agree.
        lost_windows: so many on end, three cycles, make a cloth a bent one ...
        bent: ... if neighbours agree better there, by so much, than all do.
        across_windows: sigma over which places help each other to be unwrapped, three cycles or
            so, within which no cloth bends by half a cycle ...
        along_windows: ... and along, where the course may have been put out sharply.
        shared_windows: so far apart, two cycles, windows have no pixel in common ...
        about_windows: ... and so far those reach that must agree, three cycles.
        pace_change: cycles by which the advance over one window differs from the next, one
            standard deviation: the spacing wanders by some 4 % over ten to forty threads, single
            threads lie aside by a twentieth of themselves, and the picture is never quite flat.
        least_error: cycles, of a phase however many places agree on it.
    """

    least_part: float = 0.3
    rounds: int = 12
    agreed: float = 0.6
    lost_windows: int = 6
    bent: float = 0.15
    across_windows: float = 3.0
    along_windows: float = 0.7
    shared_windows: int = 4
    about_windows: int = 6
    pace_change: float = 0.015
    least_error: float = 0.003


BENT = BentSettings()


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
        most_strayed: log, of the mean rate of a wave from that at which it was found: a herringbone
            that turns after two cycles shows lines a fifth or a third beside its wave.
        diagonal_windows: so short that they lie between two turns of a herringbone.
        least_lean: by which one diagonal outweighs the other in a twill: all but the noise, whose
            share is a half in a picture that can just be counted; none of it in a plain weave.
        full_lean: the same of a twill that shows well, short windows and all.
        least_turned: by which it must do so place by place more than over the whole cloth, for
            its lines to turn back.
        multiples: threads in one cycle of the weave and log of how much rarer it is: plain,
            2/1, 2/2 and 3/1 (also hopsack and herringbone), then longer twills.
        unseen_ripple: log strength granted to a ripple that the pixels are too coarse to show.
        overtone: log power at four times the wave's frequency over that at twice, free of blur,
            halfway between a plain weave (the overtone of round threads) and a hopsack (the
            single threads themselves); seen on rendered cloth of 4 to 8 pixels a thread.
        overtone_apart, overtone_spread: how far the two are apart, and one standard deviation.
        most_overtone: bound of what one axis may say, as a log chance; most_absent: of what the
            absence of the ripple may say.
        clear_ripple: log strength of the ripple of a plain weave whose threads show clearly; seen
            on rendered cloth of 6 and 8 pixels a thread, where it is 6.1 on average.
        easily_lost: cycles per pixel beyond which blur and coding leave little of a ripple.
        most_lost: bound of what the absence of so fine a ripple says, as a log chance.
        hardly_shown: cycles per pixel beyond which its absence says nothing.
        wrong_diagonals: log penalty for a plain weave that shows one diagonal only ...
        usual_smear_px: ... unless a hand that moved so far hid the other, one standard deviation:
            a judgement, no source.
        odd_diagonals: log of how much rarer than a plain weave the others are that show both
            (herringbone, hopsack): six times, a judgement, no source.
        no_ripple: log strength below which the ripple does not keep step with the weave.
        plain_ripple: log strength that threads have which are wide enough to show.
        own_pace: how far from a whole number the pace of the ripple over that of the weave's wave
            may be where the wave has slipped.
        most_slowed: factor by which the wave may lose cycles where stripes of one yarn hide it.
        same_wave: how far from a whole number the frequency of a wave may be over the weave's own.
        missing_ripple: log penalty for threads so wide that they would show, where only finer do.
        usual_blur_px: standard deviation of an ordinary photo's blur: the pixel's area (0.29),
            the lens and the colour mosaic together.
        blur_spread_px2: spread of its square from photo to photo, sharpening counted in.
        expected_spread: relative spread (as a logarithm) of a pitch that follows from a density
            that somebody gave and the scale.
        most_unexpected: bound of its log penalty.
        edge_weight: log penalty when no edge of `edges_weighed` falls between threads; each has its
            own say.
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
    most_strayed: float = 0.35
    diagonal_windows: CarrierSettings = CarrierSettings(window_cycles=1.5, hop_cycles=0.375)
    least_lean: float = 0.4
    full_lean: float = 0.8
    least_turned: float = 0.2
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
    clear_ripple: float = 6.0
    easily_lost: float = 0.28
    most_lost: float = 0.5
    hardly_shown: float = 0.4
    wrong_diagonals: float = 6.0
    usual_smear_px: float = 1.0
    odd_diagonals: float = 1.8
    no_ripple: float = 1.0
    plain_ripple: float = 2.0
    same_wave: float = 0.08
    missing_ripple: float = 4.0
    own_pace: float = 0.2
    most_slowed: float = 1.3
    usual_blur_px: float = 0.6
    blur_spread_px2: float = 0.25
    expected_spread: float = 0.08
    most_unexpected: float = 15.0
    edge_weight: float = 8.0
    edges_weighed: int = 12


THREADS = ThreadSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldSettings:
    """The weave's picture folded by its own cycle, and thread coordinates settled on it.

    Attributes:
        phases: parts of a cycle each way: four or more to a thread.
        rounds: of laying both axes onto the weave and folding it anew; each leaves about a third
            of what was off.
        window_cycles: over which the offset of a row from its expected place is averaged.
        row_windows: of so many in a window, about one thread each, it is judged whether their rows
            show the weave.
        well_told: share of its usual strength at which they have their full say; at a sixth of a
            cycle from its place half of it is left.
        most_shift: cycles in one round; the weave's picture is straight no farther than that.
        least_weight: of what rows usually tell; those that tell less follow their neighbours ...
        least_agreement: ... as do those along which places agree less on the wave's phase.
    """

    phases: int = 16
    rounds: int = 5
    window_cycles: float = 2.0
    row_windows: int = 8
    well_told: float = 0.5
    most_shift: float = 0.1
    least_weight: float = 0.02
    least_agreement: float = 0.6


FOLD = FoldSettings()


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
        chance_count: that two whole stripes of one yarn have one count by chance: designers like
            few counts; a judgement, no source.
        chance_cut: that a whole stripe is no smaller than one that the frame cuts.
        least_odds: log, for likeness to be no chance: one in twenty.
        sure_odds: log, from which on nobody need look whether it goes on so.
        most_rim: so many outermost stripes may stand outside the repeat.
        break_price: in written stripes: a repeat with a break must save more than this.
        most_breaks: share of whole stripes that may break the repeat.
        least_chance: a count that had less than this chance is a break.
        near: share by which partners may differ that repeat but for some threads.
        chance_near: that two whole stripes of one yarn are as near by chance.
        least_both: so many stripes that warp and weft have alike are no chance.
        slip: chance that a break is a slip of the eye and no weaving mistake: about as rare as
            each other; a judgement, no source.
    """

    chance_count: float = 0.15
    chance_cut: float = 0.5
    least_odds: float = 3.0
    sure_odds: float = 6.0
    most_rim: int = 3
    break_price: float = 3.0
    most_breaks: float = 0.15
    least_chance: float = 0.003
    near: float = 0.03
    chance_near: float = 0.3
    least_both: int = 4
    slip: float = 0.4


REPEATS = RepeatSettings()


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
        vouching_threads: a band at the very end of the other axis that has fewer may be a rim
            itself, and does not tell that such a colour is a yarn.
        sliver_threads: a band narrower than this is an edge, not a stripe.
        pinned_spread: how far a handwoven density wanders from its mean within a stripe, as a
            share; handwoven spacing wanders 5 to 10 % over centimetres, which averages in part.
        weave_unsure: confidence in the weave below which the number of threads in its cycle is
            doubted; most_without_weave: the chance that is then left to it (herringbone and
            fancy weaves are no known drawdown and yet counted right).
        told_by_ripple: chance of a number of threads that their ripple tells against the wave.
        held: chance that the interval of a count holds.
        surely_single: chance of the number of threads in a cycle below which intervals name the
            next likely one as well, and a plain weave and a hopsack are said to look alike.
        unlike_pinned: a pitch that differs from the pinned one by more than this share is not
            that of the threads.
        lost_cycles: drift in cycles of the weave along a stripe in which its wave was lost.
        lost_share: further drift there, as a share of the stripe: its width knows more.
        bow_slope: slope with which picks that no edge laid straight may still run, one standard
            deviation: a bow of a finger's breadth over a metre.
        steady_drift: drift of the coordinate in threads up to which a stripe tells the pitch.
        unlike_stripe: what is left over along a stripe, over the picture's contrast, from which it
            is none; of stripes that are, and are cut at the right edges, seldom more than 0.2.
        least_hidden: threads of a stripe, all covered, that may be another stripe.
        other_hidden: chance that there is one.
        own_edge_px: standard deviation of the cloth's own edge: it is sought in strips of about
            as many pixels, and a fringe or a rolled selvedge hides it.
        near_own_edge: threads that may lie between such an edge and the first band that was seen.
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
    vouching_threads: float = 2.0
    sliver_threads: float = 0.55
    pinned_spread: float = 0.03
    weave_unsure: float = 0.15
    most_without_weave: float = 0.93
    told_by_ripple: float = 0.9
    held: float = 0.9
    surely_single: float = 0.95
    unlike_pinned: float = 0.2
    steady_drift: float = 0.15
    lost_cycles: float = 0.8
    lost_share: float = 0.25
    bow_slope: float = 0.02
    unlike_stripe: float = 0.3
    least_hidden: float = 2.0
    other_hidden: float = 0.3
    own_edge_px: float = 4.0
    near_own_edge: float = 2.0
    wander: float = 0.06
    width_spread: float = 0.3
    most_off: float = 18.0
    doubtful: float = 0.9
    lookalikes: float = 9.0


READ = ReadSettings()
