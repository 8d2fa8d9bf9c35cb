"""Whether the bundle works on its own: python .ci/bundle/smoke_bundle.py FOLDER [PEER], from a checkout with its tests.

FOLDER is moved away from where it was built. Each kind of child process is made to do something, and what is made is
held against PEER (the same version's command, installed from the wheel): the same input gives the same bytes. The page
is looked at in a real Chromium, and a sheet is printed on the software printer of the tests, where there are such.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 30 20"><path d="M0 0h30v20z" fill="#a11"/></svg>'
# The edges of the tests' software printer.
PRINTER = """\
[studio]
left = "3.4 mm"
top = "3 mm"
right = "3.4 mm"
bottom = "12.5 mm"
sublimation_ink = true
address = "{address}"
"""
# More transfers than from which on a process of its own writes the tickets (impose.run.ticket_process.WORTH).
MANY = 420


class BundleFault(Exception):
    """The bundle does not do what it has to."""


class Bench:
    """A place with nothing of this machine's Python in it: a folder, a home, and the bundle's command."""

    def __init__(self, folder: Path, work: Path) -> None:
        self.work = work
        self.bundle = work / "moved here" / "impose"
        self.bundle.parent.mkdir()
        shutil.copytree(folder, self.bundle, symlinks=True)
        self.command = self.bundle / ("impose.exe" if os.name == "nt" else "impose")
        (work / "home").mkdir()
        kept = ("PATH", "SYSTEMROOT", "TEMP", "LANG") if os.name == "nt" else ("LANG",)
        self.environment = {name: os.environ[name] for name in kept if name in os.environ}
        home = str(work / "home")
        self.environment |= {"HOME": home, "USERPROFILE": home, "PATH": self.environment.get("PATH", "/usr/bin:/bin")}
        # A browser that does nothing: the page is looked at by one of our own.
        self.environment["BROWSER"] = "true"

    def run_command(self, *words: object, command: Path | None = None, expected: int = 0) -> str:
        """What the command says. Raises `BundleFault` on another exit code than expected."""
        asked = [str(command or self.command), *map(str, words)]
        done = subprocess.run(
            asked, cwd=self.work, env=self.environment, capture_output=True, text=True, timeout=300, check=False
        )
        if done.returncode != expected:
            raise BundleFault(f"{' '.join(asked)}: code {done.returncode}\n{done.stdout}\n{done.stderr}")
        return done.stdout


@contextlib.contextmanager
def tell_step(words: str) -> Iterator[None]:
    """Say what is tried and how long it took."""
    start = time.monotonic()
    yield
    print(f"{words}: {time.monotonic() - start:.1f} s", flush=True)


def try_sheets(bench: Bench, peer: Path | None) -> None:
    """The example; then many transfers of an SVG and a PNG by two workers, as tickets and drawing have processes."""
    example = bench.bundle / "_internal" / "impose" / "_example"
    shutil.copytree(example, bench.work / "example")
    (bench.work / "example" / "mark.svg").write_text(SVG, "utf-8")
    (bench.work / "example" / "many.csv").write_text(
        f"order,art,width,copies\nCrew,mark.svg,30 mm,{MANY // 2}\nCrew,art/moth.png,30 mm,{MANY // 2}\n", "utf-8"
    )
    for name, words in (("orders", ("-p", "a4", "-p", "13x19")), ("many", ("--workers", "2"))):
        asked = (
            "sheets",
            f"example/{name}.csv",
            *words,
            "--steps",
            "50",
            "-q",
            "--no-cache",
            "--accept",
            "low-resolution",
        )
        bench.run_command(*asked, "-o", f"bundle-{name}")
        if peer is not None:
            bench.run_command(*asked, "-o", f"peer-{name}", command=peer)
            differing = compare_folders(bench.work / f"bundle-{name}", bench.work / f"peer-{name}")
            if differing:
                raise BundleFault(f"{name}: not the bytes that the wheel makes: {', '.join(differing)}")


def compare_folders(folder: Path, other: Path) -> list[str]:
    """The files that differ or that one of two folders lacks."""
    names = {str(path.relative_to(top)) for top in (folder, other) for path in top.rglob("*") if path.is_file()}
    return sorted(
        name
        for name in names
        if not (folder / name).is_file()
        or not (other / name).is_file()
        or (folder / name).read_bytes() != (other / name).read_bytes()
    )


def try_desk(bench: Bench) -> None:
    """A picture dropped into a watched folder; a worker process makes its sheet. The starter runs the bundle."""
    bench.run_command("desk", "--new", "desk")
    shutil.copy(bench.work / "example" / "art" / "moth.png", bench.work / "desk" / "in" / "left-chest" / "moth.png")
    bench.run_command("watch", "desk", "--once", "--settle", "0", "--steps", "50")
    if not list((bench.work / "desk" / "sheets").rglob("sheets-*.pdf")):
        raise BundleFault("the desk made no sheet of what was dropped")
    starter = (bench.work / "desk" / "Start desk.command").read_text("utf-8")
    if str(bench.command) not in starter:
        raise BundleFault(f"the desk's starter starts something else: {starter}")


def try_page(bench: Bench) -> None:
    """Started as by a double-click, with no word: the address, then the page as a browser shows it."""
    start = time.monotonic()
    server = subprocess.Popen(
        [str(bench.command)], cwd=bench.bundle, env=bench.environment, stdout=subprocess.PIPE, text=True
    )
    try:
        assert server.stdout is not None
        lines = (line.strip() for line in server.stdout)
        address = next((line for line in lines if line.startswith("http://127.0.0.1:")), "")
        if not address:
            raise BundleFault("the page said no address")
        print(f"  the page is up after {time.monotonic() - start:.2f} s")
        look_at_page(bench, address)
    finally:
        server.send_signal(signal.SIGINT if os.name != "nt" else signal.SIGTERM)
        server.wait(20)


def look_at_page(bench: Bench, address: str) -> None:
    """Until a real browser shows the example's sheets, which a process of the server's has planned."""
    browser = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        browser = None
    if browser is None:
        print("  SKIPPED: no Chromium to look at the page with")
        return
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=browser, args=["--no-sandbox"])
        page = started.new_page()
        page.goto(address)
        page.get_by_text(re.compile(r"[1-9][0-9]* sheets?\b")).first.wait_for(timeout=60_000)
        page.screenshot(path=bench.work / "page.png")
        started.close()


def try_printer(bench: Bench) -> None:
    """The example's first paper to a software printer, which gets the very bytes."""
    sys.path.insert(0, str(ROOT / "tests"))
    from printing.world import World, missing

    if lacking := missing():
        print(f"  SKIPPED: no software printer ({lacking})")
        return
    folder = Path(tempfile.mkdtemp(prefix="impose-world-"))
    folder.chmod(0o755)
    world = World(folder).start()
    try:
        printer = next(printer for printer in world.printers if printer.name == "a4")
        own = bench.work / "mine"
        own.mkdir(exist_ok=True)
        (own / "printers.toml").write_text(PRINTER.format(address=printer.address), "utf-8")
        said = ("--profiles", "mine", "--printer", "studio")
        bench.run_command("sheets", "example/art/moth.png", "--width", "60mm", *said, "-o", "printed", "-q")
        with world.inside():
            bench.run_command("print", "printed", *said, "--ledger", "ledger.db", "--accept", "straight-edge")
        got = world.got("a4")
        if [path.read_bytes() for path in got] != [(bench.work / "printed" / "sheets-a4.pdf").read_bytes()]:
            raise BundleFault(f"the printer got {got}")
    finally:
        world.stop()
        shutil.rmtree(folder, ignore_errors=True)


def main() -> int:
    """Try all of it."""
    folder = Path(sys.argv[1]).resolve()
    peer = Path(sys.argv[2]).absolute() if len(sys.argv) > 2 else None
    with tempfile.TemporaryDirectory(prefix="impose-bundle-") as work:
        bench = Bench(folder, Path(work))
        with tell_step("starts"):
            print(f"  {bench.run_command('--version').strip()}")
        with tell_step("sheets, by the wheel's bytes"):
            try_sheets(bench, peer)
        with tell_step("the desk"):
            try_desk(bench)
        with tell_step("the page"):
            try_page(bench)
        with tell_step("the printer"):
            try_printer(bench)
    return 0


if __name__ == "__main__":
    sys.exit(main())
