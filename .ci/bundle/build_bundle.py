"""Make the folder to unpack and double-click: python .ci/bundle/build_bundle.py OUT, in an environment with the wheel.

The environment holds the built wheel with the extra `bundle` and the extras that go along; nothing is fetched here. OUT
gets the folder `impose`, the packed folder, and its checksum. `.ci/run` and `.ci/release` do that on Linux.

On Windows and macOS the same script makes it. NOBODY HAS TRIED THAT YET; the steps, with Python of python.org 3.11 or
newer (macOS: `bin/` for `Scripts\\`, `python3` for `py`), in a checkout of the tag and beside the wheel of the release:

    py -m venv packing
    packing\\Scripts\\pip install "impose-X.Y.Z-py3-none-any.whl[bundle,fast,watch,discover,fonts]"
    set SOURCE_DATE_EPOCH=(the seconds of the commit: git log -1 --format=%ct)
    packing\\Scripts\\python .ci\\bundle\\build_bundle.py OUT
    packing\\Scripts\\python .ci\\bundle\\smoke_bundle.py OUT\\impose packing\\Scripts\\impose.exe

What is known to differ: nothing is signed, so Windows and macOS ask before the first start. A bundle is for one kind of
processor: Intel and Apple's own each need one. Children are started by `spawn` there, which the launcher's
`freeze_support` serves. The page and the printer are tried by hand.
"""

from __future__ import annotations

import gzip
import hashlib
import os
import platform
import shutil
import subprocess
import sys
import tarfile
import zipfile
from importlib.metadata import PackageNotFoundError, distribution, version
from pathlib import Path

from licences import list_libraries, list_packages, read_python, write_licences

HERE = Path(__file__).resolve().parent
EXTRAS = ("fast", "watch", "discover", "fonts")
"""What goes along: small, and wanted by everyone who does not install packages. See docs/install.md for the others."""

READ_ME = """\
impose {version}

Double-click "impose" (on Windows "impose.exe") in this folder: the page opens in your browser.
Where double-clicking does nothing, as on some Linux desktops, open a terminal in this folder and type ./impose
An icon for your desktop: ./impose open --icon

Everything that the command does: ./impose --help
What this folder holds, and under which licences: LICENCES.txt
"""


def list_requirements(name: str, extras: tuple[str, ...] = ()) -> set[str]:
    """A package and all that it needs, as installed here."""
    from packaging.requirements import Requirement

    found, waiting = set(), [(name, frozenset(extras))]
    while waiting:
        package, wanted = waiting.pop()
        try:
            needed = distribution(package).requires or ()
        except PackageNotFoundError:
            raise SystemExit(f"{package} is not installed here") from None
        if (package, wanted) in found:
            continue
        found.add((package, wanted))
        for line in needed:
            requirement = Requirement(line)
            marker = requirement.marker
            if marker is None or any(marker.evaluate({"extra": extra}) for extra in ("", *wanted)):
                waiting.append((requirement.name, frozenset(requirement.extras)))
    return {distribution(package).metadata["Name"] for package, _ in found}


def build_folder(out: Path) -> Path:
    """The folder, with its licences and a word to whoever opens it."""
    packages = sorted(list_requirements("impose", EXTRAS), key=str.casefold)
    work = out / "work"
    # Not from where we happen to stand: a checkout there would be taken for the wheel that is installed.
    # The same bytes for the same input: sets of names are walked in the order of their hashes.
    given = {"PYTHONHASHSEED": "0", "BUNDLE_PACKAGES": ",".join(packages), "BUNDLE_ICON": draw_icon(work)}
    subprocess.run(
        [sys.executable, "-P", "-m", "PyInstaller", "--noconfirm", "--log-level=WARN", "--distpath", str(out),
         "--workpath", str(work), str(HERE / "impose.spec")],
        env={**os.environ, **given}, check=True, cwd=out,
    )  # fmt: skip
    folder = out / "impose"
    strip_python(folder / "_internal")
    shipped = [*list_packages(folder / "_internal"), read_python(), *list_libraries(work / "impose" / "COLLECT-00.toc")]
    missing = {name.casefold() for name in packages} - {thing.name.casefold() for thing in shipped}
    if missing:
        raise SystemExit(f"shipped without metadata: {', '.join(sorted(missing))}")
    write_licences(folder, shipped)
    (folder / "READ ME.txt").write_text(READ_ME.format(version=version("impose")), "utf-8")
    return folder


def strip_python(inside: Path) -> None:
    """Take what only a debugger reads out of Python's own libraries; those of packages are finished as they come."""
    strip = shutil.which("strip")
    if not sys.platform.startswith("linux") or strip is None:
        return
    for path in (*inside.glob("libpython*"), *inside.glob("python3*/lib-dynload/*.so")):
        subprocess.run([strip, "--strip-unneeded", str(path)], check=True)


def draw_icon(work: Path) -> str:
    """The picture of impose/page/static/icon.svg where a system keeps one in the program's file; else nothing."""
    if sys.platform not in ("win32", "darwin"):
        return ""
    from PIL import Image, ImageDraw

    work.mkdir(parents=True, exist_ok=True)
    path = work / ("impose.ico" if sys.platform == "win32" else "impose.icns")
    side = 1024
    image = Image.new("RGBA", (side, side))
    pen = ImageDraw.Draw(image)
    unit = side / 32
    pen.rounded_rectangle([3 * unit, 3 * unit, 29 * unit, 29 * unit], 3 * unit, "#fff", "#0b57a4", round(2 * unit))
    for x, y, wide, high in ((8, 8, 7, 9), (17, 8, 7, 5), (17, 15, 7, 9), (8, 19, 7, 5)):
        pen.rectangle([x * unit, y * unit, (x + wide) * unit - 1, (y + high) * unit - 1], "#0b57a4")
    image.save(path)
    return str(path)


def name_system() -> str:
    """The system and the kind of machine, as part of a file's name."""
    system = {"win32": "windows", "darwin": "macos"}.get(sys.platform, "linux")
    return f"{system}-{platform.machine().lower()}"


def pack_folder(folder: Path, out: Path, moment: int) -> Path:
    """The folder in one file, the same bytes for the same folder; zip where double-clicking unpacks it."""
    stem = f"impose-{version('impose')}-{name_system()}"
    files = sorted((path for path in folder.rglob("*") if path.is_file() or path.is_symlink()), key=Path.as_posix)
    if sys.platform == "win32":
        path = out / f"{stem}.zip"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
            for file in files:
                entry = zipfile.ZipInfo(file.relative_to(folder.parent).as_posix(), (1980, 1, 1, 0, 0, 0))
                entry.compress_type = zipfile.ZIP_DEFLATED
                packed.writestr(entry, file.read_bytes())
        return path
    path = out / f"{stem}.tar.gz"
    with (
        path.open("wb") as raw,
        gzip.GzipFile("", "wb", 6, raw, mtime=moment) as inner,
        tarfile.open(fileobj=inner, mode="w", format=tarfile.PAX_FORMAT) as packed,
    ):
        for file in files:
            entry = packed.gettarinfo(file, file.relative_to(folder.parent).as_posix())
            entry.uid = entry.gid = 0
            entry.uname = entry.gname = ""
            entry.mtime = moment
            entry.mode = 0o755 if entry.mode & 0o100 else 0o644
            if entry.isreg():
                with file.open("rb") as content:
                    packed.addfile(entry, content)
            else:
                packed.addfile(entry)
    return path


def main() -> int:
    """Build, pack, and write the checksum."""
    out = Path(sys.argv[1]).resolve()
    out.mkdir(parents=True, exist_ok=True)
    folder = build_folder(out)
    packed = pack_folder(folder, out, int(os.environ.get("SOURCE_DATE_EPOCH", "0")))
    digest = hashlib.sha256(packed.read_bytes()).hexdigest()
    (out / "SHA256SUMS").write_text(f"{digest}  {packed.name}\n", "utf-8")
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
    print(f"{packed.name}: {packed.stat().st_size / 1e6:.1f} MB packed, {size / 1e6:.1f} MB unpacked")
    return 0


if __name__ == "__main__":
    sys.exit(main())
