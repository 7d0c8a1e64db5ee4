"""The ruler and its marks, and the scale they give."""

from __future__ import annotations

from dataclasses import dataclass


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
        least_lean: spacings by which ticks of one kind must grow along a comb that runs aslant.
        least_alike: fewest pairs of ticks, one period apart, that tell it.
        most_leans: so many slopes are tried.
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
        least_longest: an order of two lengths, which chance may make of few ticks, has so many
            of the longest at least.
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
    least_lean: float = 0.2
    least_alike: int = 8
    most_leans: int = 2
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
    least_longest: int = 5
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
class EndSettings:
    """Where the body of a ruler ends along its length.

    Attributes:
        rounds: of looking, each within what the last one found.
        cell_px: pixels of a cell: so wide that weave shows as fine contrast in it.
        least_across, most_across: cells across the body; wider bodies are reduced.
        least_along, most_along: cells along the outline.
        known_mm: beside the feet of the ticks that is body: no ruler is narrower.
        least_cells: of the body and of the cloth that must be known.
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
    nearest: float = 0.01
    least_apart: float = 0.01
    strange: float = 3.0
    row_weight: float = 0.02
    most: float = 3.0


ENDS = EndSettings()
