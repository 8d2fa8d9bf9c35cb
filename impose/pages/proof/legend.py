"""The legend of the proof: what is printed, what is only drawn for the eye, and what to do with it."""

from __future__ import annotations

from impose.pages.proof.markup import Content, Markup, make_element


def draw_legend() -> Markup:
    """Samples of everything a drawing shows, each with its meaning."""
    ruler = "a ruler of 100 mm lies on each axis where there is room"
    entries: list[tuple[Content, str]] = [
        (
            _draw_sample(make_element("path", class_="area", d="M3 3H29V21H3z")),
            "Dashed line: what the printer can reach.",
        ),
        (
            _draw_sample(make_element("rect", class_="cell", x=4, y=3, width=24, height=18), hue=0),
            "Thin outline in the order's colour: where one transfer is cut from the next. Not printed.",
        ),
        (
            _draw_sample(make_element("path", class_="zone", d="M4 3h24v18h-24zM10 8h12v8h-12z"), hue=0),
            "Tinted frame: the tear zone, blank paper to tear through. Inside it lies the blank paper that is kept and "
            "taped; outside it the band with the marks. The tint is not printed.",
        ),
        (
            _draw_sample(make_element("path", class_="ticks big", d="M16 3V10M8 21H3V16M24 21H29V16")),
            "Black strokes, printed: ticks on the centre lines to pinch a fold at, corners to cut along.",
        ),
        (
            _draw_sample(make_element("rect", class_="chip", x=3, y=8, width=26, height=8, rx=1.5), hue=0),
            "Name tag in the order's colour: whose print it is. Not printed.",
        ),
        (
            make_element("span", "T001", class_="number"),
            "The transfer's own name, unique in this batch; its label, its record and its ticket carry it.",
        ),
        (
            make_element("span", "100 mm", class_="number small"),
            f"Ruler and line of small words in waste paper, printed: {ruler}; the words name the sheet. If printed "
            "words come out backwards, the printer's own mirroring is on: switch it off.",
        ),
        (
            make_element("span", "ppi", class_="number"),
            "Pixels of the artwork to an inch of print. Under 120, edges print soft or in steps.",
        ),
    ]
    return make_element(
        "section",
        make_element("h2", "Legend"),
        make_element(
            "ul",
            [make_element("li", sample, make_element("span", words)) for sample, words in entries],
            class_="legend",
        ),
        id="legend",
    )


def _draw_sample(shape: Markup, hue: int | None = None) -> Markup:
    group = make_element("g", shape, class_=None if hue is None else f"one hue{hue}")
    return make_element("svg", group, viewBox="0 0 32 24", aria_hidden="true", focusable="false")
