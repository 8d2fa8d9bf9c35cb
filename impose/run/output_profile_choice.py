"""The output profile a batch is printed with: which one is asked for, read from its file and proven once."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Any

from impose.art.output_profile import OutputProfile, check_output_profile, describe_colour_engine
from impose.errors import Exit, Finding, Trouble
from impose.profiles.paper import Printer
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.values import FrozenStruct

NONE = "none"
"""As a profile's name: leave colours as they are, whatever the printer says."""

PROFILE_LIMIT = 64 << 20
"""Bytes of the largest profile file read. Press profiles are 1 to 4 MB (common practice, no source)."""


class ChosenProfile(FrozenStruct):
    """An output profile under the name of its file, and what is worth knowing of it."""

    name: str
    output: OutputProfile
    findings: tuple[Finding, ...] = ()

    def record_values(self) -> dict[str, Any]:
        """For the record: what was printed with, wherever the file lies."""
        return {
            "profile": self.name,
            "sha256": self.output.sha256,
            "intent": self.output.intent,
            "black_point": self.output.black_point and self.output.intent == "relative",
            "engine": describe_colour_engine(),
        }


def choose_output_profile(profiles: Profiles, printer: Printer) -> ChosenProfile | None:
    """The output profile in force, or None where colours go through untouched.

    That of the settings (option and variable included), else the printer's own. A file is looked for beside the
    profile file that names it, or from the working folder if an option or a variable does. Raises `Trouble`.
    """
    settings = profiles.settings
    named, origin = settings.output_profile, settings.origins.get("output_profile", "")
    if not named:
        named = printer.output_profile
        origin = profiles.origins.get(f"printers.{printer.name}.output_profile", "")
    if named in ("", NONE):
        _check_intent_needed(profiles)
        return None
    path = Path(named) if origin in BY_HAND else Path(origin).parent / named
    intent: Any = settings.intent
    if printer.intent and settings.origins.get("intent") not in BY_HAND:
        intent = printer.intent
    output = OutputProfile(_read_content(path), intent, settings.black_point)
    return ChosenProfile(path.name, output, tuple(check_output_profile(output, path.name)))


BY_HAND = ("option", "environment")
"""Where a setting comes from that somebody gave for this run."""


def _check_intent_needed(profiles: Profiles) -> None:
    """An intent given by hand without a profile is a misunderstanding, and silence would leave it one."""
    if profiles.settings.origins.get("intent") == "option":
        what = "an intent is given but no output profile, so no colours are turned"
        raise Trouble(Finding(what, Remedy("add-output-profile"), exit=Exit.USAGE))


def _read_content(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            content = file.read(PROFILE_LIMIT + 1)
    except (OSError, ValueError) as error:
        what = f"the output profile cannot be read: {getattr(error, 'strerror', None) or error}"
        remedy = "Give the path of the printer's ICC profile (.icc or .icm)."
        # A name that leads to no file is a slip of whoever gave it; the rest is the system's.
        slip = getattr(error, "errno", None) in (None, errno.ENOENT, errno.EISDIR, errno.ENOTDIR, errno.ENAMETOOLONG)
        code = Exit.USAGE if slip else Exit.SYSTEM
        raise Trouble(Finding(what, remedy, kind="output-profile", file=str(path), exit=code)) from None
    if len(content) > PROFILE_LIMIT:
        what = f"the output profile is larger than {PROFILE_LIMIT >> 20} MiB, so it is none"
        raise Trouble(Finding(what, "Check the file.", kind="output-profile", file=str(path), exit=Exit.USAGE))
    return content
