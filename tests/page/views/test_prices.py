"""What a shop charges by, typed in the browser."""

from __future__ import annotations

import pytest

from page.views.test_every_view import show


@pytest.mark.long
def test_blanks_typed_one_after_another_are_all_kept(start, visit):
    """The fields were cleared when the one before had been saved, with what was typed meanwhile."""
    page = visit(start())
    show(page, "shop")
    page.locator("main").get_by_text("Prices", exact=True).first.click()
    wait = "new Promise((go) => setTimeout(go, 400))"  # as on a slow computer
    page.evaluate(
        f"() => {{ const ask = fetch; window.fetch = async (...of) => {{ await {wait}; return ask(...of); }}; }}"
    )
    for kind, before in (("hoodie", ""), ("polo", "hoodie")):
        page.fill("[name=price-blank]", kind)
        page.fill("[name=price-cost]", "9.50")
        if before:
            page.wait_for_selector(f"[name=blank-{before}]")  # saved while this one was typed
        page.locator("[name=price-cost]").press("Enter")
    page.wait_for_selector("[name=blank-polo]")
    assert page.locator(".wrong").count() == 0
