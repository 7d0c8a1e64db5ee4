"""Yarns and stripes, found without asking how many threads there are."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StripeSettings:
    """How bands of one colour are told apart.

    Attributes:
        least_cell_px: nothing smaller than about two pixels can be told from noise.
        least_gap_cells: two edges closer than this share of a thread are one edge.
        least_jump: CIELAB units in the mixed profile; the weft halves what the eye would see,
            and one unit is what an eye just notices.
        most_candidates: bounds the exact search; a cloth of 300 stripes has 301 edges.
        full_say: share of what is usual that must show of an element for its full say. Threads
            differ by more than what chance leaves in the mean of some hundred pixels; in that of
            few, what lies there, and beside a thing its shade, is all that shows.
        cut_price: in units of chi squared over three channels: chance alone passes 16 about once
            in a thousand.
        mixture_cells: a band narrower than this may be a blurred edge.
        mixture_px, mixture_blurs: ... if it is also narrower than so many pixels, or so many
            standard deviations of the blur: a lens and straightening blur by a pixel or two however
            wide a thread is, and nine tenths of such an edge lie within 3.3 of them.
        mixture_off: how far off the straight line between its neighbours it may lie, as a share
            of their difference; a yarn of its own seldom lies so near.
        hue_px: a band narrower than this may be the rim of a stripe, where hues mix: JPEG keeps
            them for every second pixel, which straightening spreads over six.
        rim_bright: by which such a rim's brightness may differ from the stripe's, as a share of
            the difference between its neighbours.
        blur_cells: trial blurs in threads.
        rounds: Gauss-Newton steps; three bring a start within a pixel to a thousandth.
    """

    least_cell_px: float = 1.5
    least_gap_cells: float = 0.6
    least_jump: float = 1.0
    most_candidates: int = 1200
    full_say: float = 0.5
    cut_price: float = 20.0
    mixture_cells: float = 1.4
    mixture_px: float = 5.0
    mixture_blurs: float = 3.3
    mixture_off: float = 0.12
    hue_px: float = 6.0
    rim_bright: float = 0.15
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
        picked_lengths: lengths that a stripe may have which chance picks out of another: some
            more threads would not vary alike.
        least_apart: standard deviations by which the mean of a class must differ from another
            class; among some hundred threads the boldest few neighbours reach 4.
        level_doubt: what is left of uneven light and of neighbours' blur in a level, however many
            threads it is the mean of; CIELAB units at L* = 50, doubled like the levels.
        shares: trial weights of the column threads; beyond these one set hides the other.
        usual_shares: shares of the usual weaves and the price of each: plain and balanced twills
            are even, 2/1 and 3/1 show one set of threads in two places of three or three of four.
        share_spread: how far from these a share usually lies; thicker threads hide more.
        refined_trials: best trials that are refined by least squares.
        hardly_more: cost by which another share and offset are nearly as good as the best.
        same_offset: linear light by which offsets that are one may differ.
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
    picked_lengths: float = 8.0
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
    hardly_more: float = 0.15
    same_offset: float = 0.006
    refinements: int = 3
    most_outside: float = 0.01
    scatter_weight: float = 8.0
    new_yarn: float = 1.0


PALETTE = PaletteSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSettings:
    """Telling which yarn each single thread is of.

    Attributes:
        least_pitch: pixels per thread; with fewer the blur mixes several threads.
        middle: share of a thread's width that is looked at.
        most_threads: a yarn whose widest band has no more may be a mixture of others.
        least_line: width in threads below which what lies between two edges is no line.
        offset_edges: to each side, whose mean tells where in a thread's width colours change.
        enough_threads: so many tell a yarn's own level and the threads' scatter.
        most_spill: share of a thread's light that may come from each of its neighbours.
        spill_spread: by which that share differs from thread to thread.
        hue_spread: the same of hue, over its share: coded hues are two pixels wide, so that it
            hangs on where a thread lies among them, and a file that lends none lends none at all.
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
        several_alike: odd threads that are like each other by themselves.
        alike: steadied CIELAB by which these may differ.
        least_alike: so many must be, if what their neighbours may lend them is allowed for.
        least_slope: how much yarns must differ along the second axis, over the first.
        well_mixed: share of the light of two neighbours, from the half, within which a thread is
            no mere edge between them.
    """

    least_pitch: float = 2.5
    middle: float = 0.6
    most_threads: int = 3
    least_line: float = 0.5
    offset_edges: int = 3
    enough_threads: int = 6
    most_spill: float = 0.3
    spill_spread: float = 0.03
    hue_spread: float = 0.5
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
    several_alike: int = 3
    alike: float = 6.0
    least_alike: int = 2
    well_mixed: float = 0.2
    least_slope: float = 0.05


LINES = LineSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSettings:
    """When two groups of bands are one yarn. Errors are one standard deviation.

    Attributes:
        price: chi squared of three channels that a yarn of its own must save: chance alone
            passes 16 about once in a thousand pairs.
        witnesses: lines within another stripe that tell more than fewer do: the weave may lend
            many of them the same.
        parts: parts of a band whose levels are compared, to see how well the model holds.
        independent_parts: of them whose errors are independent, in an ordinary photo ...
        independent_hues: ... and whose hues are: light changes none, but a file's coding and what
            crosses them are alike in neighbours too. Between the former and all, by judgement.
        least_seen: a part of which less shows than this share of the fullest has no say.
        least_light: of a level, linear light; the noise of a photo and of its coding.
        thread_scatter: relative, of a single thread's light; melange yarn has 2 to 9 %.
        band_scatter: the same that does not average out over a wide band.
        cover_scatter: relative, of the share that a single thread shows of itself: spacing and
            thickness wander by some percent.
        tint: relative, of each channel on its own: the dye of one yarn from bobbin to bobbin.
        thread_tint: the same of a single thread, which averages out over a band.
        dilution: share of its neighbours' colour in a line of one thread (blur, sharpening,
            waviness); of n threads an n-th.
        slope, bend: of the light that is left along an axis, relative, from middle to end.
        sides: warp and weft of one yarn, relative: they lie differently to the light.
        offset: of the additive model's offset, linear light.
        share: of the additive model's share.
        coded_px: of the blur of hues alone, in pixels that each edge of a band lends: files of
            phones hold hues in pixels twice as large, and drop the finest of their detail.
        uncoded_px: width of a thread in pixels from which on that changes no band's colour.
    """

    price: float = 18.0
    witnesses: int = 3
    parts: int = 8
    least_seen: float = 0.3
    independent_parts: float = 3.0
    independent_hues: float = 4.0
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
    coded_px: float = 1.0
    uncoded_px: float = 4.0


GROUPS = GroupSettings()
