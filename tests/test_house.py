"""The house holds: imports point down, start-up stays light, heavy libraries have one user each."""

from __future__ import annotations

import ast
import functools
import inspect
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

from each_case import try_each
from impose.cli import cli
from sources import PACKAGE, list_modules, list_nodes, read_nodes

ROOT = Path(__file__).resolve().parent.parent

FLOORS = {
    "remedies": 0,
    "values": 0,
    "errors": 1,
    "kinds": 1,
    "native": 1,
    "units": 2,
    "work": 2,
    "messages": 2,
    "folder_exchange": 2,
    "file_types": 2,
    "source_files": 2,
    "nest": 2,
    "type": 2,
    "files": 3,
    "profiles": 3,
    "art": 3,
    "ledger": 3,
    "orders": 4,
    "formats": 4,
    "sheet": 5,
    "pages": 6,
    "printing": 7,
    "run": 8,
    "desk": 9,
    "page": 10,
    "cli": 11,
    "__main__": 12,
}
# The command line states practice and exit codes; the version stands in the package itself.
HEAVY = ("PIL", "numpy", "pymupdf", "rectpack", "uharfbuzz")


DOCS = ROOT / "shared" / "docs"
PAGES = sorted(DOCS.rglob("*.md"))


def room(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


@functools.cache
def imported(path: Path) -> set[str]:
    nodes = read_nodes(path)
    names: set[str] = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: relative import"
            names.add(node.module)
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def test_imports_point_down_only():
    assert len(list_modules()) > 400
    climbs = []
    for path in list_modules():
        here = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
        if here == "__init__":
            climbs += [(here, name) for name in imported(path) if name.startswith("impose")]
            continue
        for name in imported(path):
            if not name.startswith("impose.") or room(name) not in FLOORS:
                continue
            there = room(name)
            if there != here and FLOORS[there] >= FLOORS[here]:
                climbs.append((path.relative_to(PACKAGE).as_posix(), there))
    assert climbs == []


@pytest.mark.parametrize(
    ("library", "homes"),
    [
        ("rectpack", ("nest/rectpack_portfolio.py",)),
        # Written in one room; read, in a process of its own, in another.
        ("pymupdf", ("pages/pdf/", "formats/pdf_pages.py")),
        ("resvg_py", ("formats/svg_pixels.py",)),
        ("pillow_heif", ("formats/raster.py",)),
        ("click", ("cli/",)),
        ("msgspec", ("values.py",)),
    ],
)
def test_a_library_has_one_home(library, homes):
    users = [
        path.relative_to(PACKAGE).as_posix()
        for path in list_modules()
        if any(name == library or name.startswith(f"{library}.") for name in imported(path))
    ]
    assert users
    assert all(user.startswith(homes) for user in users), users


@pytest.mark.parametrize("code", ["import impose", "import impose.cli", "import impose.nest", "import impose.units"])
def test_start_up_loads_nothing_heavy(code):
    script = f"import sys; {code}; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_command_loads_no_other_command():
    script = (
        "import sys\nfrom impose.cli import cli\nassert cli.get_command(None, 'stock').name == 'stock'\n"
        "modules = {f'impose.cli.{name}' for name in cli.list_commands(None)}\n"
        "print(sorted(modules & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['impose.cli.stock']"


def test_the_overview_loads_no_command():
    script = (
        "import sys\nfrom click.testing import CliRunner\nfrom impose.cli import cli\n"
        "loaded = set(sys.modules)\n"
        "assert 'sheets' in CliRunner().invoke(cli, ['--help']).output\n"
        "print([name for name in sorted(set(sys.modules) - loaded) if name.startswith('impose')])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("width", [50, 80, 200])
def test_the_overview_says_of_each_command_what_click_would(width):
    group, formatter = click.Group(commands=cli.commands), click.HelpFormatter(width=width)
    group.format_commands(click.Context(group), formatter)
    ours = click.HelpFormatter(width=width)
    cli.format_commands(click.Context(cli), ours)
    assert ours.getvalue() == formatter.getvalue()
    assert formatter.getvalue().count("\n") > len(cli.commands)


def test_a_command_ends_without_a_last_look_for_garbage():
    """Python looks through every object it knows before it ends, unless they are set aside."""
    script = (
        "import atexit, gc\n"
        "atexit.register(lambda: print('set aside', gc.get_freeze_count() > len(gc.get_objects())))\n"
        "from impose.cli import main\nmain(['--version'])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "set aside True"


def test_what_is_never_changed_is_no_dataclass():
    """It is a `values.FrozenStruct`: a frozen dataclass is compiled again whenever its module is loaded."""
    frozen = [
        f"{name} {node.name}"
        for name, node in list_nodes(ast.ClassDef)
        if any("dataclass" in ast.unparse(one) and "frozen=True" in ast.unparse(one) for one in node.decorator_list)
    ]
    assert frozen == []


def test_the_top_level_is_as_agreed():
    allowed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    allowed |= {"impose", "profiles", "tests", "examples", "shared"}
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= allowed


@try_each(
    "page",
    [
        "README.md",
        "DEVELOPERS.md",
        "shared/README.md",
        "examples/README.md",
        *(str(p.relative_to(ROOT)) for p in PAGES),
    ],
)
def test_documents_link_to_what_is_there(page):
    text = (ROOT / page).read_text("utf-8")
    for target in re.findall(r"\]\(([^)#\s]+)", text):
        if "://" not in target:
            assert ((ROOT / page).parent / target).exists(), f"{page} links to {target}"


def test_every_document_is_linked_from_the_readme():
    readme = (ROOT / "README.md").read_text("utf-8")
    for page in PAGES:
        assert f"shared/docs/{page.relative_to(DOCS).as_posix()}" in readme


def test_every_option_is_named_in_a_document():
    from impose.cli import cli

    pages = [ROOT / "README.md", ROOT / "examples" / "README.md", *PAGES]
    text = "\n".join(page.read_text("utf-8") for page in pages)
    named = set(re.findall(r"(?<![\w-])--?[a-z][\w-]*", text))
    for command in cli.commands.values():
        for parameter in command.params:
            if parameter.param_type_name == "option":
                assert named & set(parameter.opts), f"write of {command.name} {parameter.opts} in shared/docs"


def test_every_recurring_option_is_heard():
    """`make_options` takes whatever a command hands on, so that it would pass over an option that it does not know."""
    from impose.cli.common_options import list_recurring_names, make_options
    from impose.profiles.settings import BY_OPTION

    taken = {*inspect.signature(make_options).parameters, *BY_OPTION}
    of_the_command = {"as_json", "quiet", "verbose"}
    unheard = set(list_recurring_names()) - taken - of_the_command
    assert not unheard, "take it in make_options, or say by_option of a setting in RULES"


def test_every_command_and_option_has_help():
    from impose.cli import cli

    for command in cli.commands.values():
        assert command.help
        assert not command.get_short_help_str(limit=62).endswith("..."), "cut off in the list of commands"
        for parameter in command.params:
            assert parameter.param_type_name == "argument" or parameter.help


def test_help_has_one_line_an_option_under_a_heading():
    import click

    from impose.cli import cli
    from impose.cli.grouped_help import GROUPS, LINE_WIDTH, GroupedCommand, make_help_line

    for name, command in cli.commands.items():
        assert isinstance(command, GroupedCommand), name
        context = click.Context(command, info_name=name)
        options = [one for one in command.get_params(context) if isinstance(one, click.Option)]
        lines = [make_help_line(one, context) for one in options]
        assert [line for line in lines if len(line) > LINE_WIDTH] == []
        assert all(getattr(one, "group", "Program") in GROUPS for one in options)
        shown = command.get_help(context).splitlines()
        assert all(shown.count(line) == 1 for line in lines)
        assert {line.removesuffix(":") for line in shown if line.endswith(":")} <= set(GROUPS)


def test_class_names_are_unique_in_the_house():
    names = [node.name for _, node in list_nodes(ast.ClassDef)]
    assert not {name for name in names if names.count(name) > 1}


# Methods that a library or Python calls by these names, or that stand in for a library's own.
PROTOCOLS = {
    *("close", "compress", "convert", "crc32", "adler32", "decompress", "flush", "read", "seek", "shutdown", "submit"),
    *("tell", "moveTo", "lineTo", "qCurveTo", "curveTo", "closePath", "main"),
}
# The library door and the nester, as the design names them.
DOOR = {
    *("calibrate", "check", "nest", "plan", "produce", "quote", "reprint", "length", "takes", "fits"),
    *("change", "stop"),
}


def test_functions_are_a_verb_and_its_object():
    named = [
        (path, node.name)
        for path, node in list_nodes(ast.FunctionDef)
        if not node.name.startswith("__") and not {ast.unparse(line) for line in node.decorator_list} & PROPERTIES
    ]
    assert len(named) > 2000
    single = [
        (path, name)
        for path, name in named
        if "_" not in name.strip("_") and name not in PROTOCOLS | DOOR and not path.startswith("cli/")
    ]
    # What is left are functions inside functions, such as the `weigh` of a bound.
    assert len(single) <= 0.02 * len(named), single


PROPERTIES = {"property", "cached_property"}
# A name that begins so says where or how, and not what is done. `to_…` and `from_…` are conversions.
WHERE_AND_HOW = {
    *("at", "as", "by", "beneath", "beside", "beyond", "in", "no", "not", "of", "off", "on", "out", "over", "under"),
    *("up", "why", "with", "within", "without"),
}
# Called so by tornado.
CALLED_BY_LIBRARIES = {"on_finish", "on_connection_close"}


def test_no_function_begins_with_where_or_how():
    for path, node in list_nodes(ast.FunctionDef):
        first = node.name.strip("_").split("_")[0]
        if node.name in CALLED_BY_LIBRARIES or {ast.unparse(line) for line in node.decorator_list} & PROPERTIES:
            continue
        if "_" in node.name.strip("_"):
            assert first not in WHERE_AND_HOW, f"{path}:{node.lineno} {node.name}: begin with a verb"


def test_no_variable_is_called_one():
    for path, node in list_nodes(ast.Name):
        assert node.id != "one", f"{path}:{node.lineno}"
    for path, node in list_nodes(ast.arg):
        assert node.arg != "one", f"{path}:{node.lineno}"


def test_modules_are_of_a_size_to_be_read():
    sizes = {path.relative_to(PACKAGE).as_posix(): len(path.read_text("utf-8").splitlines()) for path in list_modules()}
    for path in (*PACKAGE.glob("native/*.c"), *PACKAGE.glob("native/*.h")):
        sizes[path.relative_to(PACKAGE).as_posix()] = len(path.read_text("utf-8").splitlines())
    assert not {name: size for name, size in sizes.items() if size > 400}
    desk = [name for name in sizes if name.startswith("desk/")]
    assert len(desk) <= 27
    for stage in ("scan", "claim", "batch", "make", "deliver", "recover"):
        assert f"desk/{stage}.py" in desk
