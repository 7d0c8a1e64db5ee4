"""The winding list as lines, one action each, and how they fall on pages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from settscan.sheets.content import plural
from settscan.winding.model import Bout, Tie, TieKind, WindingPlan, WindingStep

_EARLY = 0.45  # a page is never broken at a tie before this share of it is full


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
    if step.in_hand > 1:
        parts.append(f"{plural(step.passes, 'pass', 'passes')} of {step.in_hand}")
    return ", ".join(parts)


HOW_TO_READ = (
    "On the winding sheets each line says: how many ends to wind, their colour, where the hand"
    ' finishes ("20 of 24": so much of a stripe of 24 is done), the ends in the bout so far, and'
    " the ends in the warp so far. Tick each box as it is done."
)


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


def per_yarn_line(bout: Bout, names: dict[str, str]) -> str:
    """The footer: ends of each colour in the bout, and their sum."""
    each = ", ".join(
        " ".join(filter(None, (key, names[key], str(ends)))) for key, ends in bout.per_yarn.items()
    )
    return f"Bout {bout.number}: {each} = {bout.ends} ends"


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
    """The groups page by page; a page ends at a tie where it can, and pages are evenly full."""
    total = sum(group.height for group in groups)
    target = total / max(1, -(-total // room))
    pages: list[list[Group]] = []
    page: list[Group] = []
    used = 0.0
    for group in groups:
        if page and used + group.height > room:
            kept = _last_tie(page, room)
            pages.append(page[:kept])
            page = page[kept:]
            used = sum(each.height for each in page)
        page.append(group)
        used += group.height
        if group.breaks_well and used >= target:
            pages.append(page)
            page, used = [], 0.0
    return [*pages, page] if page else pages


def _last_tie(page: Sequence[Group], room: float) -> int:
    """How many groups to keep on a full page: up to its last tie, unless that is too early."""
    used = sum(group.height for group in page)
    for kept in range(len(page), 0, -1):
        if used < _EARLY * room:
            break
        if page[kept - 1].breaks_well:
            return kept
        used -= page[kept - 1].height
    return len(page)
