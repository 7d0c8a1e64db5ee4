"""The scores of many photos as the tables that are printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmark.score import WRONG_SCALE, PhotoScore, StripeScore

SHORT, LONG = 24, 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One photo's scores: the program's and the baseline's."""

    row: str
    name: str
    score: PhotoScore
    naive: PhotoScore


def percent(hits: Sequence[bool], digits: int = 0) -> str:
    """Share of hits, or a dash for none to count."""
    return "-" if not len(hits) else f"{100 * float(np.mean(hits)):.{digits}f}"


def _whole(scores: Sequence[PhotoScore]) -> list[StripeScore]:
    return [s for p in scores for s in p.stripes if s.threads]


def exact(scores: Sequence[PhotoScore], fewest: int, most: int) -> str:
    """Share of whole stripes in the read box with so many threads that are exact."""
    return percent([s.exact for s in _whole(scores) if s.inside and fewest <= s.threads <= most], 1)


def lines_found(scores: Sequence[PhotoScore]) -> str:
    """Share of one-thread stripes that were seen in the right yarn, whatever their count."""
    return percent([s.yarn for s in _whole(scores) if s.inside and s.threads == 1])


def in_box(scores: Sequence[PhotoScore]) -> str:
    """Share of plainly visible whole stripes that lie in the read box."""
    return percent([s.inside for s in _whole(scores) if s.plain])


def coverage(scores: Sequence[PhotoScore]) -> str:
    """Share of stated intervals that hold the truth."""
    return percent([s.held for s in _whole(scores) if s.inside and s.stated], 1)


def coverage_of_doubted(scores: Sequence[PhotoScore]) -> str:
    """The same of intervals that name more than one count."""
    told = [s for s in _whole(scores) if s.inside and s.stated and s.low != s.high]
    return f"{percent([s.held for s in told], 1)} of {len(told)}"


def certain_wrong(scores: Sequence[PhotoScore]) -> str:
    """Share of counts stated as certain that are wrong (stripes that do not exist included)."""
    sure = [s for p in scores for s in p.stripes if s.inside and s.certain]
    return f"{percent([s.counted != s.threads for s in sure], 1)} of {len(sure)}"


def density(scores: Sequence[PhotoScore]) -> str:
    """Median and worst relative error in percent."""
    errors = np.abs([e for p in scores for e in p.density])
    return "-" if not len(errors) else f"{100 * np.median(errors):.2f} / {100 * errors.max():.1f}"


def scale(scores: Sequence[PhotoScore]) -> str:
    """Median, 95th percentile of the relative error in percent, then missed and wrong."""
    every = [e for p in scores for e in p.scale]
    found = np.abs([e for e in every if e is not None])
    if not every:
        return "-"
    missed, wrong = every.count(None), int((found > WRONG_SCALE).sum())
    tail = f"{missed}+{wrong} of {len(every)}"
    if not len(found):
        return f"- ({tail})"
    return f"{100 * np.median(found):.2f} / {100 * np.percentile(found, 95):.1f} ({tail})"


def colour(scores: Sequence[PhotoScore]) -> str:
    """Median CIEDE2000."""
    every = [c for p in scores for c in p.colours]
    return f"{np.median(every):.1f}" if every else "-"


def _known(values) -> list[bool]:
    return [bool(v) for v in values if v is not None]


Column = tuple[str, Callable[[Sequence[PhotoScore]], str]]

COUNTS: tuple[Column, ...] = (
    ("photos", lambda s: str(len(s))),
    ("1-24 exact %", lambda s: exact(s, 1, SHORT)),
    ("25-100 exact %", lambda s: exact(s, SHORT + 1, LONG)),
    ("1-thread seen %", lines_found),
    ("sequence exact %", lambda s: percent([p.sequence for p in s])),
    ("same, of what was read %", lambda s: percent([p.box for p in s])),
    ("in the box %", in_box),
    ("held by 90 % interval", coverage),
    ("same, of the doubted %", coverage_of_doubted),
    ("certain but wrong %", certain_wrong),
)
BASELINE: tuple[Column, ...] = (
    ("naive 1-24 %", lambda s: exact(s, 1, SHORT)),
    ("naive 25-100 %", lambda s: exact(s, SHORT + 1, LONG)),
    ("naive sequence %", lambda s: percent([p.sequence for p in s])),
)
REST: tuple[Column, ...] = (
    ("density % (median / worst)", density),
    ("scale % (median / p95; missed + wrong)", scale),
    ("number of yarns %", lambda s: percent(_known(p.yarns for p in s))),
    ("colour dE00", colour),
    ("weave %", lambda s: percent(_known(p.weave for p in s))),
    ("repeat %", lambda s: percent([r for p in s for r in p.repeats])),
    ("refused", lambda s: str(sum(p.status in ("refused", "failed") for p in s))),
    ("partly", lambda s: str(sum(p.status == "partly read" for p in s))),
    ("CPU s", lambda s: f"{np.median([p.seconds for p in s]):.1f}"),
)


def tables(results: Sequence[Result]) -> str:
    """Both tables, as Markdown: the counts beside the baseline, then the rest."""
    rows = list(dict.fromkeys(r.row for r in results))
    groups = [(name, [r for r in results if r.row == name]) for name in rows]
    if len(rows) > 1:
        groups.append(("all", list(results)))
    first, second = [], []
    for name, group in groups:
        scores, naive = [r.score for r in group], [r.naive for r in group]
        first.append([name, *(f(scores) for _, f in COUNTS), *(f(naive) for _, f in BASELINE)])
        second.append([name, *(f(scores) for _, f in REST)])
    return "\n\n".join(
        (
            markdown(["row", *(n for n, _ in (*COUNTS, *BASELINE))], first),
            markdown(["row", *(n for n, _ in REST)], second),
        )
    )


def markdown(head: list[str], rows: list[list[str]]) -> str:
    """A Markdown table with aligned columns."""
    widths = [max(len(r[k]) for r in (head, *rows)) for k in range(len(head))]

    def line(cells) -> str:
        first, *others = (c.ljust(w) if k == 0 else c.rjust(w)
                          for k, (c, w) in enumerate(zip(cells, widths, strict=True)))  # fmt: skip
        return "| " + " | ".join([first, *others]) + " |"

    rule = "|" + "|".join("-" * (w + 1) + ("-" if k == 0 else ":") for k, w in enumerate(widths))
    return "\n".join((line(head), rule + "|", *(line(r) for r in rows)))
