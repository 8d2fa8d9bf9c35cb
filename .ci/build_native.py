"""Build the compiled loops: python .ci/build_native.py, for this machine, beside their sources; and hatchling's hook.

With the package `ziglang` (it carries a C compiler and the headers of every system) a wheel gets a library for each
system of `TARGETS`, the same bytes wherever it is built: that is how a release is made. Else the machine's own C
compiler (`CC`, cc, gcc or clang) makes the one library it can run, and the wheel is for this system. Else the wheel
has none, says so, and its users get the plain loops.
"""

from __future__ import annotations

import importlib.util
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from types import ModuleType

NATIVE = Path(__file__).resolve().parent.parent / "impose" / "native"
# No contraction of products and sums: the twins in Python round after each.
FLAGS = [
    "-O3",
    "-std=c11",
    "-shared",
    "-fvisibility=hidden",
    "-ffp-contract=off",
    "-Wall",
    "-Wextra",
    "-Werror=implicit",
]
# What zig calls the target, `sys.platform`, `platform.machine()`. The C library is as old as numpy's wheels ask for.
TARGETS = (
    ("x86_64-linux-gnu.2.17", "linux", "x86_64"),
    ("aarch64-linux-gnu.2.17", "linux", "aarch64"),
    ("x86_64-macos.11.0", "darwin", "x86_64"),
    ("aarch64-macos.11.0", "darwin", "arm64"),
    ("x86_64-windows-gnu", "win32", "AMD64"),
    ("aarch64-windows-gnu", "win32", "ARM64"),
)


def _load_names() -> ModuleType:
    """`impose.native.library`, without the package around it, which may not be installed yet."""
    spec = importlib.util.spec_from_file_location("library_names", NATIVE / "library.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


NAMES = _load_names()


def compile_library(compiler: list[str], out: Path, extra: list[str]) -> None:
    """One shared library of all sources; raises CalledProcessError with what the compiler says."""
    sources = [path.name for path in sorted(NATIVE.glob("*.c"))]
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / out.name
        subprocess.run(
            [*compiler, *FLAGS, *extra, f"-DSOURCES={NAMES.hash_sources(NATIVE)}", "-o", str(made), *sources],
            cwd=NATIVE, check=True, capture_output=True, text=True,
        )  # fmt: skip
        Path(shutil.copy(made, out.with_suffix(".part"))).replace(out)  # whole, also where another process reads it


def build_everywhere(folder: Path) -> list[Path]:
    """A library for each of `TARGETS`, by zig."""
    made = []
    for target, system, machine in TARGETS:
        out = folder / NAMES.name_library(system, machine)
        extra = ["-target", target, "-s", "-fno-sanitize=undefined", *([] if system == "win32" else ["-fPIC"])]
        if system == "darwin":  # otherwise the path it was built at is its name
            extra.append(f"-Wl,-install_name,@rpath/{out.name}")
        compile_library([sys.executable, "-m", "ziglang", "cc"], out, extra)
        made.append(out)
    return made


def build_here(folder: Path) -> list[Path]:
    """The library that this machine can run, by its own compiler; none where there is no compiler that can."""
    names = [os.environ.get("CC", ""), "cc", "gcc", "clang"]
    compiler = next((found for name in names if name and (found := shutil.which(name))), None)
    out = folder / NAMES.name_library(sys.platform, platform.machine())
    if compiler is None:
        print("impose: no C compiler here: the plain loops do the same, slower", file=sys.stderr)
        return []
    try:
        compile_library([compiler], out, [] if sys.platform == "win32" else ["-fPIC"])
    except (subprocess.CalledProcessError, OSError) as problem:
        said = getattr(problem, "stderr", None) or problem
        print(f"impose: the loops did not compile, the plain ones do the same, slower: {said}", file=sys.stderr)
        return []
    return [out]


try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ImportError:  # run by hand
    pass
else:

    class NativeBuildHook(BuildHookInterface):
        """Adds the libraries to a wheel; to an editable install, the one beside the sources."""

        def initialize(self, version: str, build_data: dict) -> None:
            """Called by hatchling before a wheel is put together."""
            if version == "editable":
                build_here(NATIVE)
                return
            self.folder = tempfile.mkdtemp()
            if importlib.util.find_spec("ziglang"):
                made = build_everywhere(Path(self.folder))
            elif made := build_here(Path(self.folder)):
                from packaging.tags import sys_tags

                plain = (tag.platform for tag in sys_tags() if "linux_" not in tag.platform[1:])
                build_data["pure_python"], build_data["tag"] = False, f"py3-none-{next(plain)}"
            for path in made:
                build_data["force_include"][str(path)] = f"impose/native/{path.name}"

        def finalize(self, version: str, build_data: dict, artifact_path: str) -> None:
            """Called by hatchling when the wheel is there."""
            shutil.rmtree(getattr(self, "folder", ""), ignore_errors=True)


if __name__ == "__main__":
    for path in build_here(NATIVE):
        print(path)
