"""What every way of using a batch begins with: profiles in force, rows read, artwork prepared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from impose import files
from impose.art.prepare import Picture
from impose.run.artwork import prepare_artwork
from impose.run.options import Options, Progress
from impose.shop.export import read_column_map
from impose.shop.orders import Batch
from impose.shop.paper import Paper, Printer
from impose.shop.profiles import Profiles, load_profiles


@dataclass(frozen=True, slots=True)
class Job:
    """A batch ready to be nested: `papers` are those on offer, `pictures` the prepared artwork by path."""

    profiles: Profiles
    papers: tuple[Paper, ...]
    printer: Printer
    batch: Batch
    pictures: Mapping[Path, Picture]


def begin(sources: Sequence[Path], options: Options, progress: Progress) -> Job:
    """Load, read and prepare. Raises `Trouble` with everything that is wrong with the batch or its artwork."""
    profiles = load(options)
    papers = tuple(profiles.paper(name) for name in profiles.settings.papers)
    printer = profiles.printer(profiles.settings.printer)
    batch = read(sources, profiles, options)
    pictures, batch = prepare_artwork(batch, profiles.settings, options, progress)
    return Job(profiles, papers, printer, batch, pictures)


def load(options: Options) -> Profiles:
    """The profiles in force: shipped, the shop's own, then environment and options laid over the settings."""
    profiles = load_profiles(files.shipped_profiles(), options.profiles_dir)
    settings = profiles.settings.overlay(options.environment, "environment")
    return replace(profiles, settings=settings.overlay(options.settings, "option"))


def read(sources: Sequence[Path], profiles: Profiles, options: Options) -> Batch:
    """The batch a command names: one CSV file, or PNG files and folders of them."""
    from impose.shop import read as shop

    if len(sources) == 1 and sources[0].suffix.lower() != ".png" and not sources[0].is_dir():
        return shop.read_batch(
            sources[0],
            profiles,
            options.art_root,
            options.bare,
            options.blanks,
            skip_bad=options.skip_bad,
            column_map=None if options.columns is None else read_column_map(options.columns),
        )
    return shop.batch_of_files(sources, profiles, options.art_root, options.blanks)
