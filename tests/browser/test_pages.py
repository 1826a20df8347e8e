"""The pages as people meet them: read at once, at any size, by key and by ear, and quiet."""

import base64
import hashlib
import re
from pathlib import Path

import pytest

PAGES = [
    "index.html",
    "still.html",
    "index.html#wall",
    "wall.html",
    "jobs/liquid-plate/1044.html",
    "jobs/liquid-plate/1071.html",
    "jobs/liquid-plate/1068.html",
    "workflows/liquid-plate.html",
    "rooms.html",
]
JOB = "jobs/liquid-plate/1044.html"


@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing_to_complain_of(visit, name):
    axe = pytest.importorskip("axe_playwright_python", reason="it carries axe-core")
    page = visit.open(name)
    page.evaluate((Path(axe.__file__).parent / "axe.min.js").read_text("utf-8"))
    tags = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", tags)
    wrong = {
        entry["id"]: [node["html"][:200] for node in entry["nodes"]]
        for entry in found["violations"]
    }
    assert wrong == {}
    assert {"color-contrast-enhanced", "region", "heading-order"} <= {
        entry["id"] for entry in found["passes"]
    }


def in_view(page, locator):
    box = locator.bounding_box()
    size = page.viewport_size
    return box["y"] >= 0 and box["y"] + box["height"] <= size["height"]


@pytest.mark.parametrize("name", ["index.html", "index.html#wall", "wall.html"])
def test_the_newest_held_job_why_and_what_to_do_are_seen_without_scrolling(visit, name):
    page = visit.open(name, 1280, 720)
    card = page.locator(".card").first
    assert re.search(r"HELD job \d+", card.locator("h3").inner_text())
    assert in_view(page, card.locator("h3"))
    assert in_view(page, card.locator(".why"))
    assert in_view(page, card.get_by_text("DO", exact=True))


def test_the_reason_of_a_job_is_seen_without_scrolling(visit):
    page = visit.open(JOB, 1280, 720)
    assert in_view(page, page.locator(".why", has_text="the solid is too thin: light gets through"))
    assert in_view(page, page.locator("svg").first)


@pytest.mark.parametrize("width", [320, 768, 1280, 3840])
@pytest.mark.parametrize("name", ["index.html", JOB, "workflows/liquid-plate.html", "rooms.html"])
def test_no_page_is_wider_than_its_window(visit, name, width):
    page = visit.open(name, width, 900)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(("width", "height"), [(320, 640), (1280, 720), (3840, 2160)])
def test_pictures_are_kept_to_be_looked_at(visit, width, height):
    for name in ("index.html", JOB, "workflows/liquid-plate.html"):
        visit.open(name, width, height)
        visit.picture(f"{Path(name).stem}-{width}")
    visit.open("wall.html", width, height)
    visit.picture(f"wall-{width}")


def test_the_wall_is_large_and_leads_back(visit):
    page = visit.open("index.html", 1920, 1080)
    why = page.locator(".card .why").first
    usual = why.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    page.get_by_text("Large, for the wall").click()
    assert page.url.endswith("wall.html")
    large = why.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert large > 2 * usual
    assert page.locator("#workflows").is_hidden()
    page.get_by_text("Back to the usual size").click()
    assert page.url.endswith("index.html")
    assert why.evaluate("e => parseFloat(getComputedStyle(e).fontSize)") == usual


def fast(root, name="index.html", seconds=1):
    """Return a copy of a page of the room, as fast.html, that takes itself anew sooner."""
    text = (root / name).read_text("utf-8")
    script = re.search("<script>(.*?)</script>", text)[1]
    sooner = script.replace("20000", str(1000 * seconds))
    text = text.replace(digest(script), digest(sooner)).replace(script, sooner)
    return text.replace(f'content="20; url={name}"', f'content="{seconds}; url=fast.html"')


def digest(text):
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


@pytest.mark.parametrize("at", ["", "#wall"])
def test_the_page_takes_itself_anew_and_stays_where_it_was(visit, at):
    copy = visit.root / "fast.html"
    text = fast(visit.root)
    copy.write_text(text, "utf-8")
    try:
        page = visit.open(f"fast.html{at}", 1280, 300)
        page.evaluate("scrollTo(0, 250)")
        copy.write_text(text.replace("<title>", "<title>newer "), "utf-8")
        page.wait_for_event("load")
        assert page.title().startswith("newer")
        assert page.url.endswith(f"fast.html{at}")
        assert page.locator("#workflows").is_hidden() == bool(at)
        assert page.evaluate("scrollY") == 250
    finally:
        copy.unlink()


@pytest.mark.parametrize("name", ["index.html", "wall.html"])
def test_without_script_the_page_takes_itself_anew_and_stays_as_large_as_it_was(
    browser, room, name
):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    text = fast(room, name)
    copy = room / "fast.html"
    copy.write_text(text, "utf-8")
    try:
        page.goto(copy.as_uri())
        page.set_viewport_size({"width": 1280, "height": 300})
        page.evaluate("scrollTo(0, 250)")
        size = page.evaluate(SIZE)
        copy.write_text(text.replace("<title>", "<title>newer "), "utf-8")
        page.wait_for_event("load")
        page.wait_for_function("document.title.startsWith('newer')")
        assert page.evaluate(SIZE) == size
        assert page.evaluate("scrollY") == 250
        page.goto(f"{copy.as_uri()}#held")  # a jump within the page must not end the refreshing
        copy.write_text(text.replace("<title>", "<title>newest "), "utf-8")
        page.wait_for_function("document.title.startsWith('newest')")
        assert page.evaluate(SIZE) == size
    finally:
        copy.unlink()
        context.close()


SIZE = "parseFloat(getComputedStyle(document.querySelector('.card .why')).fontSize)"


def test_a_reader_who_needs_time_stops_the_refreshing(visit):
    page = visit.open("index.html")
    page.get_by_text("Stop refreshing").click()
    assert page.url.endswith("still.html")
    assert page.locator("script").count() == 0


def test_everything_is_reached_by_key_in_the_order_in_which_it_is_read(visit):
    page = visit.open("still.html")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the held jobs"
    places = []
    for _ in range(12):
        page.keyboard.press("Tab")
        focus = page.evaluate(
            "() => { const e = document.activeElement, r = e.getBoundingClientRect();"
            " return [e.tagName, r.top + scrollY, getComputedStyle(e).outlineStyle]; }"
        )
        places.append(focus)
    assert all(style == "solid" for _, _, style in places)
    tops = [top for tag, top, _ in places if tag == "A"][2:]  # behind those of the head
    assert tops == sorted(tops)


def test_a_screen_reader_hears_the_reason_in_order(visit):
    page = visit.open("still.html")
    heard = page.locator(".card").first.aria_snapshot()
    assert re.search(r"HELD.*job \d+.*WHY.*DO", heard, re.DOTALL)
    assert not set(heard) & set("■▲○◆◌")  # signs are for the eye
    drawn = visit.open(JOB).locator("svg").first
    assert drawn.get_attribute("role") == "img"
    assert "measured 2.695 density, asked at least 2.70 density" in drawn.get_attribute(
        "aria-label"
    )


def test_links_lead_to_the_job_and_back(visit):
    page = visit.open("index.html")
    page.locator(".card a").first.click()
    assert re.search(r"HELD job \d+", page.locator("h1").inner_text())
    page.locator("nav a").first.click()
    assert page.locator("h1").inner_text() == "Ferrybank Plate Room"


def test_paper_is_white_and_carries_no_navigation(visit):
    page = visit.open(JOB)
    page.emulate_media(media="print")
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)"
    assert page.locator("nav").first.is_hidden()
    visit.picture("1044-print", whole=True)


def test_without_style_the_page_still_says_everything_in_order(visit):
    page = visit.open("still.html")
    page.evaluate("document.querySelector('style').disabled = true")
    text = page.locator(".card").first.inner_text()
    assert text.index("HELD") < text.index("WHY") < text.index("DO")


def test_the_policy_lets_no_script_run_even_if_one_got_in(visit):
    text = (visit.root / "still.html").read_text("utf-8")
    bad = visit.root / "bad.html"
    bad.write_text(text.replace("<main", "<script>document.title = 'ran'</script><main"), "utf-8")
    try:
        page = visit.open("bad.html")
        assert page.title() != "ran"
        assert any("Content Security Policy" in fault for fault in visit.faults)
    finally:
        bad.unlink()
        visit.faults.clear()
