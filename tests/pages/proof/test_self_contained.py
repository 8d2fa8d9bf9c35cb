"""The pages fetch nothing and run nothing, whatever names they are given, and any parser reads them alike."""

from __future__ import annotations

import base64
import hashlib
import json
import subprocess
import sys
from pathlib import Path

import html5lib
from PIL import Image

import impose
from impose.pages.proof.answer_form import SCRIPT
from impose.pages.proof.markup import Markup, escape_text, join_markup, make_document, make_element, wrap_content
from impose.run import Options, plan, produce
from pages.proof.reading import Made, parsed

HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "</style><script>x</script>",
    "</title><svg onload=alert(1)>",
    "javascript:alert(1)",
    "&lt;b&gt; &amp;amp; &#x202e;",
    "<!-- --> <![CDATA[ ]]>",
    "{{7*7}} ${7*7}",
    "a\u202eb\u2066c\u200fd",
]


def pages(folder):
    return [folder / "proof.html", *sorted((folder / "approval").glob("*.html"))]


def _digest(text):
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def contained(html: str) -> None:
    """No script but the approval's own, no handler, no address outside the page, and the policy that forbids them."""
    root = parsed(html)
    every = root.all()
    scripts = [html.split("<script>", 1)[1].split("</script>", 1)[0]] if "<script>" in html else []
    assert scripts in ([], [SCRIPT])
    named = {node.tag for node in every} & {"script", "iframe", "object", "embed", "link", "base", "form", "style"}
    assert named - ({"script"} if scripts else set()) == {"style"}
    for node in every:
        for name, value in node.attributes.items():
            assert not name.startswith("on")
            assert name != "style"
            if name in ("href", "src", "xlink:href"):
                assert value.startswith(("#", "mailto:?subject=", "data:image/png;base64,", "data:image/jpeg;base64,"))
    ids = [node.attributes["id"] for node in every if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    links = {n.attributes["href"][1:] for n in every if n.attributes.get("href", "").startswith("#")}
    assert links <= set(ids)
    (policy,) = [
        n.attributes["content"] for n in root.all("meta") if n.attributes.get("http-equiv") == "Content-Security-Policy"
    ]
    (style,) = root.all("style")
    digest = base64.b64encode(hashlib.sha256(style.text.encode()).digest()).decode()
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    running = rules.pop("script-src", None)
    assert running == (f"'sha256-{_digest(SCRIPT)}'" if scripts else None)
    assert rules == {
        "default-src": "'none'",
        "style-src": f"'sha256-{digest}'",
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    # It has to stand before anything it shall govern.
    head = root.all("head")[0].all()
    assert [n.attributes.get("http-equiv") for n in head].index("Content-Security-Policy") < [
        n.tag for n in head
    ].index("style")
    assert "url(" not in style.text
    assert "@import" not in style.text


def test_pages_of_an_ordinary_batch(made: Made):
    assert len(pages(made.folder)) == 4
    for page in pages(made.folder):
        html = page.read_text("utf-8")
        contained(html)
        (root,) = parsed(html).all("html")
        assert root.attributes["lang"] == "en"
        assert [n.tag for n in root.all() if n.tag in ("h1", "main")].count("h1") == 1


def test_another_parser_finds_no_fault(made: Made):
    """html5lib, the reference parser of the WHATWG HTML standard in Python, in its strict mode."""
    for page in pages(made.folder):
        html5lib.HTMLParser(strict=True).parse(page.read_text("utf-8"))


def test_hostile_names_are_only_text(tmp_path):
    rows = ["order,wearer,art,garment,note,width"]
    names = ['"><img src=x onerror=alert(1)>.png', "a&b's.png"]
    for index, name in enumerate(names):
        Image.new("RGB", (60, 40), (200, 10 + index, 30)).save(tmp_path / name)
    for index, text in enumerate(HOSTILE):
        quoted = '"' + text.replace('"', '""') + '"'
        art = '"' + names[index % 2].replace('"', '""') + '"'
        rows.append(f"{quoted},{quoted},{art},adult M,{quoted},40 mm")
    (tmp_path / "b.csv").write_text("\n".join(rows) + "\n", "utf-8")
    planned = plan([tmp_path / "b.csv"], Options(steps=5, workers=1, cache=False))
    out = produce(planned, tmp_path / "out")
    for page in pages(out):
        html = page.read_text("utf-8")
        contained(html)
        assert not set(html) & set("\u202e\u2066\u200f")
    proof = parsed((out / "proof.html").read_text("utf-8"))
    said = {node.text for node in proof.all("bdi")}
    assert set(HOSTILE[:-1]) <= said
    assert "abcd" in said
    assert all(node.attributes["dir"] == "auto" for node in proof.all("bdi"))


def test_markup_escapes_by_type():
    assert make_element("b", "<i>", title='"') == '<b title="&quot;">&lt;i&gt;</b>'
    assert join_markup("a<", make_element("br"), ["&", None]) == "a&lt;<br>&amp;"
    assert escape_text("\x00\x1b[31m\ud800\u2028") == "\ufffd\ufffd[31m\ufffd\ufffd"


def test_same_bytes_in_another_process(made: Made, tmp_path):
    """Hash seeds differ, so an order taken from a set would show."""
    code = (
        "import sys;from pathlib import Path;from impose.run import Options, plan, produce\n"
        "planned = plan([Path(sys.argv[1])], Options(settings={'papers': ['a4', 'a3']}, steps=20, workers=1, "
        "cache=False))\n"
        "produce(planned, Path(sys.argv[2]), preview_ppi=60)"
    )
    source = made.folder.parent / "b.csv"
    again = tmp_path / "again"
    same = {"PYTHONHASHSEED": "7", "PATH": "", "PYTHONPATH": str(Path(impose.__file__).parents[1])}
    subprocess.run([sys.executable, "-c", code, source, again], check=True, env=same, cwd=tmp_path)
    names = sorted(p.relative_to(made.folder) for p in made.folder.rglob("*") if p.is_file())
    assert names == sorted(p.relative_to(again) for p in again.rglob("*") if p.is_file())
    for name in names:
        assert (again / name).read_bytes() == (made.folder / name).read_bytes(), name


def test_the_record_names_the_page_of_each_order(made: Made):
    record = json.loads((made.folder / "batch.json").read_text("utf-8"))
    pages = [{name: one[name] for name in ("order", "row", "file")} for one in record["approval"]]
    assert pages == [
        {"order": "Red Team", "row": 2, "file": "approval/red-team.html"},
        {"order": "Blue & Söhne", "row": 4, "file": "approval/blue-sohne.html"},
        {"order": "", "row": 6, "file": "approval/row-6.html"},
    ]
    assert sorted(p.name for p in (made.folder / "approval").iterdir()) == [
        "blue-sohne.html",
        "blue-sohne.pdf",
        "red-team.html",
        "red-team.pdf",
        "row-6.html",
        "row-6.pdf",
    ]


def test_a_document_put_together_from_parts_is_the_one_joined_at_once():
    """Whatever is nested, and whatever of it is text from outside: escaped once, in its place (HTML 5, 13.1.2.3)."""
    parts = ["a < b", [make_element("b", "Zoë & Co"), None, [Markup("<br>")]]]
    pieces = wrap_content("main", *parts, class_="many", id="x")
    assert (
        join_markup(pieces)
        == ('<main class="many" id="x">a &lt; b<b>Zoë &amp; Co</b><br></main>')
        == make_element("main", *parts, class_="many", id="x")
    )
    joined = make_document("T", "p{}", join_markup(pieces))
    assert make_document("T", "p{}", pieces) == joined
    assert joined.endswith(b"<br></main></body></html>\n")
