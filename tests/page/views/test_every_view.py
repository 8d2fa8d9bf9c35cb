"""Every view at both widths, in light and dark, held against WCAG 2.2 AA by axe-core, and walked with the keyboard.

axe-core (Deque, MPL-2.0) comes with the package axe-playwright-python. Its rules are tagged by the success criteria of
WCAG 2.0 to 2.2 (https://www.w3.org/TR/WCAG22/).
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import pytest

from page.views.conftest import NARROW, WIDE, wait_until
from printing.test_print_door import SlowPrinter

VIEWS = ("orders", "sheets", "press", "shop", "more", "start")
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def axe_source() -> str:
    found = importlib.util.find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        pytest.skip("no axe-core: the page is not held against WCAG")
    return (Path(found.origin).parent / "axe.min.js").read_text("utf-8")


def violations(page: Any) -> list[str]:
    """What axe-core finds, as a list of rules with what they are of. It is run beside the page's own scripts."""
    page.evaluate(axe_source())
    found = page.evaluate(
        "tags => axe.run(document, {runOnly: tags}).then(done => done.violations.map("
        "one => `${one.id}: ${one.help}: ${one.nodes.map(node => node.target.join(' ')).slice(0, 5).join(' | ')}`))",
        AXE_TAGS,
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
    return start(example=True)


@pytest.fixture(scope="module")
def made(example, chromium):
    """Its sheets, made by the page."""
    from page.views.conftest import enter

    context = chromium.new_context()
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
    assert find_faults(page) == {}


def find_faults(page: Any) -> dict[str, Any]:
    """What axe-core finds in each view, and by how much it is wider than the window."""
    wrong: dict[str, Any] = {}
    for view in VIEWS:
        show(page, view)
        if view == "sheets":
            # On a narrow window what must be mended stands first, and a sheet is drawn once it is seen.
            page.locator(".sheet").first.scroll_into_view_if_needed()
            page.wait_for_selector(".sheet svg")
        found = violations(page)
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
