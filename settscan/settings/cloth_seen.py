"""What of a picture is cloth, and where the cloth ends."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class UncrossedSettings:
    """Lines in which the stripes that cross them do not show.

    Attributes:
        least_px: half a line is no thinner.
        least_places: a line that shows at fewer tells nothing.
        least_telling: over so many of these the contrast of the stripes across must be spread.
        least_marks: contrast of the stripes across, against the light: threads of one yarn come to
            two thirds of it.
        lamp_degree: of the polynomial that light along a line follows.
        errors: standard errors by which a slope may be larger than it is found.
        least_slope: with which the stripes show in cloth, for certain: less, errors counted in, is
            none. Light and tone leave it nearer to one than to none.
        suspect: a slope from which a line is looked at closely.
        most: share of lines that things cover; where more lack the stripes it is no woven cloth,
            which is told elsewhere.
        rounds: of the fit to a line that may be one, in which places far off get less say.
        near: times the usual error of a line at which a place has half its say.
    """

    least_px: int = 3
    least_places: int = 12
    least_telling: float = 8.0
    least_marks: float = 0.1
    lamp_degree: int = 3
    errors: float = 3.0
    most: float = 0.35
    least_slope: float = 0.5
    suspect: float = 0.8
    rounds: int = 8
    near: float = 2.0


UNCROSSED = UncrossedSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnEdgeSettings:
    """Where the stripes that run up to the cloth's own edge end.

    Attributes:
        least_shown: share of the strip along the edge in which a line must show to be asked.
        least_in_photo: share of a line beside the edge that must lie in the photo.
        least_places: an edge along which fewer lines show tells nothing.
        lamp_degree: of the polynomial that light along an edge follows.
        least_slope: with which the stripes must show within the edge.
        most_beyond: share of that with which they may show beyond it, by chance; a fringe carries
            half of the stripes or more.
        least_room: pixels that must be left of the strip at either side of an edge.
        beside: pixels beside the edge over which sharpening and resampling reach.
        least_weight: share of the usual weight below which a line says what those beside it say.
        near: pixels to both sides that tell how much shows beyond and within.
        rounds: first from where the strip parts best, then from where the edge ends.
        least_error: pixels to which straightening is known.
        beyond, beyond_sd: threads by which the stripes stand out beyond the last thread, and how
            much that varies: from none where the cloth was cut to half a thread where they turn
            around it. Common practice, no source.
    """

    least_shown: float = 0.9
    least_in_photo: float = 0.6
    least_places: int = 48
    lamp_degree: int = 4
    least_slope: float = 0.5
    most_beyond: float = 0.25
    least_room: int = 6
    beside: int = 3
    least_weight: float = 0.3
    near: int = 24
    rounds: int = 3
    least_error: float = 0.3
    beyond: float = 0.25
    beyond_sd: float = 0.25


OWN_EDGE = OwnEdgeSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class WovenEndSettings:
    """Where the weave ends.

    Attributes:
        most_fringe: share of the cloth, at either end, that may be fringe and more.
        much_farther: threads by which the stripes go on beyond the weave in a fringe.
        goes_on: share of the weave within that is still a weave beyond; strands show less by
            chance.
        blur: pixels by which an edge is blurred.
        least_lines: pixels of cloth and fringe, fewer tell nothing.
        beyond_sd: threads by which the last one may be off: an end that floats over it is seen as
            the strand that it goes on as.
    """

    most_fringe: float = 0.2
    much_farther: float = 4.0
    goes_on: float = 0.6
    blur: int = 2
    least_lines: int = 32
    beyond_sd: float = 0.5


WOVEN_END = WovenEndSettings()


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
            blur take less from it, a clear ruler, or a window half on a thing, more. What is
            stronger by as much is no weave either.
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
