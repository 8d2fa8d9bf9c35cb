"""The licences of what a bundle ships: a list, and their texts. A package or library without one is a fault.

What is shipped is read from the bundle's own folder: the metadata of each Python package that lies there, Python
itself, and the shared libraries that came from the system, whose licences are those of the system's packages.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import sysconfig
from dataclasses import dataclass, field
from importlib.metadata import PathDistribution
from pathlib import Path

LICENCE_FILE = re.compile(r"(licen[cs]e|copying|notice|authors)[^/]*", re.IGNORECASE)
PLAIN = re.compile(r"^License :: (?:OSI Approved :: )?(.+)$")
# What a licence's own text says, where a package's metadata name none.
BY_TEXT = (
    ("MIT License", "MIT"),
    ("Permission is hereby granted, free of charge, to any person obtaining", "MIT"),
    ("Apache License", "Apache-2.0"),
)
# Licences whose text a package leaves out, and where the bundle has it all the same.
TEXT_ELSEWHERE = {
    "Apache-2.0": "the text is that of tornado",
    "SIL OFL 1.1": "the text stands in the name table of each font file, as the licence allows",
}


class LicenceMissing(Exception):
    """Something would be shipped whose licence nobody knows."""


@dataclass
class Shipped:
    """A thing that is shipped, its licence, and the texts that go with it."""

    name: str
    version: str
    licence: str
    texts: dict[str, str] = field(default_factory=dict)
    note: str = ""


def list_packages(inside: Path) -> list[Shipped]:
    """The Python packages by their metadata in the bundle. Raises `LicenceMissing`."""
    found = [read_package(path) for path in sorted(inside.glob("*.dist-info"))]
    if not found:
        raise LicenceMissing(f"{inside} holds no metadata of packages")
    return found


def read_package(folder: Path) -> Shipped:
    """A package's licence as its metadata declare it, with its texts. Raises `LicenceMissing`."""
    package = PathDistribution(folder)
    metadata = package.metadata
    name, version = metadata["Name"], package.version
    texts = {
        f"{name}/{file.relative_to(folder).as_posix().removeprefix('licenses/')}": file.read_text("utf-8", "replace")
        for file in sorted(folder.rglob("*"))
        if file.is_file() and LICENCE_FILE.fullmatch(file.name)
    }
    declared = metadata.get("License-Expression") or (metadata.get("License") or "").strip().partition("\n")[0]
    classed = [match[1] for line in metadata.get_all("Classifier") or () if (match := PLAIN.match(line))]
    said = next((licence for words, licence in BY_TEXT for text in texts.values() if words in text[:400]), "")
    licence = declared or ", ".join(classed) or said
    if not licence:
        raise LicenceMissing(f"{name} {version} declares no licence and has no file of one that is known")
    note = "" if texts else next((told for known, told in TEXT_ELSEWHERE.items() if known in licence), "")
    if not texts and not note:
        raise LicenceMissing(f"{name} {version} ({licence}) comes without the text of its licence")
    return Shipped(name, version, licence, texts, "; ".join(filter(None, (note, list_built_in(folder)))))


def list_built_in(folder: Path) -> str:
    """What is built into a package and has a licence of its own, by the bill of materials (CycloneDX)."""
    told = []
    for path in sorted(folder.glob("sboms/*.json")):
        for part in json.loads(path.read_text("utf-8")).get("components", ()):
            said = [entry.get("expression") or entry["license"].get("id", "") for entry in part.get("licenses", ())]
            if any(said):  # of the others the package's own licence file has the texts
                told.append(f"{part['name']} {part.get('version', '')} ({', '.join(said)})")
    return f"built in: {', '.join(sorted(told))}" if told else ""


def read_python() -> Shipped:
    """Python itself. Raises `LicenceMissing`."""
    places = (Path(sysconfig.get_path("stdlib")) / "LICENSE.txt", Path(sys.base_prefix) / "LICENSE.txt")
    version = sys.version.split()[0]
    for place in (*places, *Path("/usr/share/doc").glob(f"python3.{sys.version_info[1]}*/copyright")):
        if place.is_file():
            return Shipped("Python", version, "PSF-2.0", {"Python/LICENSE.txt": place.read_text("utf-8")})
    raise LicenceMissing(f"the licence of Python {version} is not found")


def list_libraries(toc: Path) -> list[Shipped]:
    """The system's shared libraries that were taken along, by the system's package. Raises `LicenceMissing`.

    `toc` is the list that the bundler keeps of what it collected and from where. On Windows and macOS all of them come
    with Python and stand under its licence file.
    """
    if not sys.platform.startswith("linux"):
        return []
    own = Path(sys.prefix).resolve()
    sources = {Path(line) for line in re.findall(r"'(/[^']+\.so[^']*)',\s*'BINARY'", toc.read_text("utf-8"))}
    owners: dict[str, list[str]] = {}
    for source in sorted(sources):
        if not source.is_relative_to(own) and not source.resolve().is_relative_to(own):
            owners.setdefault(find_owner(source), []).append(source.name)
    return [read_system_package(owner, names) for owner, names in sorted(owners.items()) if owner]


def find_owner(source: Path) -> str:
    """The system's package that a library belongs to; "" for one of Python's own. Raises `LicenceMissing`."""
    if f"python{sys.version_info[0]}.{sys.version_info[1]}" in str(source):
        return ""
    for path in dict.fromkeys((source, source.resolve(), Path("/usr") / str(source).lstrip("/"))):
        asked = subprocess.run(["dpkg", "-S", str(path)], capture_output=True, text=True, check=False)
        if asked.returncode == 0:
            return asked.stdout.split(":", 1)[0]
    raise LicenceMissing(f"no package of the system owns {source}")


def read_system_package(name: str, libraries: list[str]) -> Shipped:
    """A package of the system by its copyright file. Raises `LicenceMissing`."""
    path = Path("/usr/share/doc") / name / "copyright"
    if not path.is_file():
        raise LicenceMissing(f"{path} is missing, which has the licence of {', '.join(libraries)}")
    text = path.read_text("utf-8", "replace")
    named = list(dict.fromkeys(re.findall(r"^License: *(\S.*)$", text, re.MULTILINE)))
    asked = subprocess.run(["dpkg-query", "-W", "-f=${Version}", name], capture_output=True, text=True, check=False)
    licence = "; ".join(named) or "as its copyright file says"
    return Shipped(name, asked.stdout, licence, {f"{name}/copyright": text}, ", ".join(libraries))


def write_licences(folder: Path, shipped: list[Shipped]) -> None:
    """`LICENCES.txt`, the list, and the texts in `licences/`."""
    lines = ["What this folder holds, and under which licence. The texts lie in the folder licences.", ""]
    for thing in shipped:
        lines += [f"{thing.name} {thing.version}", f"    {thing.licence}"]
        lines += [f"    {thing.note}"] if thing.note else []
        for name, text in thing.texts.items():
            place = folder / "licences" / name
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(text, "utf-8")
    (folder / "LICENCES.txt").write_text("\n".join(lines) + "\n", "utf-8")
