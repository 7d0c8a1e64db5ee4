"""A small ruler's marks, single ticks, where a ruler ends, and the scale it gives."""

from __future__ import annotations

from dataclasses import dataclass


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
        most_alone: the same of bodies of which one edge alone is plain.
        widest_alone: widest of these in px.
        nearly_plain: shares of the plainest far edge's step; the nearest edge that has as much
            is tried for each.
        most_edges: so many plain edges are looked at for them.
        end_px: so much of a body at its end is compared with what lies beyond.
        end_rows: rows across it in which that is done.
        end_spread: times its usual spread of light that a place of the body strays.
        end_alike: share of a column that must be alike.
        end_gap_px: a body goes on behind so much that is unlike it, such as numerals.
        most_cut: the same of bodies of which the frame hides an edge.
        least_cut_like: how like a body the edge must be where it is the only one.
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
        plain_larger: by such a factor it may be larger where its families are sure.
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
        plain_row: of the power in the plainest row so much at least is in one that tells whether
            every second mark is another ...
        most_halved: ... which it is where odd harmonics of the double period have a larger share:
            of equal marks they have none, of numerals at every second the half.
        least_odd: odd harmonics that must show, of those but one that a picture can hold.
        least_odd_inches: the same of an inch, for which two centimetres may pass.
        uneven: share of the strongest harmonic's power by which print strays from even.
        gap: rows without marks between ticks and numerals, in periods.
        shared: share of the body's width that a scale takes where both edges have one.
        most_beyond: strength of marks beyond the edge over that on the body: threads go on.
        most_beyond_far: the same at the far edge, where another scale may begin.
        most_beyond_sure: the same at both edges where nothing else tells a ruler.
        sure_score: of a period that tells a ruler alone.
        least_score: of a period, below which chance may have made it.
        most_periods: so many periods are looked at in a body, the likeliest.
        same_period: numbers of periods that differ by less, relatively, are one.
        sure_families: log likelihood of one unit's families over the other's that settles it.
        doubtful_families: the same for an inch that sizes speak for too.
        most_against: the same for an inch where sizes speak for a centimetre, which then is in
            doubt: odds of more than a hundred to one.
        leaning_families: the same for an inch where the scale is too shallow, and the body
            narrower than all but a few, for centimetres.
        plain_score: of a period, from which on its unit may be told by sizes alone.
        many_times: or so many periods, which make less than that plain.
        least_upright: how nearly marks must lie in the same place in all rows.
        same_part: relative error of a period that two bodies share.
        least_tick_rows: rows that no longest tick reaches, of which an inch is told.
        piece_periods: so many periods make a piece whose place is measured.
        least_pieces: fewest pieces.
        most_wander: rms error of the pieces' places, in periods.
        depth_mm: how far ticks and numerals reach from the edge of any ruler.
        width_mm: narrowest tape and widest ruler.
        narrow_cm_mm: rulers in centimetres are rarely narrower (common practice, no source).
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
    most_alone: int = 6
    widest_alone: float = 100.0
    nearly_plain: tuple[float, ...] = (1.0, 0.5, 0.25)
    most_edges: int = 12
    end_px: float = 60.0
    end_rows: int = 12
    end_spread: float = 4.0
    end_alike: float = 0.6
    end_gap_px: float = 12.0
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
    plain_larger: float = 1.5
    least_times: float = 4.0
    least_cm: float = 8.0
    least_inches: float = 6.0
    harmonics: int = 24
    harmonic_cost: float = 0.8
    most_gain: float = 2.5
    searched: float = 0.75
    shown: float = 6.0
    odd_shown: float = 8.0
    plain_row: float = 0.1
    most_halved: float = 0.3
    least_odd: int = 2
    least_odd_inches: int = 3
    uneven: float = 0.1
    gap: float = 0.14
    shared: float = 0.62
    most_beyond: float = 0.5
    most_beyond_far: float = 0.7
    most_beyond_sure: float = 0.4
    sure_score: float = 10.0
    least_score: float = 5.0
    most_periods: int = 6
    same_period: float = 0.04
    sure_families: float = 30.0
    doubtful_families: float = 15.0
    most_against: float = 5.0
    leaning_families: float = 6.0
    plain_score: float = 7.0
    many_times: float = 35.0
    least_upright: float = 0.45
    same_part: float = 0.03
    least_tick_rows: int = 3
    piece_periods: float = 2.5
    least_pieces: int = 5
    most_wander: float = 0.06
    depth_mm: tuple[float, float] = (8.0, 21.0)
    width_mm: tuple[float, float] = (10.0, 55.0)
    narrow_cm_mm: float = 15.0
    widest_inch_mm: float = 45.0


MARKS = MarkSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleSettings:
    """Rows of ticks that stand one by one, thin beside their spacing.

    Attributes:
        most_lines: so many edges are looked along, the longest: a ruler's are among them.
        leans: samples along per row by which ticks may lean, tried in turn; perspective and an
            edge that is not quite the ruler's make them lean.
        band_rows: rows that are averaged; the shortest ticks have as many.
        band_step: rows from band to band.
        first_row: of the first band, from the line; the last is as far on its other side.
        flank: samples from a tick to the bare ruler on either side.
        least_dark: grey values by which a tick is darker than both sides.
        shares: ticks are as dark as such a share of the darkest; the plainest are tried first.
        least_ticks: fewest ticks of a row.
        least_gap: samples from tick to tick, so that they stand alone.
        even: relative difference of neighbouring gaps; perspective makes far less.
        seeds: so many runs of even gaps are followed in a band.
        least_run: fewest ticks that are evenly apart without one that misses.
        beyond_bands: bands in which the ticks may not go on, to one side.
        most_beyond: darkness there, over that of the band.
        rounds: of growing a row from what it holds.
        reach: a row is followed by so much of its ticks beyond either end at a time.
        off: distance from a whole number at which a tick belongs to a row.
        most_others: dark lines between the ticks of a row, over their number.
        most_residual: rms distance of the ticks from whole numbers.
        reach_ticks: ticks are followed to either side of a band by so many spacings.
        most_outside: darkness of ticks beyond their feet, over that on them.
        most_rough: rms distance in rows of ticks' feet from one line; threads end anywhere.
        runs_per_strip: so many runs of a strip, the likeliest, are grown into rows.
        rows_per_strip: so many rows of a strip, the likeliest, are examined closely.
        most_rows: so many of all strips.
        least_classes: lengths of which an order is told: of two, chance may make one.
        least_parts: of an inch, into which all are divided.
        tall_error: by which the shortest ticks may be longer than they are seen, in spacings.
        numeral_area: ink of the slenderest numeral, in squares of an inch: 2 mm by 0.4 mm.
        most_area: and of the fattest, 5 mm by 4 mm half covered, with room; more is a finger.
        numeral_over: a numeral has so many times the ink that is seen where none stands.
        most_numbered: share of whole inches whose numeral must show.
    """

    most_lines: int = 40
    leans: tuple[float, ...] = (-0.3, -0.15, 0.0, 0.15, 0.3)
    band_rows: int = 6
    band_step: int = 4
    first_row: int = -28
    flank: int = 2
    least_dark: float = 4.0
    shares: tuple[float, ...] = (0.5, 0.2)
    least_ticks: int = 9
    least_gap: float = 4.5
    even: float = 0.15
    seeds: int = 3
    least_run: int = 5
    beyond_bands: tuple[int, ...] = (2, 3)
    most_beyond: float = 0.35
    rounds: int = 8
    reach: float = 0.6
    off: float = 0.15
    most_others: float = 0.2
    most_residual: float = 0.06
    reach_ticks: float = 8.0
    most_outside: float = 0.25
    most_rough: float = 2.0
    runs_per_strip: int = 6
    rows_per_strip: int = 4
    most_rows: int = 50
    least_classes: int = 3
    least_parts: int = 8
    tall_error: float = 0.25
    numeral_area: float = 0.0012
    most_area: float = 0.02
    numeral_over: float = 3.0
    most_numbered: float = 0.75


SINGLE = SingleSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureSettings:
    """Numerals beside the longest ticks of an inch scale.

    Lengths are parts of an inch or, where the longest ticks may be halves, of half of one; common
    practice, no source.

    Attributes:
        least_inch_px: fewest px between the longest ticks, so that a numeral has a shape.
        samples_per_inch: of the patch that is looked at, at most: a stroke has two.
        reach: how far beyond the second longest ticks numerals are looked for.
        stroke: radius of what is thin.
        tall: height of a numeral, from and to.
        wide: width, at most.
        aligned: by which numerals of a row are off their common line.
        one_line: by which ticks of the other edge end off a line, or seem to in perspective.
        far_ticks: so many that end on one line beside no longest tick are no chance.
        alike: one is hardly taller than another by such a factor.
        beside: by which one is off its usual place along the ruler; of 10 each figure by as much.
        as_strong: ink has so much of the strength of ticks.
        trace: less than this where a numeral would stand is nothing.
        most_numbered: share of a row's pieces that stand at the longest ticks.
        least_numbered: share of the longest ticks in the frame that bear one: at worst every second
            does, and of these more than half are too faint to be seen.
    """

    least_inch_px: float = 40.0
    samples_per_inch: float = 160.0
    reach: float = 0.75
    stroke: float = 0.06
    tall: tuple[float, float] = (0.06, 0.4)
    wide: float = 0.4
    aligned: float = 0.04
    one_line: float = 0.03
    far_ticks: int = 6
    alike: float = 1.3
    beside: float = 0.12
    as_strong: float = 0.5
    trace: float = 0.25
    most_numbered: float = 0.8
    least_numbered: float = 0.2


FIGURES = FigureSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleSettings:
    """How sure a scale is. Errors are relative, one standard deviation, unless said otherwise.

    Attributes:
        ruler_height: a ruler 1 to 2 mm thick seen from 40 cm is that much nearer the camera.
        ruler_lean: slope of a ruler that is laid on soft cloth: 3 mm at one end of 30 cm.
        ruler_gainsaid: deviation of the plane that a ruler tells from the cloth's own, in standard
            deviations, at which it loses its say.
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
    ruler_lean: float = 0.01
    ruler_gainsaid: float = 2.0
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
class EndSettings:
    """Where the body of a ruler ends along its length.

    Attributes:
        rounds: of looking, each within what the last one found.
        cell_px: pixels of a cell: so wide that weave shows as fine contrast in it.
        least_across, most_across: cells across the body; wider bodies are reduced.
        least_along, most_along: cells along the outline.
        known_mm: beside the feet of the ticks that is body: no ruler is narrower.
        least_cells: of the body and of the cloth that must be known.
        most_known: so many of the known cells stand for all.
        nearest: share of the known cells among which the nearest lie that are asked.
        least_apart: encoded light by which cells of one and the same thing differ anyway.
        strange: times as far from the cloth as its own cells lie from each other: what lies
            farther is like nothing in it.
        row_weight: encoded light that counts like a row more, for places of the body.
        most: what one cell may tell, as a log chance: a numeral or a stain is no end.
    """

    rounds: int = 2
    cell_px: int = 6
    least_across: int = 4
    most_across: int = 16
    least_along: int = 8
    most_along: int = 2000
    known_mm: float = 9.0
    least_cells: int = 40
    most_known: int = 4000
    nearest: float = 0.01
    least_apart: float = 0.01
    strange: float = 3.0
    row_weight: float = 0.02
    most: float = 3.0


ENDS = EndSettings()
