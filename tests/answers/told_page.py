"""The page as a scene asks it: what a tab sends, and what it is answered."""

from __future__ import annotations

import io
import json
from typing import Any

from PIL import Image

from approved_answers import Told, drop_keys
from impose.page.guard import POLICY
from page.conftest import Bed

_DRAWN = (
    "svg",
    "url",
    "small",
    "before",
    "after",
    "view",
    "modified",
    "mtime",
    "at",
    "time",
    "token",
    "port",
    "plan",
    "server",
    "bytes",
    "picture",
)

_LONG = {"/api/shop": ("papers", "printers", "presses", "garments", "placements", "lettering", "settings", "prices")}
"""What an address answers at length each time it is sent something; a scene tells it once."""


class Page:
    """A tab whose questions and answers are told."""

    def __init__(self, told: Told, bed: Bed) -> None:
        self.told, self.bed, self.tab = told, bed, bed.tab()
        told.call(self.tab.batch, "batch")
        told.call(str(bed.folder.parent), "bed")

    def tell(self, title: str, answer: Any, *without: str) -> Any:
        self.told.show(title, drop_keys(answer, (*_DRAWN, *without)))
        return answer

    def get(self, path: str, *without: str, status: int = 200) -> Any:
        return self.tell(f"GET {path}", self.tab.get(path.replace("~", self.tab.base), status), *without)

    def post(self, path: str, values: Any, *without: str, status: int = 200) -> Any:
        answer = self.tab.post(path.replace("~", self.tab.base), values, status)
        return self.tell(f"POST {path} {json.dumps(values, ensure_ascii=False)[:200]}", answer, *without)

    def work(self, path: str, values: Any, *without: str, state: str = "done") -> Any:
        started = self.tab.post(path.replace("~", self.tab.base), values, 202)
        answer = self.tab.job(started, state)
        shown = json.dumps(drop_keys(values, _DRAWN), ensure_ascii=False)
        return self.tell(f"POST {path} {shown[:200]}: {state}", answer, *without)

    def try_each(self, *asked: tuple[str, str, Any]) -> None:
        """What each of several requests is answered, whatever its status; JSON as it is, else its kind and its size."""
        for method, path, sent in asked:
            at = path.replace("~", self.tab.base)
            status, headers, body = self.tab.ask(method, at, sent)
            kind = headers.get("Content-Type", "")
            shown = (
                ""
                if sent is None
                else f" {json.dumps(sent, ensure_ascii=False)[:160]}"
                if isinstance(sent, dict)
                else f" {len(sent)} bytes"
            )
            title = f"{method} {path}{shown}: {status}"
            if kind.startswith("application/json"):
                self.tell(
                    title,
                    json.loads(body),
                    "job",
                    "import",
                    "saved",
                    "columns" if method == "PUT" else "",
                    *_LONG.get(path if method == "POST" else "", ()),
                )
            elif kind.startswith("image/png"):
                self.told.show(title, describe_png(body))
            elif kind.startswith(("text/csv", "image/svg")):
                self.told.show(title, body.decode("utf-8"))
            else:
                self.told.show(title, kind)
            held = ("Content-Disposition", "Location", "Content-Security-Policy", "Connection")
            kept = {name: headers[name] for name in held if headers.get(name) not in (None, POLICY)}
            if kept:
                self.told.show("with", kept)


def describe_png(content: bytes) -> str:
    """A picture by its size, its mean colour and three of its corners."""
    image = Image.open(io.BytesIO(content)).convert("RGB")
    mean = image.resize((1, 1), Image.Resampling.BOX).getpixel((0, 0))
    corners = [image.getpixel(at) for at in ((0, 0), (image.width - 1, 0), (0, image.height - 1))]
    return f"{image.size[0]} × {image.size[1]} pixels, mean {mean}, corners {corners}"


def add(art: str, **cells: str) -> dict[str, Any]:
    return {"op": "add", "cells": {"order": "Owls", "wearer": "Ana", "art": art, "garment": "hoodie adult M", **cells}}


def post(path: str, sent: Any) -> tuple[str, str, Any]:
    return ("POST", path, sent)


def get(path: str) -> tuple[str, str, None]:
    return ("GET", path, None)
