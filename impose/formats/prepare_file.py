"""Any artwork prepared: what is no PNG is turned into one first, and the strict reader decides from there."""

from __future__ import annotations

import hashlib
from functools import cache

from impose.art.prepare import PreparationOptions, PreparedPicture, prepare_picture
from impose.errors import Trouble
from impose.file_types import HEIC, PDF, PNG, SVG, FileType, identify_file
from impose.formats.conversion import Converted
from impose.formats.resolution import FIRST_SIDE
from impose.source_files import hash_code
from impose.values import replace

_AT_SIGHT = (FIRST_SIDE / 400 * 25.4, FIRST_SIDE / 400 * 25.4)
"""Millimetres that a drawing is looked at in where nobody says how large it is printed."""


def prepare_file(
    content: bytes, recipe: PreparationOptions | None = None, name: str = "", sha256: str | None = None
) -> PreparedPicture:
    """Prepare a file of any format that is taken, as `impose.art.prepare.prepare_picture` does a PNG; raises `Trouble`.

    The picture carries the hash of the file as it came.
    """
    recipe = recipe or PreparationOptions()
    sha256 = sha256 or hashlib.sha256(content).hexdigest()
    kind = identify_file(content)
    if kind is PNG or not kind.taken:
        return prepare_picture(content, recipe, name, sha256)
    made = convert_file(content, kind, recipe, name)
    try:
        picture = prepare_picture(made.png, recipe, name, sha256, made.image, made.jpeg, made.pixels)
    except Trouble as trouble:
        raise Trouble((*trouble.findings, *made.findings)) from None
    return replace(picture, findings=(*made.findings, *picture.findings))


def convert_file(content: bytes, kind: FileType, recipe: PreparationOptions, name: str) -> Converted:
    """The PNG that a file becomes."""
    # Each converter is loaded when it is needed: together they bring XML, subprocesses and more.
    limit = recipe.pixel_limit
    if kind is SVG:
        from impose.formats.svg import convert_svg

        return convert_svg(content, name, recipe.drawn_mm or _AT_SIGHT, recipe.tint, recipe.keep_specks, limit)
    if kind is PDF:
        from impose.formats.pdf import convert_pdf

        size = recipe.drawn_mm or _AT_SIGHT
        return convert_pdf(content, name, recipe.page, size, recipe.tint, recipe.keep_specks, limit)
    from impose.formats.raster import convert_raster

    return convert_raster(content, kind, name, limit)


def describe_converter(content: bytes) -> str:
    """What turns a file into a PNG, with its version, for the key under which the result is kept; "" for a PNG."""
    kind = identify_file(content)
    if kind is PNG:
        return ""
    library = {SVG: "resvg-py", PDF: "pymupdf", HEIC: "pillow-heif"}.get(kind, "pillow")
    return f"{kind.name} {library} {_read_version(library)} {_hash_sources()}"


@cache
def _read_version(library: str) -> str:
    from importlib.metadata import PackageNotFoundError, version  # loads the reading of mail, for headers of packages

    try:
        return version(library)
    except PackageNotFoundError:
        return "none"


@cache
def _hash_sources() -> str:
    """This room's own source, so that no edit meets an old entry."""
    from pathlib import Path

    return hash_code(Path(__file__).parent)
