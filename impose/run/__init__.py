"""The library door: from a batch to sheets, the whole job in two calls.

`plan` reads, prepares, sizes, nests and draws, and writes nothing; `produce` writes what was planned, reads it back
and delivers the folder whole; `quote` plans on each paper and compares; `check` only says what it finds; `write_guide`
makes a placement guide. All raise `impose.errors.Trouble` with everything that is wrong. The command line wraps these
very functions, so it can do nothing that a program cannot.
"""

from impose.run.check import CheckResult, check
from impose.run.guide import write_guide
from impose.run.options import Options, Progress
from impose.run.plan import Plan, plan
from impose.run.produce import produce
from impose.run.quote import PaperOffer, Quote, quote

__all__ = [
    "CheckResult",
    "Options",
    "PaperOffer",
    "Plan",
    "Progress",
    "Quote",
    "check",
    "plan",
    "produce",
    "quote",
    "write_guide",
]
