"""The winding list as lines, one action each, and how they fall on pages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from settscan.cloth.model import Stripe
from settscan.sheets.bout_sets import BoutSet, bout_sets, listed
from settscan.sheets.content import bout_orders, plural
from settscan.winding.model import Bout, OddStripe, Tie, TieKind, WindingPlan, WindingStep

_PAGE = 3.0  # cost of a page, against that of its empty share squared
_MOST_ODD = 12  # kinds of odd stripes that are written out
_CUT = 10.0  # cost of ending a page between two ties


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """What belongs together on a page: a change of yarn, the winding, the tie after it.

    Attributes:
        step: the winding itself.
        label: the repeat that begins here; empty if it goes on.
        ties: the ties due after it, in short.
        height: in points, as the page will draw it.
    """

    step: WindingStep
    label: str
    ties: tuple[str, ...]
    height: float

    @property
    def breaks_well(self) -> bool:
        """Whether a page may end here: a tie has just been made."""
        return bool(self.step.ties)


def passes_note(step: WindingStep) -> str:
    """Where the hand finishes, how far the stripe has come, and passes of several ends."""
    parts = [f"finishes at the {step.finishes_at}"]
    if step.stripe_ends != step.ends:
        parts.append(f"{step.stripe_done} of {step.stripe_ends}")
    if step.held:
        parts.append(f"{plural(step.passes, 'pass', 'passes')} of {' '.join(step.held)}")
    elif step.in_hand > 1:
        parts.append(f"{plural(step.passes, 'pass', 'passes')} of {step.in_hand}")
    return ", ".join(parts)


HOW_TO_READ = (
    "Each line of a winding sheet says: how many ends to wind, their colour, where the hand"
    ' finishes ("20 of 24": so much of a stripe of 24 is done), the ends in the bout so far, and'
    " in the warp. Tick each box as it is done; bouts wound alike share a sheet, with a box for"
    ' each of them on every line. Tie on with a slip knot at the end peg; "break off": tuck the end'
    ' under as well; "leave": let the yarn hang at the peg, unbroken, until "take up".'
)


HAND_HEAD = ("In hand", "Passes", "Odd", "Uneven", "")
HAND_WORDS = (
    "Odd: in so many stripes the number of passes is odd, so that the hand finishes at the other"
    " end than it began. Uneven: in so many stripes the number of ends in the hand changes. More"
    " than one end needs a paddle or a small reed, and the cross is still picked one by one."
)


def hand_rows(winding: WindingPlan) -> tuple[tuple[str, ...], ...]:
    """What one, two and more ends in the hand would mean, below `HAND_HEAD`."""
    chosen = winding.frame.ends_in_hand
    return tuple(
        (
            str(choice.in_hand),
            str(choice.passes),
            str(choice.odd),
            str(choice.uneven),
            "as planned here" if choice.in_hand == chosen else "",
        )
        for choice in winding.hand_choices
    )


@dataclass(frozen=True, slots=True)
class Card:
    """A bout at a glance, to stay with its chain.

    Attributes:
        title: its number among all.
        place: its ends, and which of the warp they are.
        order: its stripes from left to right.
        edges: where it begins and ends.
        ticks: what is to be done with it, to tick.
    """

    title: str
    place: str
    order: tuple[Stripe, ...]
    edges: str
    ticks: tuple[str, ...]


def _at(edge: str) -> str:
    """An edge of a bout ("in the A stripe", "between A 4 and B 6", "the left edge") as a place."""
    return f"at {edge}" if edge.startswith("the ") else edge


def bout_cards(winding: WindingPlan) -> tuple[Card, ...]:
    """A card for each bout, in the order of the warp."""
    found = []
    before = "the left edge"
    for bout, order in zip(winding.bouts, bout_orders(winding), strict=True):
        found.append(
            Card(
                title=f"Bout {bout.number} of {len(winding.bouts)}",
                place=f"{bout.ends} ends, {bout.first_end} to {bout.last_end} from the left",
                order=order,
                edges=f"Begins {_at(before)}; ends {_at(bout.split_reason)}.",
                ticks=(
                    "wound",
                    "counted",
                    *closing_ties(winding, bout),
                    "ties counted",
                    "tag",
                    "chained",
                ),
            )
        )
        before = bout.split_reason
    return tuple(found)


def due_ties(bout: Bout) -> dict[int, tuple[str, ...]]:
    """By the number of the step: its ties, the counting tie said in one short line."""
    found = {}
    counted = 0
    for step in bout.steps:
        if step.ties:
            short = (
                f"Counting tie at {step.bout_total}: {step.bout_total - counted} in this group,"
                " cross the cord."
            )
            others = (text for text in step.ties if not text.startswith("Counting tie"))
            found[step.number] = (short, *others)
            counted = step.bout_total
    return found


def per_yarn_line(bouts: BoutSet, names: dict[str, str]) -> str:
    """The footer: ends of each colour in the bout, and their sum."""
    bout = bouts.pattern
    each = ", ".join(
        " ".join(filter(None, (key, names[key], str(ends)))) for key, ends in bout.per_yarn.items()
    )
    start = bouts.numbers if bouts.times == 1 else f"{bouts.numbers}, each"
    return f"{start}: {each} = {bout.ends} ends"


def bout_rows(winding: WindingPlan) -> tuple[tuple[str, ...], ...]:
    """The bouts at a glance, those that are wound alike in one row: bouts, ends, colours, edge."""
    rows = []
    for bouts in bout_sets(winding):
        bout = bouts.pattern
        edges = dict.fromkeys(each.split_reason for each in bouts.bouts)
        rows.append(
            (
                listed([each.number for each in bouts.bouts]),
                f"{bout.ends} each" if bouts.times > 1 else str(bout.ends),
                ", ".join(f"{key} {ends}" for key, ends in bout.per_yarn.items()),
                "; ".join(edges),
            )
        )
    return tuple(rows)


def odd_groups(winding: WindingPlan) -> tuple[tuple[str, str], ...]:
    """Odd stripes with what is done about them and the other ways out; like ones together."""
    alike: dict[str, list[OddStripe]] = {}
    for odd in winding.odd_stripes:
        alike.setdefault(odd.done, []).append(odd)
    found = []
    for done, odds in list(alike.items())[:_MOST_ODD]:
        bouts = sorted({odd.bout for odd in odds})
        where = f"bout{'s' if len(bouts) > 1 else ''} {listed(bouts)}"
        times = f"{len(odds)} times, in {where}" if len(odds) > 1 else f"In {where}"
        found.append((f"{times}: {done}", f"Ways out: {' '.join(odds[0].ways_out)}"))
    more = len(alike) - len(found)
    if more:
        found.append(
            (f"And {plural(more, 'other kind')} of odd stripe, on the winding sheets.", "")
        )
    return tuple(found)


def closing_ties(winding: WindingPlan, bout: Bout) -> tuple[str, ...]:
    """Ties to make when the bout is wound, other than the counting ties, in short."""
    short = {
        TieKind.CROSS: "at the cross",
        TieKind.CHOKE: "choke",
        TieKind.LOOP_END: "at the plain loop",
    }
    return tuple(
        f"{tie.number} {short[tie.kind]}"
        for tie in winding.ties
        if tie.bout == bout.number and tie.kind in short
    )


def tie_sentences(winding: WindingPlan) -> tuple[str, ...]:
    """Each kind of tie once; bouts in which it differs are named."""
    group = winding.frame.group_ends
    counting = sum(tie.kind is TieKind.COUNTING for tie in winding.ties)
    sentences = []
    if counting:
        sentences.append(
            f"A counting tie after every {group} ends and at the end of the bout: count the"
            f" group, then cross the two ends of the counting cord ({counting} in all)."
        )
    for kind in (TieKind.CROSS, TieKind.CHOKE, TieKind.LOOP_END):
        sentences += _of_kind([tie for tie in winding.ties if tie.kind is kind])
    return tuple(sentences)


def _of_kind(ties: Iterable[Tie]) -> list[str]:
    bouts: dict[str, list[int]] = {}
    for tie in ties:
        bouts.setdefault(tie.text, []).append(tie.bout)
    if len(bouts) < 2:
        return list(bouts)
    return [f"Bout {', '.join(map(str, where))}: {text}" for text, where in bouts.items()]


def on_pages(groups: Sequence[Group], room: float) -> list[list[Group]]:
    """The groups page by page, each page no higher than `room` unless one group alone is.

    Of all ways the best is taken: pages end at a tie first of all, then there are few of them,
    then they are evenly full.
    """
    best: list[tuple[float, int]] = [(0.0, 0)]  # for each number of groups: cost, last page's start
    for end in range(1, len(groups) + 1):
        choices = []
        used = 0.0
        for start in range(end - 1, -1, -1):
            used += groups[start].height
            if used > room and start < end - 1:
                break
            slack = max(0.0, 1 - used / room) ** 2
            cut = end < len(groups) and not groups[end - 1].breaks_well
            choices.append((best[start][0] + _PAGE + slack + _CUT * cut, start))
        best.append(min(choices))
    pages: list[list[Group]] = []
    end = len(groups)
    while end:
        start = best[end][1]
        pages.append(list(groups[start:end]))
        end = start
    return pages[::-1]
