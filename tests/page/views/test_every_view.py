"""Every view at both widths, in light and dark, held against WCAG 2.2 AA by axe-core, and walked with the keyboard.

axe-core (Deque, MPL-2.0) comes with the package axe-playwright-python. Its rules are tagged by the success criteria of
WCAG 2.0 to 2.2 (https://www.w3.org/TR/WCAG22/).
"""

from __future__ import annotations

import copy
import importlib.util
from pathlib import Path
from typing import Any

import pytest

from page.views.conftest import NARROW, WIDE, enter
from printing.test_print_door import SlowPrinter
from waiting import wait_until

VIEWS = ("orders", "sheets", "press", "shop", "desk", "more", "start")
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SEEN_RULES = ["color-contrast", "link-in-text-block", "target-size", "meta-viewport", "scrollable-region-focusable"]
"""Those of the rules whose answer depends on the width or on light and dark."""


def axe_source() -> str:
    found = importlib.util.find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        pytest.skip("no axe-core: the page is not held against WCAG")
    return (Path(found.origin).parent / "axe.min.js").read_text("utf-8")


def violations(page: Any, rules: list[str] = AXE_TAGS, within: str = "html") -> list[str]:
    """What axe-core finds, as a list of rules with what they are of. It is run beside the page's own scripts."""
    if page.evaluate("() => !window.axe"):
        page.evaluate(axe_source())
    found = page.evaluate(
        "([within, rules]) => axe.run(within, {runOnly: rules}).then(done => done.violations.map("
        "one => `${one.id}: ${one.help}: ${one.nodes.map(node => node.target.join(' ')).slice(0, 5).join(' | ')}`))",
        [within, rules],
    )
    return list(found)


def show(page: Any, view: str) -> None:
    go = "view => { history.pushState(null, '', '/' + view); dispatchEvent(new PopStateEvent('popstate')); }"
    page.evaluate(go, view)
    page.wait_for_selector("main h1")
    page.wait_for_function("() => !document.querySelector('.waiting')")


@pytest.fixture(scope="module")
def example(start):
    """The example batch, made, so that no view is empty."""
    return start(example=True, desk=True)


@pytest.fixture(scope="module")
def made(example, chromium):
    """Its sheets, made by the page; what its first tab asked for is kept."""
    context = chromium.new_context()
    context.on("request", lambda request: example.asked.append(request.url.split("?")[0].rsplit("/", 1)[1]))
    page = enter(context, example, [])
    show(page, "sheets")
    page.wait_for_selector("#make")
    page.wait_for_selector(".sheet svg")
    page.click("#make")
    later = page.locator("dialog .main-act")
    page.wait_for_function("() => document.querySelector('.made-now, dialog .main-act')")
    if later.count():
        later.click()
    page.wait_for_selector(".made-now")
    context.close()
    return example


@pytest.mark.parametrize(
    ("size", "dark"),
    [
        pytest.param(WIDE, True, id="1280-dark", marks=pytest.mark.long),
        pytest.param(NARROW, False, id="390-light", marks=pytest.mark.long),
        pytest.param(NARROW, True, id="390-dark", marks=pytest.mark.long),
    ],
)
def test_no_view_fails_wcag_or_reaches_over_the_window(made, visit, size, dark):
    assert find_faults(visit(made, size, dark)) == {}


def test_no_view_fails_on_a_desk_in_the_light_or_a_phone_in_the_dark(made, visit):
    """In one tab, that becomes narrow and dark: the quick part of the test above."""
    page = visit(made, WIDE)
    assert find_faults(page) == {}
    page.set_viewport_size(NARROW)
    page.emulate_media(color_scheme="dark", reduced_motion="reduce")
    assert find_faults(page, SEEN_RULES) == {}
    assert find_dialog_faults(page) == {}


DIALOGS = (
    ("sheets", ["More ways", "On printed sheets with room"]),
    ("sheets", ["Compare papers"]),
    ("press", ["Make some of it again", "Single prints"]),
    ("press", ["Pages for your customers to agree to", "They agreed"]),
)
"""Where a dialog is, and what is pressed to see all of it."""


def find_dialog_faults(page: Any) -> dict[str, Any]:
    """What axe-core finds in the dialogs, and whether one is wider than the window."""
    wrong: dict[str, Any] = {}
    for view, presses in DIALOGS:
        show(page, view)
        for words in presses:
            page.locator(
                f"dialog[open] >> text={words}" if page.locator("dialog[open]").count() else f"main >> text={words}"
            ).first.click()
        page.wait_for_selector("dialog[open] h2")  # there first: nothing is done in a dialog that is not open yet
        page.wait_for_function("() => !document.querySelector('dialog .doing')")
        found = violations(page, within="dialog[open]")
        if found:
            wrong[presses[0]] = found
        over = page.evaluate("() => document.querySelector('dialog').getBoundingClientRect().right - innerWidth")
        if over > 0:
            wrong[f"{presses[0]} wider"] = f"{over} px wider than the window"
        page.keyboard.press("Escape")
    return wrong


BUSY_DESK = {
    "name": "desk", "state": "in trouble", "says": "Cannot go on for now", "stopping": False,
    "trouble": "The disk is full.",
    "asking": [
        {"number": 2, "name": "left-chest", "answered": None, "proof": "/api/desk/2/proof",
         "warnings": ["Hazy owl.png: haze: faint alpha (12 of 255) lies on 3% of the picture. It prints as a film."]},
        {"number": 3, "name": "full-back", "answered": "accept", "proof": "/api/desk/3/proof", "warnings": []},
    ],
    "making": [{"number": 4, "name": "nape"}],
    "inbox": [{"name": "carp.png", "why": "Waits for a CSV that names it."}], "waiting": [],
    "unprinted": ["left-chest, number 1, on A4"],
    "refused": [{"name": "broken.png, in left-chest", "why": "The file is cut off."}],
    "delivered": [{"number": 1, "name": "left-chest", "says": "2 prints on 1 sheet", "warnings": 1, "asked": None}],
    "counts": {}, "paper": [{"paper": "A4", "shown": "25 sheets"}],
}  # fmt: skip
"""A desk with something of each kind, in the shape that tests/page/test_desk_view.py holds."""


def test_every_question_of_a_desk_has_buttons_and_an_answer_is_seen(made, visit):
    page = visit(made, NARROW)
    asked: list[Any] = []
    desk: dict[str, Any] = copy.deepcopy(BUSY_DESK)

    def answer(route: Any) -> None:
        if route.request.method == "POST":
            asked.append(route.request.post_data_json)
            desk["asking"][0]["answered"] = "accept"
            route.fulfill(json={"says": "The desk does it in a moment."})
        else:
            route.fulfill(json=desk)

    page.route("**/api/desk", answer)
    show(page, "desk")
    page.wait_for_selector("text=Your answer is wanted")
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    words = page.locator("nav.pages a").evaluate_all("all => all.map(one => one.getClientRects().length)")
    assert words == [1] * 6, "a word of the pages is broken over two lines"
    page.click("text=Print it like this")
    page.wait_for_selector(".notice:has-text('left-chest is accepted')")
    page.wait_for_selector("text=Accepted: it is delivered in a moment")
    page.click("text=It is on paper")
    page.wait_for_selector(".notice:has-text('left-chest is on paper')")  # a click is over before what it asks is sent
    assert asked == [{"ask": "accept", "number": 2}, {"ask": "printed", "number": 1}]


def test_the_plan_is_fetched_once_new_ones_are_heard_of(made):
    """Fetched before, there may be none yet, and the one that comes then is told to nobody: no sheet would be seen."""
    assert made.asked.index("events") < made.asked.index("plan")


def find_faults(page: Any, rules: list[str] = AXE_TAGS) -> dict[str, Any]:
    """What axe-core finds in each view, and by how much it is wider than the window."""
    wrong: dict[str, Any] = {}
    for view in VIEWS:
        show(page, view)
        if view == "sheets":
            # On a narrow window what must be mended stands first, and a sheet is drawn once it is seen.
            page.locator(".sheet").first.scroll_into_view_if_needed()
            page.wait_for_selector(".sheet svg")
        found = violations(page, rules)
        if found:
            wrong[view] = found
        over = page.evaluate("() => document.documentElement.scrollWidth - innerWidth")
        if over > 0:
            wrong[f"{view} wider"] = f"{over} px wider than the window"
    return wrong


@pytest.mark.long
@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["1280", "390"])
def test_what_is_pressed_is_24_px_or_more(made, visit, size):
    """WCAG 2.2, 2.5.8 Target Size (Minimum); links within a sentence are exempt there."""
    page = visit(made, size)
    for view in VIEWS:
        show(page, view)
        small = page.evaluate(
            """() => [...document.querySelectorAll("button, select, input, summary, a.button, nav a")]
              .filter(one => one.checkVisibility() && !one.closest(".unseen") && !one.classList.contains("unseen"))
              .map(one => [one, one.closest("label.tick, label.box, .paper-tick, .cell-tick") ?? one])
              .map(([one, area]) => [one, area.getBoundingClientRect()])
              .filter(([, box]) => box.width < 24 || box.height < 24)
              .map(([one, box]) => `${one.outerHTML.slice(0, 90)} ${box.width}x${box.height}`)"""
        )
        assert small == [], view


@pytest.mark.long
def test_every_view_stands_at_its_own_address_and_says_its_name(made, visit):
    page = visit(made)
    for view, title in (
        ("orders", "Orders"),
        ("sheets", "Sheets"),
        ("press", "Press"),
        ("shop", "Shop"),
        ("more", "More"),
    ):
        page.goto(page.url.split("/", 3)[0] + "//" + page.url.split("/", 3)[2] + "/" + view)
        page.wait_for_selector("body[data-ready]")
        page.wait_for_selector("main h1")
        assert page.inner_text("main h1") == title
        assert page.title().startswith(title)
        assert page.locator("nav [aria-current=page]").inner_text() == title


@pytest.mark.long
def test_the_keyboard_alone_reaches_every_control_in_an_order_that_is_seen(made, visit):
    """WCAG 2.1.1, 2.4.3, 2.4.7: everything is reached by Tab, shows that it has focus, and is not hidden by the top."""
    page = visit(made)
    for view in ("orders", "sheets", "press"):
        show(page, view)
        # What comes while one walks is passed by: the walk begins once nothing more is looked for.
        if view == "sheets":
            page.wait_for_selector(".papers summary")
            stop = page.get_by_text("Good enough, stop looking")
            if stop.count():
                stop.click()
            page.wait_for_function("() => !document.body.innerText.includes('stop looking')")
        page.evaluate("() => document.activeElement.blur()")
        reached = set()
        for _ in range(400):
            page.keyboard.press("Tab")
            seen = page.evaluate(
                """() => { const one = document.activeElement; if (one === document.body) return null;
                  const box = one.getBoundingClientRect(); const style = getComputedStyle(one);
                  one.__at ??= Math.random().toString(36);
                  const top = document.getElementById("top").getBoundingClientRect();
                  return [one.__at, style.outlineStyle !== "none" || one.closest("label")?.matches(":focus-within"),
                    one.closest("#top, .skip") || getComputedStyle(document.getElementById("top")).position !== "sticky"
                    || box.height === 0 || box.bottom > top.bottom, one.outerHTML.slice(0, 90)]; }"""
            )
            if seen is None:  # past the last control, and on to the first
                continue
            if seen[0] in reached:
                break
            reached.add(seen[0])
            assert seen[1], f"focus cannot be seen on {seen[3]}"
            assert seen[2], f"hidden by the top: {seen[3]}"
        wanted = page.evaluate(
            """() => [...document.querySelectorAll("a[href], button, input:not([type=radio]), select, summary")]
              .filter(one => one.checkVisibility() && !one.__at).map(one => one.outerHTML.slice(0, 90))"""
        )
        assert wanted == [], view


@pytest.mark.long
def test_nothing_comes_from_outside_and_nothing_moves(made, visit):
    page = visit(made)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for view in VIEWS:
        show(page, view)
    origin = page.evaluate("() => location.origin")
    assert [url for url in asked if not url.startswith((origin, "data:", "blob:"))] == []
    moving = page.evaluate("() => document.getAnimations().filter(one => one.playState === 'running').length")
    assert moving == 0


@pytest.mark.long
def test_no_path_code_or_json_is_shown(made, visit):
    page = visit(made)
    for view in VIEWS:
        show(page, view)
        text = page.inner_text("body")
        for bad in (str(made.folder), '{"', "undefined", "[object", "NaN", "null", "Traceback", "--"):
            assert bad not in text, (view, bad)


@pytest.mark.long
def test_states_are_said(made, visit):
    page = visit(made)
    show(page, "sheets")
    said = wait_until(lambda: page.inner_text("#state"), "the state in words")
    assert "sheet" in said.lower()
    assert page.get_attribute("#state", "aria-live") == "polite"


@pytest.mark.long
def test_printing_asks_first_says_where_it_stands_and_is_found_again(made, visit):
    with SlowPrinter() as printer:
        page = visit(made)
        show(page, "press")
        page.locator(".file button", has_text="Print").first.click()
        page.click("dialog button:has-text('To the printers')")
        page.click("button:has-text('Find a printer to print to')")
        page.fill("dialog [name=address]", printer.address)
        page.fill("dialog [name=call]", "Studio")
        assert violations(page) == []
        page.click("dialog .main-act")
        page.wait_for_selector(f"text={printer.address}")
        show(page, "press")
        page.locator(".file button", has_text="Print").first.click()
        page.wait_for_selector("dialog fieldset.asked-of")
        assert violations(page) == []
        for box in page.locator("dialog input[type=checkbox]").all():
            box.check()
        page.locator("dialog .asked-of input").first.check()
        page.click("#print-now:not([aria-disabled])")
        page.wait_for_selector(".files .said:has-text('Sheets 1-')")
        page.wait_for_selector(".files [role=status]:has-text('waits')")
        page.set_viewport_size(NARROW)
        page.reload()
        page.wait_for_selector("body[data-ready]")
        page.wait_for_selector(".files button:has-text('Stop printing')")
        assert violations(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
        printer.finish_jobs()
        page.wait_for_selector(".files .said.good:has-text('printed')")
        assert len(printer.documents) == 1


@pytest.mark.long
@pytest.mark.parametrize(("size", "dark"), [(WIDE, False), (NARROW, True)], ids=["1280-light", "390-dark"])
def test_measuring_a_printer_is_read_by_everybody(example, visit, size, dark):
    """The guided page, step by step: what is drawn to print, what is read, what is made of it."""
    page = visit(example, size, dark)
    show(page, "shop")
    page.locator("main").get_by_text("Printers", exact=True).first.click()
    page.locator("main button:has-text('Measure')").first.click()
    page.wait_for_selector("dialog .steps [aria-current=step]:has-text('Print the page')")
    assert violations(page) == []
    page.click("dialog button:has-text('Make the page')")
    page.wait_for_selector("dialog .fields input")
    assert violations(page) == []
    readings = ("199.6", "199.2", "3", "3", "3", "14")  # the shipped printer `measured`, and its edges
    for box, read in zip(page.locator("dialog .fields input:visible").all(), readings, strict=True):
        box.fill(read)
    page.click("dialog button:text-is('Check')")
    page.wait_for_selector("dialog [role=status] .said")
    page.wait_for_selector("dialog .main-act:not([aria-disabled])")
    assert violations(page) == []
    box = page.locator("dialog").bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= size["width"]
