"""The page in a real browser: one Chromium for all tests of a worker, one program for each module."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from impose.desk.new_desk import make_desk
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from waiting import LONGEST_S

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
REPOSITORY = Path(__file__).parents[3]
EXAMPLE = REPOSITORY / "examples" / "lantern-night"
NARROW, WIDE = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
MOST_MS = 90_000  # far more than it takes: a machine may be busy with other tests

# A drop as a browser makes it: files carried by a DataTransfer, told to what lies under the point.
DROP = """async ([selector, items, at]) => {
  const carried = new DataTransfer();
  for (const [name, text] of items) {
    const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    carried.items.add(new File([bytes], name, { type: "image/png" }));
  }
  const target = document.querySelector(selector);
  const box = target.getBoundingClientRect();
  const point = { clientX: box.x + box.width * at[0], clientY: box.y + box.height * at[1] };
  for (const kind of ["dragenter", "dragover", "drop"]) {
    target.dispatchEvent(new DragEvent(kind, { dataTransfer: carried, bubbles: true, cancelable: true, ...point }));
  }
}"""

# A copy without its rich text: what a spreadsheet or a message puts on the clipboard.
PASTE = """([selector, text]) => {
  const target = document.querySelector(selector);
  target.focus();
  const carried = new DataTransfer();
  carried.setData("text/plain", text);
  const event = new ClipboardEvent("paste", { clipboardData: carried, bubbles: true, cancelable: true });
  if (target.dispatchEvent(event)) { target.value = text; target.dispatchEvent(new Event("input", { bubbles: true })); }
}"""


@dataclass
class Program:
    """The program of one batch folder. `signed_in` is what a browser keeps of whoever has come in."""

    folder: Path
    environment: dict[str, str]
    process: subprocess.Popen[str] | None = None
    asked: list[str] = field(default_factory=list)
    signed_in: Any = None
    desk: Path | None = None

    def open(self) -> str:
        """An address with a key that works once."""
        command = [sys.executable, "-m", "impose", "open", str(self.folder), "--no-browser"]
        if self.process is None:
            shown = [] if self.desk is None else ["--desk", str(self.desk)]
            self.process = subprocess.Popen(
                [*command, *shown], stdout=subprocess.PIPE, env=self.environment, cwd=REPOSITORY, text=True
            )
            assert self.process.stdout is not None
            return self.process.stdout.readline().strip()
        done = subprocess.run(
            command, capture_output=True, env=self.environment, cwd=REPOSITORY, text=True, timeout=180, check=True
        )
        return done.stdout.strip().splitlines()[0]

    def end(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(LONGEST_S)
            assert self.process.stdout is not None
            self.process.stdout.close()


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., Program]]:
    """Starts programs, each with a home of its own; all end with the module."""
    programs: list[Program] = []

    def begin(example: bool = False, answered: bool = True, desk: bool = False) -> Program:
        home = tmp_path_factory.mktemp("home")
        folder = home / "Saturday"
        if example:
            copy_example(folder)
            (folder / "batch.toml").write_text("steps = 300\n", "utf-8")  # seen and made, not searched for long
        else:
            folder.mkdir()
        environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith(("IMPOSE_", "XDG_"))},
            "HOME": str(home),
            "IMPOSE_LEDGER": str(home / "ledger.db"),
            "PYTHONPATH": str(REPOSITORY),
        }
        program = Program(folder, environment)
        if desk:
            program.desk = make_desk(home / "desk", load_profiles_in_force(Options()))[0].root
        programs.append(program)
        if answered:
            answer_first(program)
        return program

    yield begin
    for program in programs:
        program.end()


def copy_example(folder: Path) -> None:
    """A part of the example with something of each kind: four prints of a garment, copies, notes, a back beyond A4."""
    shutil.copytree(EXAMPLE, folder)
    orders = folder / "orders.csv"
    heading, *rows = orders.read_text("utf-8").splitlines(keepends=True)
    shown = [row for row in rows if "Inge" in row or "Rowers" in row or "Wren" in row]
    orders.write_text("".join([heading, *shown]), "utf-8")


def answer_first(program: Program) -> None:
    """Skip the first questions, as a person can."""
    import http.cookiejar
    import urllib.request

    address = program.open()
    origin = address.split("/enter")[0]
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    with opener.open(address, timeout=180) as reply:
        token = reply.url.split("token=")[1].split("&")[0]
    request = urllib.request.Request(f"{origin}/api/first", json.dumps({"skip": True}).encode(), method="POST")
    for name, value in (("Content-Type", "application/json"), ("X-Impose-Token", token), ("Origin", origin)):
        request.add_header(name, value)
    opener.open(request, timeout=180).close()


@pytest.fixture
def visit(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Opens the page of a program; nothing may be said on its console."""
    contexts: list[Any] = []
    said: list[str] = []

    def open_page(program: Program, size: dict[str, int] = WIDE, dark: bool = False, **wishes: Any) -> Any:
        wishes |= {"viewport": size, "color_scheme": "dark" if dark else "light", "reduced_motion": "reduce"}
        context = chromium.new_context(storage_state=program.signed_in, **wishes)
        contexts.append(context)
        return enter(context, program, said)

    yield open_page
    for context in contexts:
        context.close()
    assert faults(said) == []


def faults(said: list[str]) -> list[str]:
    """What the console said, less pictures that were not ready yet (503), and files that are no pictures (415)."""
    return [line for line in said if " 503 " not in line and " 415 " not in line]


def enter(context: Any, program: Program, said: list[str]) -> Any:
    """A tab with the page in it."""
    page = context.new_page()
    page.set_default_timeout(MOST_MS)
    page.on("console", lambda message: said.append(message.text) if message.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    # A key for each tab would be a process for each: whoever has come in once comes in again without.
    state = context.storage_state()
    page.goto(state["origins"][0]["origin"] if state["origins"] else program.open())
    page.wait_for_selector("body[data-ready]")
    program.signed_in = context.storage_state()
    return page


def pictures(*names: str) -> list[tuple[str, str]]:
    """Artwork of the example, as a drop carries it."""
    return [(name, base64.b64encode((EXAMPLE / "art" / name).read_bytes()).decode()) for name in names]


def drop(page: Any, selector: str, items: Sequence[tuple[str, str]], at: tuple[float, float] = (0.5, 0.5)) -> None:
    page.evaluate(DROP, [selector, list(items), list(at)])


def paste(page: Any, selector: str, text: str) -> None:
    page.evaluate(PASTE, [selector, text])
