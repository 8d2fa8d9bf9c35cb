"""Finding an artwork below its root, and nowhere else: no absolute name, no `..`, no link that leads out."""

from __future__ import annotations

import errno
import os
import re
import stat
import unicodedata
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.file_types import ENDINGS, parse_page_name
from impose.orders.findings_log import RemedySource
from impose.profiles.word_styles import FONT_FILES
from impose.remedies import Remedy

_MOST_NAMES = 20_000
"""Names of a folder that are looked through for a near miss."""
_MOST_FOLDERS = 16
"""Folders whose names are remembered."""


class ArtError(ValueError):
    """An artwork that cannot be taken: `what` is wrong, the `remedy`, the finding's `kind` and exit code."""

    def __init__(self, what: str, remedy: RemedySource, kind: str = "art-path", code: Exit = Exit.REFUSED) -> None:
        self.what, self.help, self.kind, self.code = what, remedy, kind, code
        super().__init__(what)

    @property
    def remedy(self) -> str:
        """The remedy in words, which may take a search."""
        return self.help if isinstance(self.help, str) else self.help()


def check_art_folder(root: Path) -> Path:
    """The folder itself; raises `Trouble` (wrong use) if it is none."""
    try:
        if root.is_dir():
            return root
    except ValueError:  # a NUL in the name
        pass
    what = "the folder of the artwork does not exist or is no folder"
    raise Trouble(Finding(what, Remedy("check-art-folder"), kind="art-path", file=str(root), exit=Exit.USAGE))


class ArtRoot:
    """The folder that artwork is named from. Answers are remembered, since many rows name the same file."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._real = Path(os.path.realpath(root))
        self._answers: dict[str, Path | ArtError] = {}
        self._listed: dict[Path, tuple[list[str], dict[str, list[str]]]] = {}

    def find_art(self, text: str) -> Path:
        """The file that `text` names. Raises `ArtError`."""
        if text not in self._answers:
            try:
                self._answers[text] = self._walk_steps(_split_path(text))
            except ArtError as error:
                self._answers[text] = error
        answer = self._answers[text]
        if isinstance(answer, ArtError):
            raise answer.with_traceback(None)  # else each row that names it would add to what the error holds
        return answer

    def find_page(self, text: str) -> tuple[Path, int | None]:
        """The file that `text` names, and the page where it names one (`poster.pdf#2`). Raises `ArtError`.

        A file of exactly that name wins.
        """
        try:
            return self.find_art(text), None
        except ArtError as error:
            named = parse_page_name(text)
            if named is None or error.kind != "art-missing":
                raise
            return self.find_art(named[0]), named[1]

    def _walk_steps(self, parts: list[str]) -> Path:
        """Step by step from the root, looking at each step before taking it."""
        here = self.root
        mode = 0
        for part in parts:
            below, here = here, here / part
            try:
                mode = here.lstat().st_mode
                if stat.S_ISLNK(mode):
                    self._check_inside(here)
                    mode = here.stat().st_mode
            except (FileNotFoundError, NotADirectoryError):
                if here.is_symlink():
                    raise ArtError("a link to a file that is not there", "Copy the file here.") from None
                here = self._same_letters(below, part)
                mode = here.stat().st_mode
            except (OSError, UnicodeError) as error:
                if getattr(error, "errno", None) == errno.ENAMETOOLONG:
                    raise ArtError("a name longer than any file's", "Check the spelling.", kind="art-missing") from None
                why = getattr(error, "strerror", None) or str(error)
                raise ArtError(f"could not be looked at: {why}", "Check its rights.", code=Exit.SYSTEM) from None
        if stat.S_ISDIR(mode):
            raise ArtError("a folder, not a file", "Name a file in it.")
        if not stat.S_ISREG(mode):
            raise ArtError("not a plain file", "Name a file.")
        return here

    def _same_letters(self, folder: Path, name: str) -> Path:
        """The entry that is spelled the same but composed otherwise; else the near misses are named.

        An é may be one character or two, as file systems and packers please. The two look alike, so that no
        message could help the person.
        """
        names, composed = self._list_names(folder)
        same = composed.get(unicodedata.normalize("NFC", name), [])
        if len(same) == 1 and not (folder / same[0]).is_symlink():
            return folder / same[0]
        raise ArtError("there is no such file", lambda: _name_near_misses(name, names), kind="art-missing")

    def _list_names(self, folder: Path) -> tuple[list[str], dict[str, list[str]]]:
        """The names in a folder, and by their composed form: listed once for all rows that miss."""
        if folder not in self._listed:
            try:
                with os.scandir(folder) as entries:
                    names = sorted(entry.name for entry, _ in zip(entries, range(_MOST_NAMES), strict=False))
            except (OSError, ValueError):
                names = []
            composed: dict[str, list[str]] = {}
            for name in names:
                composed.setdefault(unicodedata.normalize("NFC", name), []).append(name)
            if len(self._listed) >= _MOST_FOLDERS:
                self._listed.clear()
            self._listed[folder] = names, composed
        return self._listed[folder]

    def _check_inside(self, link: Path) -> None:
        """A link may be followed only if it ends below the root."""
        target = Path(os.path.realpath(link))
        if not target.is_relative_to(self._real):
            raise ArtError("a link that leads out of the folder", "Copy the file into the folder.")


def _split_path(text: str) -> list[str]:
    """The steps of a relative path; anything that could lead elsewhere is refused by its look alone."""
    inside = Remedy("name-in-art-folder")
    if re.match(r"[A-Za-z][A-Za-z0-9+.-]+://", text):
        raise ArtError("an address, not a file", "Save the file beside the CSV and name it.")
    if re.match(r"[A-Za-z]:", text):
        raise ArtError("a name with a drive letter", inside)
    if "\\" in text:
        raise ArtError("a name with backslashes", f"Write it with slashes: {text.replace(chr(92), '/')}")
    if text.startswith("/"):
        raise ArtError("an absolute name", inside)
    if any(unicodedata.category(c) in ("Cc", "Cs") for c in text):  # Cs: a byte of a file's name that is no text
        raise ArtError("a name with control characters", "Type the name again.")
    parts = [part for part in text.split("/") if part not in ("", ".")]
    if ".." in parts:
        raise ArtError("a name that leads upwards (..)", inside)
    if not parts:
        raise ArtError("names no file", "Name a file.")
    return parts


def _name_near_misses(name: str, names: list[str]) -> str:
    """Among files that could be meant. Endings are not compared: they are alike, and would make strangers look near."""
    from difflib import get_close_matches  # loaded late: most batches have nothing that is nearly a word

    ending = Path(name).suffix.casefold()
    kin = {ending, *(FONT_FILES if ending in FONT_FILES else (*ENDINGS, ""))}
    names = [n for n in names if Path(n).suffix.casefold() in kin]
    by_stem = {n.casefold().rpartition(".")[0] or n.casefold(): n for n in reversed(names)}
    folded = name.casefold()
    close = [by_stem[n] for n in get_close_matches(folded.rpartition(".")[0] or folded, sorted(by_stem), 3, 0.7)]
    close = [n for n in names if n.casefold() == folded] or close
    if close:
        return f"Did you mean {' or '.join(f'“{n}”' for n in close)}?"
    return Remedy("find-artwork")
