"""Whether the library of each other system gives the answers of this one: python .ci/native/try_elsewhere.py

Needs the package `ziglang`, and for each system what runs its programs here: qemu-user and libc6-arm64-cross for Linux
on ARM, wine for Windows. A system that cannot be run is named. Real work is done first, nesting and pictures of the
example, and its calls into the library are kept; `replay.c` then makes them in a program of each system. Before a
release, `.ci/release` runs it.
"""

from __future__ import annotations

import ctypes
import io
import platform
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path.insert(0, str(HERE.parent))
sys.path.insert(1, str(ROOT))

import build_native  # noqa: E402

from impose.native import library  # noqa: E402

MOST_CALLS, MOST_BYTES = 150, 1 << 20  # that are kept: of each function, and of one call
RUNNERS = {
    "linux-x86_64": ("env",),
    "linux-aarch64": ("qemu-aarch64", "-L", "/usr/aarch64-linux-gnu"),
    "win32-x86_64": ("wine",),
}

SKIPPED = {"deal_pieces": "its lists hold addresses of others"}


class Recorder:
    """A library whose calls are written down before they are made."""

    def __init__(self, loaded: ctypes.CDLL) -> None:
        self._loaded, self.calls, self.counts = loaded, bytearray(), Counter[str]()
        self._lengths: dict[int, int] = {}

    def __getattr__(self, name: str) -> Any:
        """One function of the library, as it is used from now on."""
        function = getattr(self._loaded, name)
        if name.startswith("library_") or name in SKIPPED:
            return function
        self.__dict__[name] = _RecordedFunction(function, lambda given: self._keep_call(name, given))
        return self.__dict__[name]

    def watch_lists(self, module: Any, name: str, measure: Callable[[Any], int]) -> None:
        """Hear of each list whose address the module's function asks for, and how many bytes it has."""
        locate = getattr(module, name)

        def locate_watched(numbers: Any) -> int:
            address: int = locate(numbers)
            self._lengths.pop(address, None)
            if (length := measure(numbers)) > 0:  # an empty list may lie at 0, as any number may be 0
                self._lengths[address] = length
            return address

        for user in [user for key, user in sys.modules.items() if key.startswith("impose")]:
            if getattr(user, name, None) is locate:
                setattr(user, name, locate_watched)

    def _keep_call(self, name: str, arguments: tuple[Any, ...]) -> None:
        if any(isinstance(argument, ctypes._CFuncPtr) and argument for argument in arguments):
            return  # asks the caller, who is not there when it is replayed
        for argument in arguments:
            if isinstance(argument, bytes):
                self._lengths[_locate_bytes(argument)] = len(argument)
        given = [
            0 if argument is None or isinstance(argument, ctypes._CFuncPtr) else _number_argument(argument)
            for argument in arguments
        ]
        lengths = {place: self._lengths[number] for place, number in enumerate(given) if number in self._lengths}
        if name == "unfilter_rows" and given[4]:
            return  # looks at the row before what it is given
        if any(number >= 1 << 40 and place not in lengths for place, number in enumerate(given)):
            return  # an address of what nobody told the length of
        if self.counts[name] >= MOST_CALLS or sum(lengths.values()) > MOST_BYTES:
            return
        self.counts[name] += 1
        answers = getattr(self._loaded, name).restype is not None
        self.calls += f"{name} {len(given)} {answers:d}\n".encode()
        for place, number in enumerate(given):
            if place in lengths:
                self.calls += b"a %d\n%b\n" % (lengths[place], ctypes.string_at(number, lengths[place]))
            else:
                self.calls += b"n %d\n" % number


def _locate_bytes(content: bytes) -> int:
    return ctypes.cast(ctypes.c_char_p(content), ctypes.c_void_p).value or 0


def _number_argument(argument: Any) -> int:
    return _locate_bytes(argument) if isinstance(argument, bytes) else int(argument)


class _RecordedFunction:
    """A function of a library, that is told its types as others are."""

    def __init__(self, function: Any, keep: Callable[[tuple[Any, ...]], None]) -> None:
        self.__dict__.update(_function=function, _keep=keep)

    def __setattr__(self, name: str, value: Any) -> None:
        setattr(self._function, name, value)

    def __call__(self, *arguments: Any) -> Any:
        self._keep(arguments)
        return self._function(*arguments)


def measure_array(array: Any) -> int:
    """From its first element to its last, in bytes; -1 where its steps go down."""
    if min(array.strides) < 0:
        return -1
    steps = sum((count - 1) * step for count, step in zip(array.shape, array.strides, strict=True))
    return int(steps + array.itemsize) if array.size else 0


def record_work() -> Recorder:
    """Nest and prepare with every call kept."""
    loaded = library.load_library()
    if loaded is None:
        sys.exit("build the library of this machine first: python .ci/build_native.py")
    recorder = Recorder(loaded)
    library.load_library = lambda: recorder  # type: ignore[assignment,return-value]
    from impose.art import pixel_loops
    from impose.art.prepare import PreparationOptions
    from impose.formats.prepare_file import prepare_file
    from impose.nest import (  # noqa: F401 - to be watched
        Rectangle,
        Stock,
        compiled,
        compiled_beam,
        compiled_cover,
        compiled_exact,
        nest,
    )  # fmt: skip

    recorder.watch_lists(compiled, "locate_list", lambda numbers: numbers.itemsize * len(numbers))
    recorder.watch_lists(pixel_loops, "locate_array", measure_array)
    chance = random.Random(5)
    for count in (5, 7, 9, 30, 60, 400):
        pieces = [Rectangle(str(i), chance.randint(20, 180), chance.randint(20, 150), True) for i in range(count)]
        for straight in (False, True):
            nest(pieces, [Stock("a4", 197, 284, cost=11)], steps=400, straight_cuts=straight)
        nest(pieces, [Stock("a4", 197, 284, cost=11), Stock("a3", 284, 407, cost=23)], steps=400)
        nest(pieces, [Stock("roll", 600, None, cost=11)], steps=400)
    for path in sorted((ROOT / "examples" / "lantern-night" / "art").glob("*.png")):
        prepare_file(path.read_bytes(), PreparationOptions())
    for number, content in enumerate(make_photographs()):
        prepare_file(content, PreparationOptions(orientation="ignore" if number % 2 else "apply"))
    return recorder


def make_photographs() -> Iterator[bytes]:
    """Small JPEGs in the ways that cameras store them, with strokes and with ink at all sides."""
    from PIL import Image, ImageDraw

    for number in range(16):
        ground = (90, 120, 160) if number % 4 else "white"
        image = Image.new("L" if number % 5 == 0 else "RGB", (401 + number, 310 - number))
        image.paste(Image.new("RGB", image.size, ground).convert(image.mode))
        pen = ImageDraw.Draw(image)
        for i in range(1, 12):
            pen.ellipse((10 * i, 8 * i, 400 - 9 * i, 300 - 9 * i), outline=(20 * i if number % 5 else 99), width=4)
        exif, file = Image.Exif(), io.BytesIO()
        exif[0x0112] = number % 8 + 1
        # Only pictures longer than their small copies are averaged, and only small calls are kept.
        image = image.resize((1850, 60)) if number % 3 == 0 else image
        image.save(file, "JPEG", quality=90, exif=exif.tobytes())
        yield file.getvalue()


def build_programs(folder: Path) -> Iterator[tuple[str, list[str]]]:
    """For each system that can be run here its name and the command; libraries lie in `folder`."""
    zig = [sys.executable, "-m", "ziglang", "cc", "-O1"]
    for target, system, machine in build_native.TARGETS:
        name = library.name_library(system, machine).removeprefix("loops-").rpartition(".")[0]
        runner = RUNNERS.get(name, ("",))
        if shutil.which(runner[0]) is None:
            print(f"{name}: built, not run: nothing here runs its programs")
            continue
        program = folder / f"replay-{name}.exe"
        subprocess.run([*zig, "-target", target, "-o", str(program), str(HERE / "replay.c")], check=True)
        yield name, [*runner, str(program), str(folder / library.name_library(system, machine))]


def main() -> None:
    """Replay here and elsewhere, and compare line by line."""
    recorder = record_work()
    print("calls:", ", ".join(f"{name} {count}" for name, count in sorted(recorder.counts.items())))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        calls = folder / "calls"
        calls.write_bytes(recorder.calls)
        build_native.build_everywhere(folder)
        here = folder / "replay-here"
        subprocess.run(["cc", "-O1", "-o", str(here), str(HERE / "replay.c")], check=True)
        own = library.FOLDER / library.name_library(sys.platform, platform.machine())
        wanted = subprocess.run([here, own, calls], check=True, capture_output=True, text=True).stdout.split("\n")
        failed = False
        for system, command in build_programs(folder):
            done = subprocess.run([*command, str(calls)], capture_output=True, text=True)
            lines = done.stdout.replace("\r", "").split("\n")
            differing = sum(a != b for a, b in zip(wanted, lines, strict=False)) + abs(len(wanted) - len(lines))
            print(f"{system}: {len(lines) - 1} calls answered, {differing} unlike this system's", done.stderr[-300:])
            failed = failed or differing > 0 or done.returncode != 0
    sys.exit(failed)


if __name__ == "__main__":
    main()
