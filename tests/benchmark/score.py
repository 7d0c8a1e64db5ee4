"""What one reading got right: the program's JSON (or the baseline's) against the truth."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from settscan.cloth.notation import parse_sequence
from tests.benchmark import match

# A stripe counts as plainly visible if both its edges show over this share of the longest edge.
PLAIN = 0.25
CERTAIN = 0.95
WRONG_SCALE = 0.02
LEAST_TICKS = 10  # of a ruler in the frame, below which nobody could read it
# Least share of the read part that stripes must fill to tell its density or scale.
HELD = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class StripeScore:
    """One whole stripe of the truth (or, with `threads` 0, a stripe read that does not exist).

    Attributes:
        axis, index: where; index in the truth's list, or in the reading's if threads is 0.
        threads: true count.
        paired: whether a read stripe lies here; `yarn` whether it has the right yarn.
        counted: what was read; None if no count.
        low, high, chance: as stated; None without a count.
        inside: whether it lies in the read box (always so if the axis was not read at all).
        plain: whether it shows plainly.
    """

    axis: str
    index: int
    threads: int
    paired: bool = False
    yarn: bool = False
    counted: int | None = None
    low: int | None = None
    high: int | None = None
    chance: float | None = None
    inside: bool = True
    plain: bool = True

    @property
    def exact(self) -> bool:
        """Right yarn and right count."""
        return self.yarn and self.counted == self.threads and self.threads > 0

    @property
    def stated(self) -> bool:
        """Whether a count with an interval was stated."""
        return self.counted is not None and self.low is not None

    @property
    def held(self) -> bool:
        """Whether the interval holds the truth."""
        return self.stated and self.low <= self.threads <= self.high

    @property
    def certain(self) -> bool:
        """Whether it was stated as certain."""
        return self.stated and (self.low == self.high or self.chance >= CERTAIN)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoScore:
    """One photo.

    Attributes:
        status: of the reading; "failed" for a crash.
        stripes: whole stripes of the truth, and stripes read that do not exist.
        sequence: whether, on both axes, every stripe of the longest run of plainly visible whole
            stripes is there with yarn and count, and nothing that does not exist; `box` the same
            of the stripes in the read box.
        density: relative errors, one for each axis with a stated density (not given).
        scale: relative errors of the axes; None where a scale was there to be found and was not.
        yarns: whether their number is right; `colours` CIEDE2000 of each.
        weave: whether right; `repeats` for each axis.
        seconds: of computing (all threads); `note` what went wrong, for a person.
    """

    status: str
    stripes: tuple[StripeScore, ...] = ()
    sequence: bool = False
    box: bool = False
    density: tuple[float, ...] = ()
    scale: tuple[float | None, ...] = ()
    yarns: bool | None = None
    colours: tuple[float, ...] = ()
    weave: bool | None = None
    repeats: tuple[bool, ...] = ()
    seconds: float = 0.0
    note: tuple[str, ...] = ()


@dataclass(slots=True)
class _Axis:
    """One axis on its way to be scored."""

    name: str
    read: list[dict]
    true: list[dict]
    counted: bool
    in_mm: bool
    place: match.Placed | None = None
    pairs: list[tuple[int, int]] = field(default_factory=list)


def score(reading: dict, truth: dict, *, given_density: bool = False) -> PhotoScore:
    """Judge a reading (the JSON's form) by the truth (the renderer's form)."""
    mine = {y["key"]: k for k, y in enumerate(reading["yarns"])}
    used = {s["yarn"] for axis in ("warp", "weft") for s in truth[axis]["stripes"]}
    keys = {key: k for k, key in enumerate(sorted(used))}
    apart = _apart(reading, truth, mine, keys)
    axes = [_axis(name, reading[name], truth[name]) for name in ("warp", "weft")]
    yarns = _pair(axes, mine, keys, apart)
    stripes = tuple(s for axis in axes for s in _stripes(axis, mine, keys, yarns))
    sharp = _true_colours(truth, keys) is not None
    return PhotoScore(
        status=reading["status"],
        stripes=stripes,
        sequence=all(_sequence_right(axis, stripes) for axis in axes),
        box=all(a.counted for a in axes) and all(s.exact for s in stripes if s.inside),
        density=() if given_density else tuple(_densities(axes, reading, truth)),
        scale=tuple(_scales(axes, reading, truth)),
        yarns=len(mine) == len(keys) if mine else None,
        colours=tuple(float(apart[a, b]) for a, b in yarns.items()) if sharp else (),
        weave=_weave_right(reading, truth) if mine else None,
        repeats=tuple(
            _repeat_right(axis, reading[axis.name], truth, mine, keys, yarns)
            for axis in axes
            if axis.counted and "sequence" in truth[axis.name]
        ),
        note=_notes(axes, stripes, mine, keys, yarns),
    )


def _true_colours(truth: dict, keys: dict[str, int]):
    listed = {y["key"]: y.get("apparent_srgb", y.get("srgb")) for y in truth.get("yarns", [])}
    colours = [listed.get(key) for key in keys]
    return None if any(c is None for c in colours) else match.lab_of(colours)


def _apart(reading, truth, mine, keys) -> np.ndarray:
    """(read yarns, true yarns) CIEDE2000; 50 throughout if the true colours are not known."""
    true = _true_colours(truth, keys)
    if true is None or not mine:
        return np.full((len(mine), len(keys)), 50.0)
    shown = [[int(y["srgb"][i : i + 2], 16) for i in (1, 3, 5)] for y in reading["yarns"]]
    return match.differences(match.lab_of(shown), true)


def _axis(name: str, read: dict, truth: dict) -> _Axis:
    counted = bool(read["stripes"])
    bands = read["stripes"] if counted else read["bands"]
    in_mm = bool(bands) and bands[0]["start_mm"] is not None
    if bands and not in_mm:
        bands = _placed_by_counts(bands, _mm_per_thread(truth["stripes"])) if counted else []
    return _Axis(name=name, read=list(bands), true=truth["stripes"], counted=counted, in_mm=in_mm)


def _mm_per_thread(stripes: list[dict]) -> float:
    """What a thread of the true axis takes, so that right counts lie where their stripes do."""
    apart = [(s["end_mm"] - s["start_mm"]) / max(s["threads"], 1) for s in stripes]
    return float(np.median(apart))


def _placed_by_counts(stripes: list[dict], pitch: float) -> list[dict]:
    """Stripes of a photo without scale, placed by their own counts (only to find them)."""
    ends = pitch * np.cumsum([s["threads"] for s in stripes])
    starts = np.r_[0.0, ends[:-1]]
    return [
        {**s, "start_mm": a, "end_mm": b} for s, a, b in zip(stripes, starts, ends, strict=True)
    ]


def _sides(axis: _Axis, mine, keys):
    read = match.edges_of(axis.read), np.array([mine[s["yarn"]] for s in axis.read])
    true = match.edges_of(axis.true), np.array([keys[s["yarn"]] for s in axis.true])
    return read, true


def _pair(axes: list[_Axis], mine, keys, apart) -> dict[int, int]:
    """Lay the axes on the truth and pair yarns and stripes; the axes are filled in."""
    weight = np.exp(-apart / match.COLOUR_WEIGHT)
    shares = np.zeros(apart.shape)
    for axis in axes:
        if axis.read:
            read, true = _sides(axis, mine, keys)
            axis.place = match.place(read, true, weight)
            if axis.place is not None:
                shares += match.confusion(read, true, axis.place, apart.shape)
    if not mine:
        return {}
    yarns = match.pair_yarns(shares, apart)
    for axis in axes:
        if axis.place is not None:
            axis.pairs = match.pair_stripes(*_sides(axis, mine, keys), axis.place, yarns)
    return yarns


def _stripes(axis: _Axis, mine, keys, yarns) -> list[StripeScore]:
    partner = {j: i for i, j in axis.pairs}
    plain = _plainly(axis.true)
    low, high = _box(axis)
    out = []
    for j, true in enumerate(axis.true):
        if true["cut"]:
            continue
        one = StripeScore(axis=axis.name, index=j, threads=true["threads"], plain=plain[j])
        read = axis.read[partner[j]] if j in partner else None
        if read is not None and read.get("cut") and partner[j] in (0, len(axis.read) - 1):
            one = replace(one, inside=False)
        elif read is not None:
            one = _judged(one, read, yarns.get(mine[read["yarn"]]) == keys[true["yarn"]], axis)
        else:
            one = replace(one, inside=not axis.pairs or low <= j <= high)
        out.append(one)
    paired = {i for i, _ in axis.pairs}
    if axis.counted and axis.pairs:
        out += [_invented(axis, i) for i in range(len(axis.read)) if i not in paired]
    return out


def _box(axis: _Axis) -> tuple[int, int]:
    """First and last true stripe that the read box holds whole."""
    if not axis.pairs:
        return 0, len(axis.true) - 1
    (i, low), (k, high) = axis.pairs[0], axis.pairs[-1]
    cut = [bool(s.get("cut")) for s in axis.read]
    return low + (cut[i] and i == 0), high - (cut[k] and k == len(axis.read) - 1)


def _judged(one: StripeScore, read: dict, yarn: bool, axis: _Axis) -> StripeScore:
    one = replace(one, paired=True, yarn=yarn)
    if not axis.counted:
        return one
    return replace(
        one, counted=read["threads"], low=read.get("low"), high=read.get("high"),
        chance=read.get("chance"),
    )  # fmt: skip


def _invented(axis: _Axis, i: int) -> StripeScore:
    read = axis.read[i]
    edge = i in (0, len(axis.read) - 1)
    return StripeScore(
        axis=axis.name, index=i, threads=0, paired=True, counted=read["threads"],
        low=read.get("low"), high=read.get("high"), chance=read.get("chance"), inside=not edge,
    )  # fmt: skip


def _plainly(stripes: list[dict]) -> list[bool]:
    """Whether both edges of a stripe show over a fair share of the longest edge that shows."""
    starts = [s.get("start_shown_px") for s in stripes]
    ends = [s.get("end_shown_px") for s in stripes]
    if None in starts or None in ends:
        return [True] * len(stripes)
    wanted = PLAIN * max(ends)
    return [min(pair) >= wanted for pair in zip(starts, ends, strict=True)]


def _sequence_right(axis: _Axis, stripes) -> bool:
    mine = [s for s in stripes if s.axis == axis.name]
    wanted = _longest_run([s for s in mine if s.threads and s.plain], axis.true)
    invented = [s for s in mine if not s.threads and s.inside]
    return axis.counted and all(s.exact for s in wanted) and not invented


def _longest_run(stripes: list[StripeScore], true: list[dict]) -> list[StripeScore]:
    """The longest run (in threads) of neighbours: a ruler may hide what lies between two runs."""
    runs: list[list[StripeScore]] = [[]]
    last = None
    for s in stripes:
        place = (s.index, true[s.index].get("index", s.index))
        if last is not None and place != (last[0] + 1, last[1] + 1):
            runs.append([])
        runs[-1].append(s)
        last = place
    return max(runs, key=lambda run: sum(s.threads for s in run))


def _densities(axes, reading, truth):
    """Relative errors of the stated densities, against the true one within the read box."""
    for axis, name in zip(axes, ("epi", "ppi"), strict=True):
        stated, true = reading[axis.name].get(name), truth[axis.name].get("epi")
        if stated is None or true is None:
            continue
        if len(axis.pairs) > 3 and truth[axis.name].get("placed_by", "mm") == "mm":
            true = _box_density(axis) or true
        yield stated["value"] / true - 1


def _box_density(axis: _Axis) -> float | None:
    """Threads per inch over the whole stripes that the read box holds; None if they are too few.

    Threads of handwoven cloth are uneven: whole stripes that are a small part of the box do not
    have the box's density.
    """
    low, high = _box(axis)
    held = [s for s in axis.true[low : high + 1] if s["threads"] == s["full_threads"]]
    threads = sum(s["threads"] for s in held)
    mm = sum(s["end_mm"] - s["start_mm"] for s in held)
    enough = axis.in_mm and mm > HELD * np.ptp(match.edges_of(axis.read))
    return 25.4 * threads / mm if threads >= 20 and enough else None


def _scales(axes, reading, truth):
    """Relative error of each axis' scale, from the places of paired edges.

    An axis without scale gives None; one whose edges lie in a small part of it gives nothing.
    """
    rulers = truth.get("rulers") or [r for r in (truth.get("ruler"),) if r]
    there = bool(truth.get("card")) or any(_shows(r, truth) for r in rulers)
    if reading["scale"]["source"] == "none":
        return [None, None] if there else []
    out = []
    for axis in axes:
        placed = truth[axis.name].get("placed_by", "mm")
        if not axis.in_mm or (placed == "counts" and "epi" not in truth[axis.name]):
            continue
        read, true = match.edges_of(axis.read), match.edges_of(axis.true)
        # Where the frame cuts a stripe is no edge: only those between paired neighbours count.
        both = [b for a, b in pairwise(axis.pairs) if (b[0] - a[0], b[1] - a[1]) == (1, 1)]
        if len(both) < 3:
            continue
        i, j = np.array(both).T
        if np.ptp(read[i]) > HELD * np.ptp(read):
            out.append(1 / _slope(read[i], true[j]) - 1)
    return out


def _shows(ruler: dict, truth: dict) -> bool:
    """Whether enough of a ruler's ticks lie in the frame, a sixth of its width long, to be read.

    Of photos that were not drawn nobody wrote down where their ticks are.
    """
    if "ticks_seen" not in ruler:
        return True
    outline, feet = np.array(ruler["outline_px"]), np.array(ruler["ticks_px"])
    tips = feet + (outline[3] - outline[0]) / 6
    inside = ((tips >= 0) & (tips < truth["size_px"])).all(axis=1)
    return int((inside & ruler["ticks_seen"]).sum()) >= LEAST_TICKS


def _slope(x: np.ndarray, y: np.ndarray) -> float:
    """Median slope over all pairs of far-apart points (Theil 1950, Sen 1968)."""
    a, b = np.triu_indices(len(x), 1)
    far = np.abs(x[a] - x[b]) > 0.3 * np.ptp(x)
    return float(np.median((y[a] - y[b])[far] / (x[a] - x[b])[far]))


def _weave_right(reading: dict, truth: dict) -> bool | None:
    if "weave" not in truth:
        return None
    true = truth["weave"]
    name, direction = (true[:-2], true[-1]) if true[-2:] in (" Z", " S") else (true, None)
    direction = truth.get("twill_direction") or direction
    read = reading["weave"]
    # The number of ends between its turns is told too, but no truth has it.
    found = re.sub(r"(?<=herringbone) \d+$", "", read["name"])
    return found == name and (direction is None or read["twill_direction"] == direction)


def ring(kind: str, stripes) -> tuple[tuple[str, int], ...]:
    """One repeat as a ring: unfolded, and the shortest that repeats to the same cloth."""
    stripes = [tuple(s) for s in stripes]
    if kind == "symmetric" and len(stripes) > 2:
        stripes = stripes + stripes[-2:0:-1]
    n = len(stripes)
    for part in range(1, n + 1):
        if n % part == 0 and stripes == stripes[:part] * (n // part):
            return tuple(stripes[:part])
    return tuple(stripes)


def same_ring(first, second, *, turned: bool = False) -> bool:
    """Whether two rings are the same from some stripe on, or, if `turned`, backwards."""
    if len(first) != len(second):
        return False
    ways = [second, second[::-1]] if turned else [second]
    return any(way[k:] + way[:k] == first for way in ways for k in range(max(1, len(way))))


def _repeat_right(axis: _Axis, read: dict, truth: dict, mine, keys, yarns) -> bool:
    """The right ring; or "partial", if no whole repeat shows in the read box."""
    true = truth[axis.name]
    goal = ring(true["kind"], true["sequence"])
    low, high = _box(axis)
    shown = sum(s["threads"] for s in axis.true[low : high + 1] if not s["cut"])
    if read["repeat"]["kind"] == "partial":
        return shown < sum(n for _, n in goal)
    back = {b: key for key, b in keys.items()}
    names = {key: back.get(yarns.get(k), "?") for key, k in mine.items()}
    written = parse_sequence(read["repeat"]["sequence"]).stripes
    found = ring(read["repeat"]["kind"], [(names[s.yarn], s.threads) for s in written])
    return same_ring(found, goal, turned=bool(truth.get("warp_across")))


def _notes(axes, stripes, mine, keys, yarns) -> tuple[str, ...]:
    """What is wrong, one line for each stripe, for the person who looks for the cause."""
    lines = []
    back = {k: key for key, k in mine.items()}
    true = {k: key for key, k in keys.items()}
    lines.append("yarns: " + ", ".join(f"{back[a]} is {true[b]}" for a, b in yarns.items()))
    for axis in axes:
        place = axis.place
        laid = "not placed" if place is None else f"agreement {place.agreement:.2f}"
        laid += "" if place is None else f", stretch {place.stretch:.4f}, offset {place.offset:.2f}"
        lines.append(f"{axis.name}: {len(axis.read)} read, {len(axis.true)} true, {laid}")
        for s in stripes:
            if s.axis != axis.name or s.exact or not s.inside:
                continue
            lines.append("  " + _fault(s, axis))
    return tuple(lines)


def _fault(s: StripeScore, axis: _Axis) -> str:
    if not s.threads:
        at = axis.read[s.index]
        return f"read stripe {s.index} ({at['yarn']}{s.counted}) does not exist"
    at = axis.true[s.index]
    name = f"true stripe {s.index} ({at['yarn']}{s.threads}) at {at['start_mm']:.1f} mm"
    if not s.paired:
        return f"{name} was not seen"
    if s.counted is None:
        return f"{name} was not counted"
    doubt = f"{s.low}..{s.high}, chance {s.chance}"
    return f"{name} read as {s.counted} ({doubt}){'' if s.yarn else ' in another yarn'}"
