"""The recipe of the folder to unpack: what it starts, and that nothing is shipped whose licence nobody knows.

The folder itself is built and tried by `.ci/run`.
"""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
BUNDLE = ROOT / ".ci" / "bundle"


def load_recipe(name: str):
    spec = importlib.util.spec_from_file_location(f"bundle_{name}", BUNDLE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def launch(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-P", str(BUNDLE / "launcher.py"), *words],
        capture_output=True, text=True, check=False, env={"PYTHONPATH": str(ROOT), **environment},
    )  # fmt: skip


def test_every_child_is_started_in_words_that_the_launcher_takes():
    code = "\n".join(path.read_text("utf-8") for path in (ROOT / "impose").rglob("*.py"))
    children = set(re.findall(r"\"-m\", \"([\w.]+)\"", code))
    assert {"impose", "impose.formats.child", "impose.desk.worker", "impose.page.planner_process"} <= children
    assert all(child.partition(".")[0] == "impose" for child in children)
    # Nobody else runs the interpreter: in a bundle there is none.
    assert 'sys.executable, "-c"' not in code


def test_the_launcher_is_the_command_and_its_children():
    assert launch("--version").stdout.startswith("impose, version ")
    assert launch("-P", "-m", "impose", "--version").stdout.startswith("impose, version ")
    refused = launch("-m", "http.server")
    assert (refused.returncode, refused.stderr) == (1, "http.server is no part of impose\n")


def test_other_programs_get_the_systems_libraries(monkeypatch):
    """As the bundler's documentation has it: what it sets for itself is put back before others are started."""
    launcher = load_recipe("launcher")
    monkeypatch.setenv("LD_LIBRARY_PATH", "/bundle")
    monkeypatch.setenv("LD_LIBRARY_PATH_ORIG", "/before")
    launcher.restore_libraries()
    assert (launcher.os.environ["LD_LIBRARY_PATH"], "LD_LIBRARY_PATH_ORIG" in launcher.os.environ) == ("/before", False)
    launcher.restore_libraries()
    assert "LD_LIBRARY_PATH" not in launcher.os.environ


def package(folder: Path, name: str, lines: str = "", **files: str) -> None:
    inside = folder / f"{name}-1.0.dist-info"
    inside.mkdir()
    (inside / "METADATA").write_text(f"Metadata-Version: 2.4\nName: {name}\nVersion: 1.0\n{lines}\n", "utf-8")
    for file, text in files.items():
        (inside / file).write_text(text, "utf-8")


def test_licences_are_read_from_what_is_shipped(tmp_path):
    licences = load_recipe("licences")
    package(tmp_path, "expressed", "License-Expression: MIT", LICENSE="MIT License")
    package(tmp_path, "classed", "Classifier: License :: OSI Approved :: BSD License", COPYING="...")
    package(
        tmp_path, "silent", "", LICENSE="Permission is hereby granted, free of charge, to any person obtaining a copy"
    )
    package(tmp_path, "apart", "License: Apache-2.0")
    said = {thing.name: (thing.licence, sorted(thing.texts)) for thing in licences.list_packages(tmp_path)}
    assert said == {
        "expressed": ("MIT", ["expressed/LICENSE"]),
        "classed": ("BSD License", ["classed/COPYING"]),
        "silent": ("MIT", ["silent/LICENSE"]),
        "apart": ("Apache-2.0", []),
    }
    licences.write_licences(tmp_path, licences.list_packages(tmp_path))
    assert (tmp_path / "licences" / "classed" / "COPYING").read_text("utf-8") == "..."
    assert "apart 1.0\n    Apache-2.0\n    the text is that of tornado\n" in (tmp_path / "LICENCES.txt").read_text(
        "utf-8"
    )


@pytest.mark.parametrize(
    ("lines", "files", "said"),
    [
        ("", {}, "declares no licence"),
        ("", {"LICENSE": "All rights reserved"}, "declares no licence"),
        ("License-Expression: MIT", {}, "without the text of its licence"),
    ],
)
def test_a_package_without_a_licence_stops_the_build(tmp_path, lines, files, said):
    licences = load_recipe("licences")
    package(tmp_path, "strange", lines, **files)
    with pytest.raises(licences.LicenceMissing, match=said):
        licences.list_packages(tmp_path)
