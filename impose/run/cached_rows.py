"""The deflated rows of a picture left in the cache: read when they are written, never held.

Two hundred pictures are a gigabyte of rows. A plan needs their sizes and facts only, so that whoever holds a plan for
long holds pictures of this kind.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from impose.art.cache import PictureCache
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Exit, Finding, Trouble
from impose.formats.prepare_file import prepare_file
from impose.values import FrozenStruct


class CachedRows(FrozenStruct):
    """Stands for `Picture.data`: `bytes()` of it reads the cache, `len()` is known without.

    What the cache has let go in the meantime is prepared again from `path`, if the artwork there is still the same.
    `made_by` is the converter that is part of the key in the cache.
    """

    path: Path
    sha256: str
    recipe: PreparationOptions
    folder: Path
    size: int
    made_by: str = ""

    def __len__(self) -> int:
        return self.size

    def __bytes__(self) -> bytes:
        """The rows. Raises `Trouble` if the cache has lost them and the artwork is gone or another one by now."""
        cache = PictureCache(self.folder)
        found = cache.get_picture(self.sha256, self.recipe, self.made_by)
        if found is None:
            found = self._prepare_again()
            if self.folder.is_dir():
                cache.keep_picture(found, self.recipe, self.made_by)
        return bytes(found.data)

    def _prepare_again(self) -> PreparedPicture:
        try:
            content = self.path.read_bytes()
        except OSError as error:
            what = f"the artwork cannot be read any more: {error.strerror or error}"
            remedy = "Put it back, or plan again."
            raise Trouble(Finding(what, remedy, kind="art-missing", file=str(self.path), exit=Exit.SYSTEM)) from error
        if hashlib.sha256(content).hexdigest() != self.sha256:
            what = "the artwork has changed since it was planned"
            raise Trouble(Finding(what, "Plan again.", kind="art-changed", file=str(self.path)))
        return prepare_file(content, self.recipe, self.path.name, self.sha256)
