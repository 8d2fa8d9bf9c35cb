"""What every way of using a batch begins with: profiles in force, rows read, artwork prepared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from impose import files
from impose.errors import Exit, Finding, Trouble, raise_stops
from impose.file_types import Asked, is_artwork, parse_page_name
from impose.kinds import ACCEPTABLE
from impose.orders.batch import Batch
from impose.profiles.paper import Paper, Printer
from impose.profiles.profiles import Profiles, load_profiles
from impose.remedies import Remedy
from impose.run.options import Options
from impose.run.progress import Progress
from impose.values import FrozenStruct, replace

if TYPE_CHECKING:
    from impose.art.prepare import PreparedPicture
    from impose.run.output_profile_choice import ChosenProfile

if TYPE_CHECKING:
    from impose.orders.column_map import ColumnMap


class LoadedBatch(FrozenStruct):
    """A batch ready to be nested: `papers` are those on offer, `pictures` the prepared artwork by what is asked.

    `chosen` is the output profile they were prepared for, None where colours go through untouched.
    """

    profiles: Profiles
    papers: tuple[Paper, ...]
    printer: Printer
    batch: Batch
    pictures: Mapping[Asked, PreparedPicture]
    chosen: ChosenProfile | None = None


def load_job(sources: Sequence[Path] | Batch, options: Options, progress: Progress, rows: bool = True) -> LoadedBatch:
    """Load, read and prepare; a batch that was read already is taken as it is.

    Without `rows` artwork is only examined, and its pictures cannot be printed.

    Raises `Trouble` with everything that is wrong with the batch or its artwork.
    """
    # Profiles alone are asked for far more often than a whole batch.
    from impose.run.artwork import prepare_artwork
    from impose.run.output_profile_choice import choose_output_profile
    from impose.sheet.sizing import check_cloth_scales

    profiles = load_profiles_in_force(options)
    raise_stops(list(check_cloth_scales(profiles)))
    papers = profiles.offered_papers
    printer = profiles.find_printer(profiles.settings.printer)
    batch = sources if isinstance(sources, Batch) else read_sources(sources, profiles, options)
    chosen = choose_output_profile(profiles, printer)
    output = None if chosen is None else chosen.output
    pictures, batch = prepare_artwork(batch, profiles, options, progress, output, rows)
    if chosen is not None:
        batch = replace(batch, findings=(*batch.findings, *chosen.findings))
    return LoadedBatch(profiles, papers, printer, batch, pictures, chosen)


def load_profiles_in_force(options: Options) -> Profiles:
    """The profiles in force: shipped, the shop's own, then environment, batch and options laid over."""
    profiles = load_profiles(files.find_shipped_profiles(), options.profiles_dir)
    settings = profiles.settings.lay_over(options.environment, "environment")
    settings = settings.lay_over(options.batch_settings, "batch.toml")
    return replace(profiles, settings=settings.lay_over(options.settings, "option"))


def read_sources(sources: Sequence[Path], profiles: Profiles, options: Options) -> Batch:
    """The batch a command names: one CSV file, or artwork and folders of it."""
    for path in (*sources, *([options.art_root] if options.art_root else [])):
        files.refuse_nameless(path)
    sources = [_find_orders_in(path) for path in sources] if len(sources) == 1 else sources
    # Each way of reading is loaded by itself: rows of a table take three times as much code as pictures alone.
    if len(sources) == 1 and not _is_art(sources[0]):
        from impose.orders.batch_reader import read_batch

        return read_batch(
            sources[0],
            profiles,
            options.art_root,
            options.bare,
            options.blanks,
            skip_bad=options.skip_bad,
            kinds=ACCEPTABLE,
            column_map=_read_columns(options.columns),
        )
    if options.columns is not None:
        what = "a column map is given, but no batch file whose columns it could explain"
        raise Trouble(Finding(what, Remedy("leave-columns-out"), exit=Exit.USAGE))
    from impose.orders.loose_files import read_loose

    return read_loose(sources, profiles, options.art_root, options.blanks)


def _read_columns(path: Path | None) -> ColumnMap | None:
    if path is None:
        return None
    from impose.orders.column_map import read_column_map  # few batches have one

    return read_column_map(path)


def _is_art(path: Path) -> bool:
    """Whether a source is artwork or a folder of it, and no batch file."""
    named = parse_page_name(path.name)
    return path.is_dir() or is_artwork(path.name) or (named is not None and is_artwork(named[0]))


ORDERS = "orders.csv"


def _find_orders_in(path: Path) -> Path:
    """The batch file of that name in a folder, which then stands for it; else the path itself."""
    inside = path / ORDERS
    return inside if path.is_dir() and inside.is_file() else path
