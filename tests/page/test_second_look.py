"""A second look respects what was pinned, and is honest about what a width tells."""

from dataclasses import replace
from fractions import Fraction

from settscan.cloth.project_read import parse_project
from settscan.page import stripes
from settscan.page.hints import density_of_pinned
from settscan.page.places import work_of
from settscan.page.readings import renewed
from settscan.page.second_look import Seen, looked_again
from tests.page.cloths import cloth, photo, project_text, side, told

TEXT, SHOWN = "A/22 B6 C14 B4 C/4", "B3 C14 B4 C4 B4 C14 B6 A22 B6 C9"


def seen(text, sure=1.0, width=None):
    """A new reading with these stripes, evenly spaced unless widths are given."""
    stripes = [(one[0], int(one[1:])) for one in text.split()]
    widths = width or [threads for _, threads in stripes]
    at, found = 0.0, []
    for place, (yarn, threads) in enumerate(stripes):
        end = at + widths[place] / sum(widths)
        cut = place in (0, len(stripes) - 1)
        spread = 0 if sure > 0.9 else 1
        found.append(Seen(yarn, threads, threads - spread, threads + spread, sure, cut, at, end))
        at = end
    return found


def test_what_is_certain_stays_and_the_rest_is_renewed():
    hand = stripes.counted(side(TEXT, shown=SHOWN, cut=(0, 9)), 2, 15)
    fresh = seen("B3 C13 B5 C4 B5 C13 B6 A24 B6 C9")
    after = looked_again(hand, fresh, None, True)
    assert told(after)[0] == "A24 B6 C15 B5 C4"
    assert [line.certain for line in after.lines] == [False, False, True, False, False]


def test_an_unsure_count_becomes_a_doubt():
    after = looked_again(
        side(TEXT, shown=SHOWN, cut=(0, 9)), seen(SHOWN.replace("A22", "A21"), 0.6), None, True
    )
    doubt = after.lines[0].doubt
    assert (after.lines[0].threads, doubt.low, doubt.high, doubt.chance) == (21, 20, 22, 0.6)


def test_stripes_that_a_hand_split_stay_split_and_are_told_by_their_width():
    hand = stripes.split(side(TEXT, shown=SHOWN, cut=(0, 9)), 2, 9, "A")  # C14 -> C9 A5
    fresh = seen(SHOWN)
    total = sum(one.threads for one in fresh)
    after = looked_again(hand, fresh, 1 / total, True)
    assert told(after)[0] == "A22 B6 C9 A5 B4 C4"
    assert after.lines[2].doubt.note == "told by its width"
    assert after.lines[0].doubt is None


def test_on_another_picture_places_are_not_guessed():
    hand = stripes.split(side(TEXT, shown=SHOWN, cut=(0, 9)), 2, 9, "A")
    after = looked_again(hand, seen(SHOWN), 0.01, False)
    assert after.shown == () and told(after)[0] == told(hand)[0]


def axis(text):
    return {
        "pitch": 1 / sum(int(one[1:]) for one in text.split()),
        "stripes": [
            {"yarn": s.yarn, "threads": s.threads, "low": s.low, "high": s.high,
             "chance": s.chance, "cut": s.cut, "start": s.start, "end": s.end}
            for s in seen(text)
        ],
    }  # fmt: skip


def test_a_reading_goes_round_the_hand_in_the_file():
    text = project_text().replace("A/22 B6", "A/24 B6").replace("# The warp:", "# MINE. The warp:")
    first, _, record = parse_project(text)
    import tomllib

    data = tomllib.loads(text)
    work = work_of(data, first, record, {})
    weft = "B6 C4 A10 B6 C4 A7"
    places = {"columns": axis(SHOWN), "rows": axis(weft), "corners": [], "size": [700, 700]}
    new = renewed(text, work, cloth(doubted=False), photo(), places, True)
    assert "# MINE." in new.text
    assert 'sequence = "A/22 B6 C14 B4 C/4"' in new.text  # nobody had marked the 24 as certain
    certain = stripes.marked(work.warp, 0, True)
    new = renewed(text, replace(work, warp=certain), cloth(doubted=False), photo(), places, True)
    assert 'sequence = "A/24 B6 C14 B4 C/4"' in new.text


def test_counted_stripes_tell_the_density():
    text = project_text()
    first, wishes, record = parse_project(text)
    import tomllib

    from settscan.cloth.project_model import Project
    from settscan.page.desk import View

    work = work_of(tomllib.loads(text), first, record, {})
    view = View(1, Project(cloth=first, wishes=wishes, photo=record), {}, work)
    size = (866, 600)  # at 6.9 pixels for a mm
    exact = replace(work.warp, exact=True)
    assert density_of_pinned(exact, view, size) is None
    one = stripes.counted(exact, 0, 22)
    found = density_of_pinned(one, view, size)
    threads = sum(piece.threads for piece in work.warp.shown)
    assert abs(found - Fraction(threads) / Fraction(866 / 6.9)) < Fraction(1, 1000)
