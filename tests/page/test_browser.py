"""The page in a real browser, walked as a weaver would, point by point."""

import base64
import cmath
import json
import math
import re
import shutil
import tomllib

import pytest
from PIL import Image

from settscan.scan import ScanOptions, scan_photos
from tests.page.browser import FLAGS, SIZES, Window, a_window, chromium, served
from tests.page.cloths import many_striped
from tests.page.conftest import SAMPLES
from tests.reading import not_cloth
from tests.render.pair import SETT, close_photo, whole_photo


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    program = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        context = play.chromium.launch_persistent_context(
            tmp_path_factory.mktemp("profile"),
            executable_path=program,
            args=list(FLAGS),
            viewport={"width": 1366, "height": 768},
        )
        yield context
        context.close()


def cropped(path):
    """A part of a sample image, ruler and all, which is read in a few seconds."""
    from PIL import Image

    with Image.open(SAMPLES / "close_swatch.jpg") as image:
        image.crop((400, 600, 1400, 1400)).save(path, quality=93)


@pytest.fixture(scope="module")
def read_folder(tmp_path_factory):
    """A folder with a project as the page's own reading leaves it."""
    from settscan.page.readings import begin_project

    folder = tmp_path_factory.mktemp("read")
    photo = folder / "swatch.jpg"
    cropped(photo)
    result = scan_photos([photo], ScanOptions(), lambda _: None, picture_px=6000)
    begin_project(folder / "swatch.toml", folder / "swatch.page", result, "inch")
    return folder


@pytest.fixture
def folder(read_folder, tmp_path):
    shutil.copytree(read_folder, tmp_path, dirs_exist_ok=True)
    return tmp_path


@pytest.fixture
def window(browser, folder):
    with a_window(browser, folder) as one:
        yield one


DROP = """(photo) => {
  const bytes = Uint8Array.from(atob(photo), (one) => one.charCodeAt(0));
  const data = new DataTransfer();
  data.items.add(new File([bytes], "aunts.jpg", {type: "image/jpeg"}));
  const event = new DragEvent("drop", {dataTransfer: data, bubbles: true, cancelable: true});
  document.getElementById("drop").dispatchEvent(event);
}"""


def project(folder, name="swatch"):
    return tomllib.loads((folder / f"{name}.toml").read_text("utf-8"))


def until(window, act, told=10):
    """Wait until something is true."""
    for _ in range(told * 20):
        if act():
            return
        window.page.wait_for_timeout(50)
    raise AssertionError("it never came true")


def centre(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page, start, to):
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move((start[0] + to[0]) / 2, (start[1] + to[1]) / 2, steps=4)
    page.mouse.move(*to, steps=4)
    page.mouse.up()


# --- 1. the photo -----------------------------------------------------------------------------


def test_1_a_photo_is_dropped_read_with_progress_and_shown(window, folder, tmp_path_factory):
    page = window.page
    tmp_path = tmp_path_factory.mktemp("camera")
    cropped(tmp_path / "aunts.jpg")
    window.go("/")
    photo = base64.b64encode((tmp_path / "aunts.jpg").read_bytes()).decode()
    page.evaluate(DROP, photo)
    page.wait_for_selector("#whole:visible")
    assert page.input_value("#whole") == "aunts.jpg"
    page.click("#read")
    page.wait_for_selector("#progress:visible")
    until(window, lambda: page.locator("#doing").inner_text().startswith(("Reading", "Looking")))
    page.goto(page.url)  # the page answers while the reading goes on
    page.wait_for_selector("body[data-ready]")
    page.wait_for_selector("#progress:visible")
    until(window, lambda: (folder / "aunts.toml").exists(), 120)
    page.click("#finished a")
    page.wait_for_url("**/p/aunts*")
    page.wait_for_selector("body[data-ready]")
    page.wait_for_selector(".tag")
    assert project(folder, "aunts")["warp"]["sequence"].count("A") > 0
    until(window, lambda: "Done" in page.locator("#photo-doing").text_content())
    assert page.locator("#second-told").inner_text() == ""  # nobody took a second look
    window.shot("1-read")


def test_1_what_cannot_be_read_is_told_and_shown(window, folder, tmp_path):
    page = window.page
    (tmp_path / "letter.jpg").write_text("Dear weavers,")
    Image.fromarray(not_cloth.gradient()[:480, :640]).save(tmp_path / "sky.png")
    window.go("/")
    page.set_input_files("#files", tmp_path / "letter.jpg")
    until(window, lambda: "is no picture" in page.locator("#trouble").inner_text())
    assert page.locator("#said").inner_text() == ""
    page.set_input_files("#files", tmp_path / "sky.png")
    page.wait_for_selector("#read:visible")
    until(window, lambda: page.input_value("#whole") == "sky.png")
    page.click("#read")
    page.wait_for_selector("#trouble a", timeout=60_000)
    window.shot("1-refused")
    with window.context.expect_page() as opened:
        page.click("#trouble a")
    opened.value.wait_for_load_state()
    assert opened.value.evaluate("document.images[0].naturalWidth") > 100
    opened.value.close()
    assert not (folder / "sky.toml").exists()


def test_1_a_ruler_in_centimetres_is_told_in_centimetres_too(window):
    page = window.page
    window.go("/p/swatch#photo")
    window.part("photo")
    row = page.locator("#measures .row").first
    inches = re.fullmatch(r"([0-9.]+) in", row.locator("input").input_value())[1]
    told = re.match(r"([0-9.]+) cm, as the ruler was read", row.locator(".soft").inner_text())[1]
    assert float(told) == pytest.approx(2.54 * float(inches), abs=0.1)


def test_1_two_photos_are_handed_in_and_read_together(window, folder, tmp_path_factory):
    camera = tmp_path_factory.mktemp("camera")
    photos = [whole_photo(camera), close_photo(camera)]
    page = window.page
    window.go("/")
    page.set_input_files("#files", photos)
    page.wait_for_selector("#whole:visible")
    until(window, lambda: page.input_value("#close") == "close.jpg")
    assert page.input_value("#whole") == "whole.jpg"
    window.shot("1-two-photos")
    page.click("#read")
    page.wait_for_selector("#progress:visible")
    until(window, lambda: (folder / "whole.toml").exists(), 120)
    page.wait_for_url("**/p/whole**", timeout=60_000)
    page.wait_for_selector(".tag")
    found = project(folder, "whole")
    assert found["photo"]["close_up"] == "close.jpg"
    assert found["photo"]["scale_source"] == "close-up"
    assert float(found["warp"]["epi"].split()[0]) == pytest.approx(24, rel=0.02)  # as drawn
    counts = {int(one) for one in re.findall(r"[A-Z]/?(\d+)", found["warp"]["sequence"])}
    assert len(counts & {threads for _, threads in SETT}) >= 3
    window.shot("1-two-photos-read")
    page.click("#tab-photo")
    page.wait_for_function("document.querySelectorAll('#photo-close option').length > 1")
    options = page.locator("#photo-close option").all_text_contents()
    assert options[0] == "as before: close.jpg" and "close.jpg" in options
    window.shot("1-two-photos-again")


def test_1_corners_and_distances_are_dragged_and_the_cloth_follows(window):
    page = window.page
    window.go("/p/swatch#photo")
    page.wait_for_selector('[data-key="c0"]')
    assert page.locator("#photo-close option").first.text_content() == "none"  # nor was there one
    before = page.evaluate("document.getElementById('straight').toDataURL()")
    start = centre(page.locator('[data-key="c0"] circle').last)
    drag(page, start, (start[0] + 120, start[1] + 90))
    after = page.evaluate("document.getElementById('straight').toDataURL()")
    assert before != after
    assert page.is_checked("#use-corners")
    told = page.locator("#straight-told").inner_text()
    assert "wide" in told
    grip = page.locator('[data-key="m00"] circle').last
    start = centre(grip)
    drag(page, start, (start[0] - 40, start[1] + 3))
    assert page.locator("#straight-told").inner_text() != told
    page.locator('[data-key="c2"]').focus()
    moved = page.locator('[data-key="c2"] circle').last.get_attribute("cx")
    page.keyboard.press("Shift+ArrowLeft")
    until(window, lambda: page.locator('[data-key="c2"] circle').last.get_attribute("cx") != moved)
    window.shot("1-corners")


def test_1_corners_outside_the_photo_are_shown_by_a_smaller_rectangle_inside(window, folder):
    place = folder / "swatch.page" / "picture.json"
    seen = json.loads(place.read_text())
    wide, high, turn = 1000, 800, math.radians(10)  # the photo, all of it straightened
    seen["corners"] = [
        (
            wide / 2 + u * wide * math.cos(turn) - v * high * math.sin(turn),
            high / 2 + u * wide * math.sin(turn) + v * high * math.cos(turn),
        )
        for u, v in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
    ]
    place.write_text(json.dumps(seen))
    page = window.page
    window.go("/p/swatch#photo")
    page.wait_for_selector(".quad")
    points = [
        complex(*map(float, one.split(",")))
        for one in page.locator(".quad").get_attribute("points").split()
    ]
    sides = [points[(k + 1) % 4] - points[k] for k in range(4)]
    assert math.degrees(cmath.phase(sides[0])) == pytest.approx(10, abs=0.1)
    assert math.degrees(cmath.phase(sides[1])) == pytest.approx(100, abs=0.1)
    assert abs(sides[0]) / abs(sides[1]) == pytest.approx(wide / high, rel=1e-3)
    assert abs(sides[0] + sides[2]) < 0.01 * abs(sides[0])
    assert not page.is_checked("#use-corners")
    told = re.search(r"about ([0-9.]+) in wide", page.locator("#straight-told").inner_text())[1]
    assert len(told.replace(".", "").lstrip("0")) <= 3


def test_1_twelve_megapixels_are_zoomed_and_moved_smoothly(window, folder):
    from PIL import Image

    with Image.open(folder / "swatch.cloth.jpg") as image:
        image.resize((4200, 3000)).save(folder / "swatch.cloth.jpg", quality=85)
    page = window.page
    window.go("/p/swatch")
    page.wait_for_timeout(800)
    x, y = centre(page.locator("#cloth-view"))
    page.mouse.move(x, y)
    page.evaluate(
        """() => { window.gaps = []; let last = performance.now();
        const tick = (now) => {
          window.gaps.push(now - last); last = now; requestAnimationFrame(tick); };
        requestAnimationFrame(tick); }"""
    )
    for _ in range(12):
        page.mouse.wheel(0, -160)
        page.wait_for_timeout(30)
    drag(page, (x, y), (x - 300, y - 150))
    page.wait_for_timeout(300)
    gaps = sorted(page.evaluate("window.gaps"))
    # A drawing takes less than a tenth of a second, on two shared cores and without a GPU.
    assert gaps[int(len(gaps) * 0.9)] < 100
    window.shot("1-zoomed")


# --- 2. the stripes ---------------------------------------------------------------------------


def edited(window, act):
    """Do something and wait until the state came back."""
    page = window.page
    with page.expect_response(re.compile(r"/(edit|undo|redo)$")) as answer:
        act()
    assert answer.value.ok, answer.value.text()
    page.wait_for_timeout(60)


def test_2_a_count_is_changed_in_list_and_picture_saved_and_undone(window, folder):
    page = window.page
    window.go("/p/swatch")
    before = project(folder)["warp"]["sequence"]
    page.fill("#one-count", "24")
    edited(window, lambda: page.keyboard.press("Enter"))
    assert project(folder)["warp"]["sequence"] == before.replace("A/22", "A/24")
    assert "A24" in page.locator(".tag text").all_text_contents()
    assert "108 threads" in page.locator("#repeat-told").inner_text()
    assert page.locator("#totals").inner_text().startswith("In one repeat: blue 24, ")
    assert page.locator("#lines li").first.inner_text().split()[-2:] == ["24", "certain"]
    edited(window, lambda: page.click("#undo"))
    assert project(folder)["warp"]["sequence"] == before
    edited(window, lambda: page.keyboard.press("Control+y"))
    assert "A/24" in project(folder)["warp"]["sequence"]
    page.reload()
    page.wait_for_selector("body[data-ready]")
    edited(window, lambda: page.click("#undo"))
    assert project(folder)["warp"]["sequence"] == before


def test_2_an_edge_is_dragged_and_threads_go_with_it(window, folder):
    page = window.page
    window.go("/p/swatch")
    page.wait_for_selector(".grip rect")
    grip = page.locator(".grip").nth(1)
    x, y = centre(grip.locator("rect").last)
    edited(window, lambda: drag(page, (x, y), (x + 9, y)))
    first, second = re.findall(r"[A-Z]/?(\d+)", project(folder)["warp"]["sequence"])[:2]
    assert int(first) > 22 and int(second) < 6
    grip = page.locator(".grip").first
    grip.focus()
    edited(window, lambda: page.keyboard.press("ArrowRight"))
    window.shot("2-edge")


def test_2_a_count_is_wholly_in_sight_and_no_line_runs_through_it(window):
    page = window.page
    window.size("phone")
    window.go("/p/swatch")
    page.wait_for_selector(".tag")
    page.locator("#lines button").first.click()  # the stripe that the right edge of the photo cuts
    page.wait_for_selector(".band-ink")
    view = page.locator(".view:visible").first.bounding_box()
    for tag in page.locator(".tag rect").all():
        box = tag.bounding_box()
        assert view["x"] <= box["x"] and box["x"] + box["width"] <= view["x"] + view["width"]
    drawn = page.evaluate("[...document.querySelectorAll('.tag, .seam')].map((one) => one.tagName)")
    assert "g" in drawn and "line" in drawn[: drawn.index("g")]
    assert "line" not in drawn[drawn.index("g") :]  # what is drawn later lies above


def test_2_split_merge_insert_and_take_out(window, folder):
    page = window.page
    window.go("/p/swatch")
    page.locator("#lines button").nth(2).click()
    page.click("summary:has-text('Split, merge')")
    page.fill("#split-at", "5")
    page.select_option("#split-yarn", "E")
    edited(window, lambda: page.click("#split"))
    assert "C5 E9" in project(folder)["warp"]["sequence"]
    edited(window, lambda: page.click("#merge"))
    assert "E14" in project(folder)["warp"]["sequence"]
    page.fill("#insert-count", "2")
    page.select_option("#insert-yarn", "D")
    edited(window, lambda: page.click("#insert-after"))
    assert "E14 D2" in project(folder)["warp"]["sequence"]
    page.locator("#lines button").nth(3).click()
    edited(window, lambda: page.click("#delete"))
    assert "D2 B4" not in project(folder)["warp"]["sequence"]
    page.click("#one-certain")
    until(window, lambda: any(d.get("confirmed") for d in project(folder)["warp"]["doubts"]))


def test_2_colours_are_picked_renamed_and_merged(window, folder):
    page = window.page
    window.go("/p/swatch")
    before = project(folder)["yarns"]["B"]["colour"]
    page.locator("#yarns button:has-text('From the cloth')").nth(1).click()
    x, y = centre(page.locator("#cloth-view"))
    edited(window, lambda: page.mouse.click(x + 40, y + 60))
    assert project(folder)["yarns"]["B"]["colour"] != before
    name = page.get_by_label("Name of colour B")
    name.fill("peat")
    edited(window, lambda: name.press("Enter"))
    assert project(folder)["yarns"]["B"]["name"] == "peat"
    merge = page.get_by_label("Merge peat into")
    edited(window, lambda: merge.select_option("A"))
    assert "B" not in project(folder)["yarns"]


def test_2_a_stripe_gets_a_colour_of_its_own(window, folder):
    page = window.page
    window.go("/p/swatch")
    before = project(folder)
    page.locator("#lines button").nth(2).click()
    page.click("summary:has-text('Split, merge')")
    edited(window, lambda: page.click("#apart"))
    after = project(folder)
    (key,) = set(after["yarns"]) - set(before["yarns"])
    assert after["yarns"][key]["colour"] == before["yarns"]["C"]["colour"]
    assert after["warp"]["sequence"] == before["warp"]["sequence"].replace("C14", f"{key}14", 1)
    assert page.input_value("#one-yarn") == key
    name = page.get_by_label(f"Name of colour {key}")
    assert name.input_value() == f"{before['yarns']['C']['name']} 2"
    name.fill("old moss")
    edited(window, lambda: name.press("Enter"))
    assert "old moss" in page.locator("#lines li").nth(2).inner_text()
    page.locator("#yarns").scroll_into_view_if_needed()
    window.shot("2-own-colour")
    edited(window, lambda: page.click("#undo"))
    edited(window, lambda: page.click("#undo"))
    assert project(folder)["warp"] == before["warp"]


def test_2_the_repeat_is_looked_for(window, folder):
    page = window.page
    window.go("/p/swatch")
    before = project(folder)["warp"]["sequence"]
    edited(window, lambda: page.click("#write-out"))
    out = project(folder)["warp"]
    assert out["partial"] is True
    assert len(out["sequence"].split()) > len(before.split())
    window.shot("2-written-out")
    edited(window, lambda: page.click("#fold"))
    folded = project(folder)["warp"]
    assert folded["sequence"] == before
    assert not folded.get("partial")
    assert "repeat of" in page.locator("#said").inner_text()
    assert "turns back at both ends" in page.locator("#repeat-told").inner_text()
    window.shot("2-repeat-found")


def test_2_quick_steps_all_count_and_are_seen_at_once(window, folder):
    page = window.page
    window.go("/p/swatch")
    more = "for (let n = 0; n < 5; n += 1) document.getElementById('one-more').click();"
    told = "document.querySelector('#lines li').innerText"
    seen = page.evaluate(f"() => {{ {more} return {told}; }}")
    assert seen.split()[-2:] == ["27", "certain"]  # before any answer
    until(window, lambda: "A/27" in project(folder)["warp"]["sequence"])
    until(window, lambda: "111 threads" in page.locator("#repeat-told").inner_text())


def test_2_an_edit_that_is_refused_is_shown_no_longer(window, folder):
    page = window.page
    window.go("/p/swatch")
    page.fill("#one-count", "999999")
    with page.expect_response(re.compile("/edit$")) as answer:
        page.keyboard.press("Enter")
    assert answer.value.status == 400
    until(window, lambda: "22" in page.locator("#lines li").first.inner_text())
    assert page.input_value("#one-count") in ("22", "999999")
    assert "A/22" in project(folder)["warp"]["sequence"]


def test_2_a_count_beyond_all_cloth_is_told_as_such(window, folder):
    page = window.page
    window.go("/p/swatch")
    page.fill("#one-count", "99999999")
    page.keyboard.press("Enter")
    until(window, lambda: "from 1 to 100,000" in page.locator("#said").inner_text())
    page.fill("#one-count", "2.5")
    page.keyboard.press("Enter")
    until(window, lambda: "whole number" in page.locator("#said").inner_text())


@pytest.mark.parametrize("axis", ["warp", "weft"])
def test_2_the_count_of_a_narrow_stripe_hides_no_neighbours(window, axis):
    page = window.page
    window.go("/p/swatch")
    page.click(f"#side-{axis}")
    narrow = page.locator("#lines li", has_text="cream").first
    narrow.locator("button").click()
    until(window, lambda: "D2" in page.locator(".tag text").all_text_contents())
    boxes = [
        (tag.locator("text").text_content(), tag.locator("rect").bounding_box())
        for tag in page.locator(".tag").all()
    ]
    others = [box for text, box in boxes if text != "D2"]
    assert others
    for one in (box for text, box in boxes if text == "D2"):
        assert not any(_overlap(one, other) for other in others)


@pytest.mark.parametrize("axis", ["warp", "weft"])
@pytest.mark.parametrize("size", ["phone", "laptop"])
def test_2_each_grip_of_a_narrow_stripe_can_be_taken_alone(window, folder, axis, size):
    page = window.page
    window.size(size)
    window.go("/p/swatch")
    page.click(f"#side-{axis}")
    page.locator("#lines li", has_text="cream").first.locator("button").click()
    until(window, lambda: "D2" in page.locator(".tag text").all_text_contents())
    window.shot(f"2-grips-{axis}-{size}")
    until(window, lambda: _apart(page, ".grip .reach", 4 if axis == "warp" else 2))
    grip = page.locator(".grip").nth(1)
    held = grip.get_attribute("data-edge")
    grip.focus()
    edited(window, lambda: page.keyboard.press("ArrowRight"))
    until(window, lambda: page.evaluate("document.activeElement.dataset.edge") == held)


def _apart(page, selector, number):
    """Whether there are so many boxes and none shares a place: all measured at one moment."""
    boxes = page.locator(selector).evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().toJSON())"
    )
    pairs = ((one, other) for k, one in enumerate(boxes) for other in boxes[k + 1 :])
    return len(boxes) == number and not any(_overlap(*pair) for pair in pairs)


def _overlap(one, other):
    """Whether two boxes share a place on the screen."""
    return (
        one["x"] < other["x"] + other["width"]
        and other["x"] < one["x"] + one["width"]
        and one["y"] < other["y"] + other["height"]
        and other["y"] < one["y"] + one["height"]
    )


def test_2_where_a_slip_is_asked_about_something_is_in_doubt(window, folder):
    plain = (folder / "swatch.toml").read_text().replace("D2", "D4")  # no stripe so narrow
    shows = re.search(r'shows_warp = "(.*)"', plain)[1]
    slip = plain.replace(shows, f"{shows[:20]}{shows[20:].replace('B6', 'B7', 1)}")
    assert slip != plain
    page = window.page
    for text, told in ((plain, 1), (slip, 0)):
        (folder / "swatch.toml").write_text(text)
        window.go("/p/swatch")
        assert page.locator(".break").count() == 1 - told
        assert page.locator("#look-first .good").count() == told


def test_2_doubts_come_first_and_a_slip_is_asked_about(window, folder):
    text = (folder / "swatch.toml").read_text()
    shows = re.search(r'shows_warp = "(.*)"', text)[1].split()
    place = shows.index("B6", 2)
    shows[place] = "B5"  # as if the first weaver had left a thread out
    text = re.sub(r'shows_warp = ".*"', f'shows_warp = "{" ".join(shows)}"', text)
    doubts = '[{stripe = 3, count = "C14", range = "13 to 14", chance = "55 %", note = ""}]'
    text = text.replace("doubts = []", f"doubts = {doubts}", 1)
    (folder / "swatch.toml").write_text(text)
    page = window.page
    window.go("/p/swatch")
    first = page.locator("#look-first button").first
    assert "55 %" in first.inner_text()
    first.click()
    assert page.input_value("#one-count") == "14"
    assert "B" in page.locator(".break").inner_text() or page.locator(".break").count() == 1
    window.shot("2-doubts")
    edited(window, lambda: page.click(".break button:has-text('Copy it')"))
    assert project(folder)["warp"]["partial"] is True
    assert len(project(folder)["warp"]["sequence"].split()) == len(shows)
    edited(window, lambda: page.click("#undo"))
    edited(window, lambda: page.click(".break button:has-text('Mend it')"))
    assert page.locator(".break").count() == 0


def test_2_warp_and_weft_swap_and_follow(window, folder):
    page = window.page
    window.go("/p/swatch")
    page.click("#side-weft")
    edited(window, lambda: page.click("#swap"))
    assert project(folder)["photo"]["warp_runs"] == "across"
    page.click("#side-weft")
    if not page.is_checked("#like-warp"):
        edited(window, lambda: page.click("#like-warp"))
    assert project(folder)["weft"]["like_warp"] is True
    assert page.locator("#one-count").is_disabled()


def test_2_a_second_look_leaves_what_is_certain(window, folder):
    page = window.page
    window.go("/p/swatch")
    page.fill("#one-count", "23")
    edited(window, lambda: page.keyboard.press("Enter"))
    page.locator("#lines button").nth(2).click()
    page.fill("#one-count", "11")
    edited(window, lambda: page.keyboard.press("Enter"))
    edited(window, lambda: page.click("#one-certain"))  # not sure of that one after all
    page.click("#second-look")
    until(window, lambda: "Done" in page.locator("#second-told").inner_text(), 120)
    until(window, lambda: "C14" in project(folder)["warp"]["sequence"])
    assert "A/23" in project(folder)["warp"]["sequence"]
    assert "elsewhere" not in page.locator("#said").inner_text()


def test_2_a_picture_that_is_read_again_fits_its_view(window, folder):
    """A straightened cloth of another size, opened while its part of the page is hidden."""
    from PIL import Image

    page = window.page
    window.go("/p/swatch#photo")
    with Image.open(folder / "swatch.cloth.jpg") as image:
        image.resize((image.width * 2, image.height)).save(folder / "swatch.cloth.jpg")
    window.go("/p/swatch#photo")
    page.locator("#tab-stripes").click()
    page.wait_for_selector(".tag")
    page.wait_for_timeout(300)
    view, last = page.locator("#cloth-view").bounding_box(), page.locator(".seam").last
    edge = last.bounding_box()["x"]
    assert view["x"] + view["width"] * 0.7 < edge < view["x"] + view["width"]


# --- 3. see it --------------------------------------------------------------------------------


def test_3_a_wrong_stripe_jumps_out_beside_the_photo(window):
    page = window.page
    window.go("/p/swatch#compare")
    page.wait_for_timeout(1200)
    picture = "document.querySelector('#compare-view canvas').toDataURL()"
    right = page.evaluate(picture)
    window.shot("3-right")
    page.fill("#split-slider", "20")
    page.wait_for_timeout(200)
    assert page.evaluate(picture) != right
    page.check("input[name=show][value=photo]")
    page.wait_for_timeout(200)
    photo = page.evaluate(picture)
    page.check("input[name=show][value=drawn]")
    page.wait_for_timeout(200)
    drawn = page.evaluate(picture)
    assert photo != drawn
    page.check("input[name=show][value=blink]")
    seen = set()
    for _ in range(12):
        page.wait_for_timeout(250)
        seen.add(page.evaluate(picture))
    assert {photo, drawn} <= seen
    window.part("stripes")
    page.fill("#one-count", "40")
    edited(window, lambda: page.keyboard.press("Enter"))
    window.part("compare")
    page.check("input[name=show][value=drawn]")
    page.wait_for_timeout(1500)
    assert page.evaluate(picture) != drawn
    page.check("input[name=show][value=split]")
    window.shot("3-wrong")


# --- 4. the plan ------------------------------------------------------------------------------


def test_4_wishes_are_typed_and_answered(window, folder):
    page = window.page
    window.go("/p/swatch#plan")
    page.wait_for_selector("#figures .value")
    ends = page.locator("#figures .value").first.inner_text()
    width = page.get_by_label("Width", exact=True)
    width.fill("70 cm")
    width.press("Tab")
    until(window, lambda: page.locator("#figures .value").first.inner_text() != ends)
    assert project(folder)["piece"]["width"] == "70 cm"
    width.fill("70 elephants")
    width.press("Tab")
    until(window, lambda: width.get_attribute("aria-invalid") == "true")
    assert "70 elephants" in page.locator("[id='piece.width-trouble']").inner_text()
    assert project(folder)["piece"]["width"] == "70 cm"
    page.click("summary:has-text('Yarn A')")
    size = page.locator("[id='yarns.A.size']")
    size.fill("2/8 worsted")
    size.press("Tab")
    until(window, lambda: "unknown" not in page.locator("#yarn-table tbody tr").first.inner_text())
    page.locator("#figures summary").first.click()
    assert "repeat" in page.locator("#figures details[open]").first.inner_text()
    window.shot("4-plan")


@pytest.mark.parametrize("size", list(SIZES))
def test_4_the_figures_stand_above_what_is_to_be_looked_at(window, folder, size):
    """Sixty uncertain stripes are a sentence, and the figures are seen without scrolling."""
    (folder / "many.toml").write_text(many_striped(), encoding="utf-8")
    page = window.page
    window.size(size)
    window.go("/p/many#plan")
    page.wait_for_selector("#warnings li")
    first = page.locator("#figures .value").first.bounding_box()
    assert first["y"] + first["height"] < SIZES[size][1]
    last = page.locator("#figures .value").last.bounding_box()
    warnings = page.locator("#warnings li")
    assert last["y"] < warnings.first.bounding_box()["y"]
    assert warnings.count() < 10
    told = " ".join(warnings.all_inner_texts())
    assert "warp and weft stripes 1, 11, 21" in told and "281 and 291" in told
    assert page.locator("#warned").inner_text() == (
        f"Below the figures: {warnings.count()} things to look at before winding."
    )
    window.shot(f"4-many-{size}")


def test_4_a_late_answer_leaves_what_is_typed_meanwhile(window, folder):
    page = window.page
    window.go("/p/swatch#plan")
    page.wait_for_selector("#figures .value")
    late = []

    def held(route):
        answer = route.fetch()
        late.append(route)
        page.wait_for_timeout(1500)
        route.fulfill(response=answer)

    page.route("**/form", held)
    width, length = page.get_by_label("Width", exact=True), page.get_by_label("Length", exact=True)
    width.fill("71 cm")
    width.press("Tab")
    until(window, lambda: late)
    length.fill("two ells")
    length.press("Tab")
    until(window, lambda: length.get_attribute("aria-invalid") == "true")
    page.wait_for_timeout(2000)
    assert length.input_value() == "two ells"
    assert "two ells" in page.locator("[id='piece.length-trouble']").inner_text()
    page.unroute("**/form")
    length.fill("2 m")
    length.press("Tab")
    until(window, lambda: project(folder)["piece"]["length"] == "2 m")
    assert width.input_value() == "71 cm"


def test_4_the_paper_that_was_chosen_is_kept(window, folder):
    """For every project of this browser, since it is what the printer holds."""
    page = window.page
    shutil.copy(folder / "swatch.toml", folder / "other.toml")
    window.go("/p/swatch#plan")
    until(window, lambda: page.input_value("#paper") == "Letter")  # the project is in inches
    page.select_option("#paper", "A4")
    for path in ("/p/swatch#plan", "/p/other#plan"):
        window.go(path)
        page.wait_for_selector("#figures .value")
        assert page.input_value("#paper") == "A4"
        assert "paper=A4" in page.get_attribute("#open-pdf", "href")
    page.context.add_cookies(
        [{"name": "settscan-paper", "value": "papyrus", "url": page.url, "sameSite": "Strict"}]
    )
    window.go("/p/swatch#plan")
    until(window, lambda: page.input_value("#paper") == "Letter")


def test_4_sheets_and_files_are_downloaded(window, folder):
    page = window.page
    window.go("/p/swatch#plan")
    for told, begins in (("Draft (WIF)", b"[WIF]"), ("Stripes (CSV)", b""), ("Project file", b"#")):
        with page.expect_download() as download:
            page.click(f"#files a:has-text('{told}')")
        assert download.value.path().read_bytes().startswith(begins)
    page.wait_for_selector("#figures .value")
    assert page.input_value("#paper") == "Letter"  # in inches; a hand decides
    page.select_option("#paper", "A4")
    had = page.locator("#figures").inner_text()
    page.fill("[id='piece.width']", "30 in")
    page.press("[id='piece.width']", "Enter")
    until(window, lambda: page.locator("#figures").inner_text() not in ("", had))
    assert page.input_value("#paper") == "A4"
    page.select_option("#paper", "Letter")
    with page.expect_popup() as popup:
        page.click("#open-html")
    sheets = popup.value
    sheets.wait_for_load_state()
    assert "Winding" in sheets.content() or "winding" in sheets.content()
    cells = sheets.locator(".reeds td:not(:last-child)")
    lines = "(cell) => { const r = document.createRange(); r.selectNodeContents(cell);"
    lines += " return new Set([...r.getClientRects()].map((one) => one.top)).size; }"
    assert {cell.evaluate(lines) for cell in cells.all()} == {1}
    sheets.close()
    assert "paper=Letter" in page.get_attribute("#open-pdf", "href")


# --- 5. at the mill ---------------------------------------------------------------------------


def test_5_the_winding_is_led_by_keys_and_resumes(browser, folder):
    with served(folder) as link:
        window = Window(browser, link)
        window.size("phone")
        page = window.page
        window.go("/p/swatch/wind")
        assert "Set up the mill" in page.locator("#head").inner_text()
        for key in ("Space", "PageDown", "ArrowRight"):
            card = page.evaluate("document.body.dataset.card")
            page.keyboard.press(key)
            until(window, lambda c=card: page.evaluate("document.body.dataset.card") != c)
        page.keyboard.press("PageUp")
        until(window, lambda: page.evaluate("document.body.dataset.card") == "2")
        page.click("#on")
        until(window, lambda: page.evaluate("document.body.dataset.card") == "3")
        head = page.locator("#head").inner_text()
        assert re.match(r"\d+ \w+", head)
        assert "ends at the start end, 2 passes" in page.locator("#where").inner_text()
        assert page.locator("#next").inner_text().startswith("Next: ")
        assert page.locator("#in-warp").inner_text().startswith("20 of ")
        assert page.locator("#swatch text").all_text_contents() == ["A"]  # colour, letter and name
        assert re.fullmatch(r"about \d+( 1/2)? h", page.locator("#left").inner_text())
        window.shot("5-phone")
        page.reload()
        page.wait_for_selector("body[data-ready]")
        assert page.locator("#head").inner_text() == head
        page.goto("about:blank")
    with served(folder) as link:  # the power was gone: another process, another port, another token
        window = Window(browser, link)
        window.go("/p/swatch/wind")
        assert page.locator("#head").inner_text() == head
        second = browser.new_page()
        host, _, query = link.partition("/?")
        second.goto(f"{host}/p/swatch/wind?{query}")
        second.wait_for_selector("body[data-ready]")
        second.keyboard.press("Space")
        until(window, lambda: page.evaluate("document.body.dataset.card") == "4")
        second.close()
        page.goto("about:blank")
        assert window.wrong == []


def test_5_steps_are_said_aloud_and_the_screen_stays_on_if_wanted(window):
    page = window.page
    window.go("/p/swatch/wind")
    page.evaluate(
        """() => { window.heard = [];
        window.speechSynthesis.speak = (words) => window.heard.push(words.text); }"""
    )
    page.keyboard.press("Space")
    until(window, lambda: page.evaluate("document.body.dataset.card") == "1")
    assert page.evaluate("window.heard") == []
    page.check("#speak")
    page.click("#on")
    until(window, lambda: len(page.evaluate("window.heard")) == 2)
    page.click("#back")
    until(window, lambda: "20 blue" in page.evaluate("window.heard.at(-1)"))
    assert "screen stays on" in page.locator("#awake").inner_text()


def test_5_at_the_end_nothing_is_still_to_do(window, folder):
    path = folder / "swatch.toml"
    path.write_text(re.sub(r'(?m)^width = ".*$', "warp_repeats = 1", path.read_text()))
    page = window.page
    window.go("/p/swatch/wind")
    until(window, lambda: page.locator("#in-bout").inner_text() == "–")
    for at in range(1, 200):
        if page.locator("#on").is_disabled():
            break
        page.keyboard.press("Space")
        until(window, lambda at=at: page.evaluate("document.body.dataset.card") == str(at))
    assert page.locator("#on").inner_text() == "The end"
    assert page.locator("#left").inner_text() == "nothing"


def test_5_everything_needed_fits_a_phone_held_upright(window):
    page = window.page
    window.size("phone")
    window.go("/p/swatch/wind")
    page.keyboard.press("Space")
    page.wait_for_timeout(400)
    for one in ("#head", "#where", "#on", "#back"):
        box = page.locator(one).bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= 390
        assert box["y"] + box["height"] <= 844
    assert page.locator("#on").bounding_box()["height"] >= 72
    size = page.evaluate("parseFloat(getComputedStyle(document.getElementById('head')).fontSize)")
    assert size >= 36


# --- 6. nothing lost --------------------------------------------------------------------------


def test_6_two_tabs_and_a_text_editor_do_not_fight(browser, window, folder):
    page = window.page
    window.go("/p/swatch")
    second = browser.new_page()
    host, _, query = window.link.partition("/?")
    second.goto(f"{host}/p/swatch?{query}")
    second.wait_for_selector("body[data-ready]")
    second.fill("#one-count", "30")
    second.keyboard.press("Enter")
    until(window, lambda: page.input_value("#one-count") == "30")
    second.close()
    text = (folder / "swatch.toml").read_text()
    (folder / "swatch.toml").write_text(text.replace("A/30", "A/28") + "\n# written in an editor\n")
    until(window, lambda: page.input_value("#one-count") == "28")
    page.locator("#lines button").nth(1).click()
    edited(window, lambda: page.click("#one-more"))
    after = (folder / "swatch.toml").read_text()
    assert "A/28" in after and "# written in an editor" in after
    (folder / "swatch.toml").write_text(after.replace('sequence = "A/28', 'sequence = "A/'))
    page.wait_for_selector("#problem:visible")
    assert "mistake" in page.locator("#problem").inner_text()
    (folder / "swatch.toml").write_text(after)
    page.wait_for_selector("#problem", state="hidden")


# --- 7. safe (see test_safety for what a browser does not show) ----------------------------------


def test_7_script_in_names_does_not_run(window, folder):
    page = window.page
    bad = "<img src=x onerror=document.title='got'>"
    text = (folder / "swatch.toml").read_text().replace('name = "blue"', f'name = "{bad}"')
    (folder / "swatch.toml").write_text(text.replace('name = "swatch"', f'name = "{bad}"'))
    for path in ("/p/swatch", "/p/swatch#plan", "/p/swatch/wind"):
        window.go(path)
        page.keyboard.press("Space")
        page.wait_for_timeout(300)
        assert page.evaluate("document.title") != "got"
        assert page.locator("main img").count() == 0


def test_7_the_token_is_not_in_the_address(window):
    window.go("/p/swatch")
    assert "token" not in window.page.url
    assert window.page.evaluate("document.cookie") == ""


# --- 8. for everyone --------------------------------------------------------------------------


def problems(page, rules=None):
    """What axe-core (Deque, MPL-2.0) finds against WCAG 2.2 A and AA and usual practice."""
    from axe_playwright_python.sync_playwright import Axe

    standards = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = Axe().run(page, options={"runOnly": rules or standards})
    return [
        (one["id"], [node["html"][:120] for node in one["nodes"]][:3])
        for one in found.response["violations"]
    ]


def opened(window, path):
    """A part of the page with everything that folds unfolded."""
    page = window.page
    window.go(path)
    page.wait_for_timeout(400)
    page.evaluate(
        """() => { for (const one of document.querySelectorAll('details:not(.look)'))
        one.open = true; }"""
    )


def test_8_axe_finds_nothing(window):
    page = window.page
    window.go("/")
    assert problems(page) == []
    for part in ("photo", "stripes", "compare", "plan"):
        opened(window, f"/p/swatch#{part}")
        assert problems(page) == [], part
    opened(window, "/p/swatch/wind")
    page.keyboard.press("Space")
    page.wait_for_timeout(300)
    assert problems(page) == []
    # The tool does find what is wrong.
    page.evaluate("document.getElementById('main').append(document.createElement('img'))")
    assert [name for name, _ in problems(page)] == ["image-alt"]


@pytest.mark.parametrize("tone", ["strong", "dark"])
def test_8_axe_finds_enough_contrast_in_every_look(window, tone):
    window.go("/")
    window.look(tone=tone)
    for path in ("/p/swatch#stripes", "/p/swatch#plan", "/p/swatch/wind"):
        opened(window, path)
        assert problems(window.page, ["color-contrast"]) == [], path


def test_8_the_keyboard_reaches_everything_and_shows_where_it_is(window):
    page = window.page
    window.go("/p/swatch")
    seen = []
    for _ in range(60):
        page.keyboard.press("Tab")
        here = page.evaluate(
            """() => { const e = document.activeElement; const s = getComputedStyle(e);
            if (e === document.body) return ["", ""];
            return [e.id || e.textContent.trim().slice(0, 20), s.outlineStyle]; }"""
        )
        seen.append(here[0])
        if here[0]:  # the grips, which have no text, show it by a ring of their own
            assert here[1] != "none", here
    for one in (
        "undo",
        "tab-stripes",
        "cloth-view",
        "side-weft",
        "one-count",
        "one-yarn",
        "one-certain",
    ):
        assert one in seen or page.locator(f"#{one}").is_disabled(), (one, seen)
    page.focus("#tab-stripes")
    page.keyboard.press("ArrowRight")
    assert page.locator("#compare").is_visible()


@pytest.mark.parametrize("size", ["tablet", "phone"])
def test_8_nothing_runs_out_of_the_page(window, size):
    page = window.page
    window.size(size)
    for letters in ("150", "180"):
        window.go("/")
        window.look(words="us", size=letters)
        for path in ("/", "/p/swatch#photo", "/p/swatch#stripes", "/p/swatch#compare",
                     "/p/swatch#plan", "/p/swatch/wind"):  # fmt: skip
            window.go(path)
            page.wait_for_timeout(300)
            over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert over <= 0, (path, letters, over)


def _right(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"]


@pytest.mark.parametrize("letters", ["100", "180"])
def test_8_the_head_of_the_page_leaves_a_phone_to_the_cloth(window, letters):
    page = window.page
    window.size("phone")
    window.go("/")
    window.look(size=letters)
    window.go("/p/swatch#plan")
    tabs, high = page.locator(".tabs").bounding_box(), SIZES["phone"][1]
    window.shot(f"8-head-{letters}")
    assert tabs["y"] + tabs["height"] <= (0.16 if letters == "100" else 0.25) * high
    until(window, lambda: _right(page.locator("#tab-plan")) <= SIZES["phone"][0])
    tab, link = page.locator("#tab-plan").bounding_box(), page.locator(".tab-link")
    assert abs(link.bounding_box()["y"] - tab["y"]) < 10  # one row
    link.click()
    page.wait_for_url("**/wind*")


@pytest.mark.parametrize("size", list(SIZES))
def test_8_text_and_words_open_inside_the_window(window, size):
    page = window.page
    window.size(size)
    for path in ("/", "/p/swatch#stripes", "/p/swatch/wind"):
        window.go(path)
        page.click(".look summary")
        box = page.locator(".look-form").bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= SIZES[size][0], path


def contrast(page, selector):
    """Of the letters of an element to its own ground, as WCAG 2 works it out."""
    found = page.evaluate(
        """(selector) => { const s = getComputedStyle(document.querySelector(selector));
        return [s.color, s.backgroundColor]; }""",
        selector,
    )

    def light(colour):
        parts = [int(one) / 255 for one in re.findall(r"\d+", colour)[:3]]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    low, high = sorted(map(light, found))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("tone", ["paper", "strong", "dark"])
def test_8_a_button_that_waits_can_still_be_read(window, tone):
    page = window.page
    window.go("/")
    window.look(tone=tone)
    assert contrast(page, "#read") > 4.5
    page.evaluate("document.getElementById('read').disabled = true")
    assert contrast(page, "#read") > 4.5


def test_8_what_to_buy_is_seen_on_a_phone_without_moving_the_table(window):
    page = window.page
    window.size("phone")
    window.go("/p/swatch#plan")
    page.wait_for_selector("#yarn-table tbody td")
    last = page.locator("#yarn-table tbody tr").first.locator("td").last
    box = last.bounding_box()
    assert box["x"] >= 0 and box["x"] + box["width"] <= SIZES["phone"][0]
    region = "document.getElementById('yarn-table').parentElement"
    assert page.evaluate(f"{region}.scrollWidth - {region}.clientWidth") <= 0
    shown = "(cell) => getComputedStyle(cell, '::before').content"
    assert "To buy" in last.evaluate(shown)


@pytest.mark.parametrize("size", list(SIZES))
def test_pictures_of_every_part(window, size):
    """For eyes, where SETTSCAN_SHOTS names a folder; else only that every part shows."""
    page = window.page
    window.size(size)
    window.go("/")
    window.shot(f"start-{size}")
    for part in ("photo", "stripes", "compare", "plan"):
        window.go(f"/p/swatch#{part}")
        page.wait_for_timeout(400)
        assert page.locator(f"#{part}").is_visible()
        window.shot(f"{part}-{size}")
    window.go("/p/swatch/wind")
    page.keyboard.press("Space")
    page.wait_for_timeout(300)
    assert page.locator("#head").is_visible()
    window.shot(f"wind-{size}")
