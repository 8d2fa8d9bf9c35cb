"""A plan as the page shows it: sheets with what lies on them, rows with what became of them, costs, findings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any

from impose.errors import Finding, Severity, count_noun
from impose.page.finding_values import FindingWriter, RowNames
from impose.profiles.profiles import Profiles
from impose.run.finding_mends import Mend
from impose.run.paper_amounts import format_paper_amount
from impose.run.plan import Plan
from impose.units import format_length

LEFT_OUT, IN_PART, PLANNED = "left out", "in part", "planned"


class PlanWriter:
    """Writes one plan; `base` is the address of what belongs to it. `limits` is the paper left, by its full name."""

    def __init__(
        self,
        plan: Plan,
        rows: RowNames,
        base: str,
        limits: Mapping[str, int],
        offers: Callable[[Finding], list[Mend]] = lambda finding: [],
    ) -> None:
        self.plan, self.rows, self.base, self.limits = plan, rows, base, limits
        self.findings = FindingWriter(plan, rows, base, offers)
        self.units = plan.profiles.settings.units
        self.of_row: dict[str, list[str]] = {}

    def write_all(self) -> dict[str, Any]:
        """All of it, but for its numbers."""
        findings = self.findings.write_all(self.plan.findings)
        of_row = self.of_row = {}
        for finding in findings:
            for name in finding["rows"]:
                of_row.setdefault(name, []).append(finding["id"])
        stopped = {name for finding in findings if finding["severity"] == Severity.STOP for name in finding["rows"]}
        sheets = [self._describe_sheet(sheet, of_row) for sheet in self.plan.record["sheets"]]
        return {
            "sheets": sheets,
            "rows": self._describe_rows(sheets, of_row, stopped),
            "cost": self._describe_cost(),
            "tips": [],
            "findings": findings,
            "can_make": self._can_make(findings),
        }

    def _describe_sheet(self, sheet: Mapping[str, Any], of_row: Mapping[str, list[str]]) -> dict[str, Any]:
        return {
            **{key: sheet[key] for key in ("sheet", "width_mm", "height_mm", "yield", "cost")},
            "paper": alias_of(self.plan.profiles, sheet["paper"]),
            "title": title_of_paper(self.plan.profiles, sheet["paper"]),
            "svg": f"{self.base}/sheets/{sheet['sheet']}.svg",
            "transfers": [self._describe_transfer(transfer, of_row) for transfer in sheet["transfers"]],
        }

    def _describe_transfer(self, entry: Mapping[str, Any], of_row: Mapping[str, list[str]]) -> dict[str, Any]:
        name = self.rows.find_name(entry["row"])
        ink = entry["ink_mm"]
        width, height = (ink["h"], ink["w"]) if entry["turned"] else (ink["w"], ink["h"])
        return {
            **{key: entry[key] for key in ("id", "order", "wearer", "copy", "copies", "turned", "ppi", "cost")},
            "row": name,
            "placement": entry["placement"],
            "place": title_of_place(self.plan.profiles, entry["placement"]),
            "garment": entry["garment"],
            "ink_mm": ink,
            "cell_mm": entry["cell_mm"],
            "size": self._describe_size(width, height),
            "findings": of_row.get(name or "", []),
        }

    def _describe_size(self, width: float, height: float) -> str:
        return f"{format_length(width, self.units)} × {format_length(height, self.units)}"

    def _describe_rows(
        self, sheets: Sequence[Mapping[str, Any]], of_row: Mapping[str, list[str]], stopped: Collection[str]
    ) -> dict[str, Any]:
        """What became of every row of the orders; in part where a print of its kit is left out."""
        found: dict[str, dict[str, Any]] = {
            name: {"state": LEFT_OUT, "sheets": [], "transfers": [], "size": "", "findings": of_row.get(name, [])}
            for name in self.rows.by_line.values()
        }
        for sheet in sheets:
            for transfer in sheet["transfers"]:
                row = found.get(transfer["row"])
                if row is None:
                    continue
                row["state"] = IN_PART if transfer["row"] in stopped else PLANNED
                row["transfers"].append(transfer["id"])
                if sheet["sheet"] not in row["sheets"]:
                    row["sheets"].append(sheet["sheet"])
                row["size"] = row["size"] or transfer["size"]
        return found

    def _describe_cost(self) -> dict[str, Any]:
        record, profiles = self.plan.record, self.plan.profiles
        papers = [self._describe_paper(entry) for entry in record["paper"]]
        told = " and ".join(f"{_count_sheets(paper['sheets'])} of {paper['title']}" for paper in papers) or "No sheets"
        fewest = record["fewest"]
        proven = bool(fewest["proven"])
        best = "No fewer are possible." if proven else "Fewer may be possible."
        says = f"{told}, {record['cost']} {record['currency']} of paper. {best}" if papers else "Nothing to print yet."
        return {
            "paper": record["cost"],
            "currency": profiles.settings.currency,
            "papers": papers,
            "proven": proven,
            "says": says,
        }

    def _describe_paper(self, entry: Mapping[str, Any]) -> dict[str, Any]:
        name = entry["name"]
        left = self.limits.get(name)
        return {
            "paper": alias_of(self.plan.profiles, name),
            "title": title_of_paper(self.plan.profiles, name),
            "sheets": entry["sheets"],
            "cost": entry["cost"],
            "left": None if left is None else format_paper_amount(left, name, self.units),
        }

    def _can_make(self, findings: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
        """Whether this can be made as it is, and what is left out."""
        if not self.plan.layout.sheets:
            return {"ok": False, "what": "There is nothing to make yet.", "remedy": "", "left_out": 0}
        wrong = Counter(
            name for finding in findings if finding["severity"] == str(Severity.STOP) for name in finding["rows"]
        )
        whole = [finding for finding in findings if finding["severity"] == str(Severity.STOP) and not finding["rows"]]
        if whole:
            return {"ok": False, "what": whole[0]["what"], "remedy": whole[0]["remedy"], "left_out": len(wrong)}
        if wrong:
            count = len(wrong)
            what = f"{count} row{' is' if count == 1 else 's are'} left out, because something must be mended."
            return {"ok": True, "what": what, "remedy": "Mend it, or make the rest.", "left_out": count}
        return {"ok": True, "what": "", "remedy": "", "left_out": 0}


def _count_sheets(count: int) -> str:
    return count_noun(count, "sheet")


def alias_of(profiles: Profiles, name: str) -> str:
    """A paper's everyday name."""
    return next((paper.alias for paper in profiles.papers.values() if paper.name == name), name)


def title_of_paper(profiles: Profiles, name: str) -> str:
    """A paper's everyday name as a heading."""
    return next((paper.title for paper in profiles.papers.values() if paper.name == name), name)


def title_of_place(profiles: Profiles, name: str | None) -> str:
    """A placement's name as a heading; empty where a row names none."""
    if not name:
        return ""
    placement = profiles.placements.get(name)
    title = placement.title if placement else name.replace("-", " ")
    return f"{title[:1].upper()}{title[1:]}"
