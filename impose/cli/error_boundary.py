"""The door: what a command's body raises becomes words on stderr and an exit code, here and nowhere else."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from functools import wraps
from typing import Any, TypeVar

import click

from impose.cli.output import make_terminal_safe
from impose.errors import Exit, Finding, Severity, Trouble, describe_system_error

Command = TypeVar("Command", bound=Callable[..., Any])


def run_command_body(body: Command) -> Command:
    """Turn what a command's body raises into words on stderr and an exit code; the only place that does."""

    @wraps(body)
    def command(*args: Any, **kwargs: Any) -> int:
        try:
            return int(body(*args, **kwargs))
        except Trouble as trouble:
            print_findings(trouble.findings)
            return int(trouble.exit)
        except (OSError, MemoryError) as error:
            if kwargs.get("verbose") and not isinstance(error, BrokenPipeError):
                import traceback

                traceback.print_exc()
            return tell_system_fault(error)

    return command  # type: ignore[return-value]


def tell_system_fault(error: OSError | MemoryError) -> int:
    """Say that the system refused something, in words on stderr; the exit code."""
    if isinstance(error, BrokenPipeError):
        # Whoever read our results has gone; a last flush would complain once more.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    else:
        print_findings([_make_system_finding(error)])
    return int(Exit.SYSTEM)


def _make_system_finding(error: OSError | MemoryError) -> Finding:
    if isinstance(error, MemoryError):
        return Finding("not enough memory", "Close other programs, use fewer --workers, or split the batch.")
    return Finding(
        describe_system_error(error),
        "Nothing half-written is left. Check the disk's space and that the folder may be written, then run again.",
    )


def print_findings(findings: Sequence[Finding]) -> None:
    """Findings on stderr, one a line, worst first, each in full."""
    order = list(Severity)
    for finding in sorted(findings, key=lambda found: order.index(found.severity)):
        colour = {"stop": "red", "warn": "yellow"}.get(finding.severity)
        click.echo(f"{click.style(str(finding.severity), fg=colour)}: {make_terminal_safe(str(finding))}", err=True)
