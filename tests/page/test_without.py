"""The page in a real browser where something is missing: the photo, the density, a sound file."""

import pytest

from tests.page.browser import a_window
from tests.page.test_browser import browser  # noqa: F401  (a fixture)

PARTS = ("photo", "stripes", "compare", "plan")


def written(folder, name, **changed):
    """A project as the first page writes one from counts on paper."""
    from settscan.cloth.beginning import plain_cloth
    from settscan.cloth.notation import parse_sequence
    from settscan.cloth.project import write_project
    from settscan.measured import Measured
    from settscan.scanned import first_wishes

    warp = parse_sequence("A/24 B4 A8 C/2")
    ends = Measured.exact(1)
    cloth = plain_cloth(name, warp, warp, ends, ends, "plain")
    path = folder / f"{name}.toml"
    write_project(path, cloth, first_wishes("inch"))
    text = path.read_text("utf-8")
    for old, new in changed.items():
        lines = text.splitlines(keepends=True)
        text = "".join(
            f'{old} = "{new}"\n' if line.startswith(f"{old} = ") else line for line in lines
        )
    path.write_text(text, "utf-8")
    return path


@pytest.fixture
def window(browser, tmp_path):  # noqa: F811
    with a_window(browser, tmp_path) as one:
        yield one


def test_a_cloth_without_a_photo_says_so_in_each_part(window, tmp_path):
    page = window.page
    written(tmp_path, "paper")
    for part, says in (
        ("photo", "A photo is read from the first page"),
        ("stripes", "Its stripes are changed in the list"),
        ("compare", "nothing to compare it with"),
    ):
        window.go(f"/p/paper#{part}")
        told = page.locator(f"#{part} .view-empty")
        assert told.is_visible() and says in told.inner_text()
        assert "not read from a photo" in told.inner_text()
        assert page.locator(f"#{part} .view-tools").is_hidden()
    for part in ("photo", "compare"):  # nothing is offered that needs a photo
        window.go(f"/p/paper#{part}")
        assert page.locator(f"#{part} .panel").is_hidden()
    window.go("/p/paper#stripes")
    assert page.locator("#one-count").is_visible()
    assert page.locator(".from-cloth").first.is_hidden()
    assert page.locator("#places-told").is_hidden()


def test_a_warp_that_cannot_be_planned_says_where_to_mend_it(window, tmp_path):
    page = window.page
    path = written(tmp_path, "paper", epi="unknown")
    window.go("/p/paper#plan")
    page.wait_for_selector("#plan-problem:has-text('The cloth')")
    field = page.locator("[id='cloth.epi']")
    assert field.is_visible()  # the place that the sentence names lies open
    assert page.locator("#answered").is_hidden() and page.locator("#open-pdf").is_hidden()
    assert page.locator("#files a:visible").all_inner_texts() == ["Project file (TOML)"]
    window.go("/p/paper/wind")
    assert "density is not known" in page.locator("#question").inner_text()
    assert page.locator("#card").is_hidden() and page.locator("#on").is_hidden()
    page.keyboard.press("Space")  # a pedal is pressed all the same; an error would be noted
    path.write_text(path.read_text("utf-8").replace('epi = "unknown"', 'epi = "24 epi"'), "utf-8")
    page.wait_for_selector("#card:visible")  # of itself, once it can be planned
    assert page.locator("#head").inner_text() != ""
    window.go("/p/paper#plan")
    page.wait_for_selector("#figures .value")
    assert page.locator("#open-pdf").is_visible() and page.locator("#no-sheets").is_hidden()
    assert page.locator("#files a:visible").count() == 10


def test_a_file_cut_short_shows_its_mistakes_and_no_empty_forms(window, tmp_path):
    page = window.page
    path = written(tmp_path, "paper")
    whole = path.read_text("utf-8")
    path.write_text(whole[:700], "utf-8")
    window.go("/p/paper")
    assert "mistake" in page.locator("#problem").inner_text()
    assert page.locator("#main").is_hidden()
    path.write_text(whole, "utf-8")
    page.wait_for_selector("#main:visible")
    assert page.input_value("#one-count") == "24"
    path.write_text(whole[:700], "utf-8")  # what is shown already stays
    page.wait_for_selector("#problem:visible")
    assert page.locator("#main").is_visible()
    window.go("/p/paper")  # and after a reload the last sound version is one step away
    assert "press Undo" in page.locator("#problem").inner_text()
    page.click("#undo")
    page.wait_for_selector("#main:visible")
    assert page.locator("#problem").is_hidden()
    assert path.read_text("utf-8") == whole


def test_a_page_that_nobody_answers_says_so_in_words(window, tmp_path):
    page = window.page
    written(tmp_path, "paper")
    window.go("/p/paper")
    page.route("**/edit", lambda route: route.abort())
    page.fill("#one-count", "26")
    page.press("#one-count", "Enter")
    page.wait_for_selector("#said.bad:has-text('settscan does not answer')")
    assert "settscan page" in page.locator("#said").inner_text()
    page.unroute("**/edit")
    assert page.input_value("#one-count") == "26"  # what was typed stays, to be sent once more
    page.press("#one-count", "Enter")
    page.wait_for_selector("#sequence:has-text('A/26')")
    window.wrong = [told for told in window.wrong if "ERR_FAILED" not in told]
