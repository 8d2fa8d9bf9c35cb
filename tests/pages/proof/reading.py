"""What these tests share: a batch, its artwork, and an outside reader of the pages made of it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from impose.run import Plan

HEADING = "order,wearer,art,placement,garment,copies,width,note"
ROWS = (
    "Red Team,Annegret,arrow.png,left-chest,adult M,2,80 mm,for Annegret alone",
    "Red Team,Bogumila,stripes.png,full-back,hoodie adult L,1,190 mm,",
    "Blue & Söhne,Đặng,stripes.png,right-long-sleeve,adult S,1,220 mm,",
    "Blue & Söhne,,photo.png,,adult S,3,60 mm,",
    ",Nora Nameless,grey.png,left-chest,adult M,1,50 mm,",
)


def artwork() -> dict[str, Image.Image]:
    """Pictures whose every turn and mirroring can be told apart; ink to the very edges."""
    y, x = np.mgrid[0:240, 0:400]
    arrow = np.full((240, 400, 3), 255, np.uint8)
    arrow[(x < 200) & (y < 120)] = (200, 20, 20)
    arrow[(x >= 200) & (y < 120)] = (20, 120, 20)
    arrow[(x < 200) & (y >= 120)] = (20, 20, 200)
    arrow[(x > 380) & (y > 220)] = 0
    stripes = np.zeros((300, 900, 3), np.uint8)
    stripes[..., 0] = np.mgrid[0:300, 0:900][1] * 255 // 900
    stripes[..., 2] = np.mgrid[0:300, 0:900][0] * 200 // 300
    rng = np.random.default_rng(5)
    photo = np.asarray(
        Image.fromarray(rng.integers(0, 250, (6, 9, 3), dtype=np.uint8)).resize((1500, 1000), Image.Resampling.BICUBIC)
    )
    grey = np.minimum(240, np.mgrid[0:300, 0:300][1] // 2 + np.mgrid[0:300, 0:300][0] // 3).astype(np.uint8)
    return {
        "arrow": Image.fromarray(arrow),
        "stripes": Image.fromarray(stripes),
        "photo": Image.fromarray(photo),
        "grey": Image.fromarray(grey),
    }


@dataclass(frozen=True)
class Made:
    """A delivered folder, its record, what was planned, and the artwork it came from."""

    folder: Path
    record: dict[str, Any]
    planned: Plan
    art: dict[str, Image.Image]

    @property
    def proof(self) -> str:
        return (self.folder / "proof.html").read_text("utf-8")

    def approval(self, order: str) -> str:
        (name,) = [one["file"] for one in self.record["approval"] if one["order"] == order]
        return (self.folder / name).read_text("utf-8")


@dataclass
class Node:
    """An element, its attributes, and what it holds; enough of a document to ask questions of."""

    tag: str
    attributes: dict[str, str]
    children: list[Node | str] = field(default_factory=list)

    def all(self, tag: str = "", **wanted: str) -> list[Node]:
        found = []
        for child in self.children:
            if isinstance(child, Node):
                same = all(w in child.attributes.get(k.rstrip("_"), "").split() for k, w in wanted.items())
                if same and tag in ("", child.tag):
                    found.append(child)
                found += child.all(tag, **wanted)
        return found

    @property
    def text(self) -> str:
        return "".join(child if isinstance(child, str) else child.text for child in self.children)


class _Tree(HTMLParser):
    """The standard library's parser: an outside reader of the pages. Faulty nesting is a fault."""

    def __init__(self) -> None:
        super().__init__()
        self.root = Node("", {})
        self.open = [self.root]

    def handle_starttag(self, tag, attrs):
        assert len({name for name, _ in attrs}) == len(attrs), f"an attribute twice in {tag}"
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(node)
        if tag not in ("meta", "br", "img", "input"):
            self.open.append(node)

    def handle_endtag(self, tag):
        assert self.open[-1].tag == tag, f"{tag} closes {self.open[-1].tag}"
        self.open.pop()

    def handle_data(self, data):
        self.open[-1].children.append(data)


def parsed(html: str) -> Node:
    tree = _Tree()
    tree.feed(html)
    tree.close()
    assert tree.open == [tree.root]
    return tree.root


def matrix(use: Node) -> tuple[float, ...]:
    return tuple(float(v) for v in re.findall(r"-?[0-9.]+", use.attributes["transform"]))
