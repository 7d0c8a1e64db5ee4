"""The ruler and its rows of ticks."""

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
        most_lines_again: the same where no ruler was found along these.
        edges_apart: photo px within which edges count as one where the two edges of a body are
            sought, which is no narrower than twice that.
        strip_half: half width in rows of a strip: at 7 px per mm it holds the ticks of a scale.
        row_px: rows averaged before looking for ticks; the shortest ticks have twice that.
        rough_px: standard deviation, in px of the larger reduced picture, of what is looked at
            together to tell rough from smooth: a few threads.
        rough_strong: share of the picture that is less rough than its roughest.
        most_rough_lines: edges of what is smooth that are kept; a ruler's is among the longest.
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
        most_rise: slope of the line of the ticks' feet to the comb: edges found in cloth run up
            to so much aslant to a ruler and still hold its ticks.
        feet_width: rows, in spacings, on either side of the feet that are compared.
        same_pitch: share by which the spacing may change with the strip: by perspective alone.
        most_leans: so many times a strip is cut anew along the slope that is left.
        most_aslant: so many combs, the likeliest, are looked at for it.
        long_strip: samples from which on the lean of ticks may change along a ruler.
        core_inset: the shortest ticks end so far within the core at most, in spacings: where it
            ends, less than two thirds of all ticks show, and half of them are of the shortest.
        gap_rows: plain rows after which a tick has ended (a numeral may follow).
        gap_px: the same in photo px; the blur of a lens closes smaller gaps.
        most_combs: so many combs are examined closely.
        most_aslant_turn: radians by which a row of ticks may be seen aslant: where the strip is
            no higher than a scale it holds ten ticks or more up to this.
        much_longer: a row of ticks that is so many times as long as the scale that was read from
            a part of it is worth a look.
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
        most_bodies_again: likely bodies whose edges are looked along once more.
        print_px: lines that are printed on a clear ruler are narrower than this, pixels of a level.
        print_blur_px: standard deviation of the blur with which a photo draws a line.
        print_strong: share of the picture that is less dark than its plainest lines ...
        print_depth: ... which are drawn so dark, grey levels.
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
        numbered_weight: so many times the evidence is a scale whose numerals were seen: it
            overrules others that lengths alone tell.
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
    edges_apart: float = 6.0
    most_lines_again: int = 240
    strip_half: int = 48
    row_px: int = 4
    rough_px: float = 4.0
    rough_strong: float = 0.95
    most_rough_lines: int = 20
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
    most_rise: float = 0.07
    feet_width: float = 0.75
    same_pitch: float = 0.03
    core_inset: float = 0.25
    most_leans: int = 2
    most_aslant: int = 40
    tallest_core: float = 10.0
    usual_bend: float = 0.01
    gap_rows: float = 2.0
    gap_px: float = 1.5
    long_strip: int = 300
    spacing_match: float = 0.03
    end_match: float = 0.01
    most_combs: int = 40
    most_aslant_turn: float = 0.15
    much_longer: float = 1.15
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
    most_bodies_again: int = 4
    print_px: int = 3
    print_blur_px: float = 1.2
    print_strong: float = 0.99
    print_depth: float = 100.0
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
    numbered_weight: float = 3.0
    widest_mm: float = 60.0
    margin_mm: float = 60.0
    inset_mm: float = 3.0
    agree: float = 0.05
    most_apart: float = 1.6


RULER = RulerSettings()
