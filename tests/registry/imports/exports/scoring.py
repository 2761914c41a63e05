"""What an import makes of the ten registers, held against what a careful reader makes of them."""

import json
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from registry.imports.answers import Answers
from registry.imports.check import Checked
from registry.imports.judge import Fate, checked_chunks, judge
from registry.imports.legend import with_legend
from registry.imports.parsed import ParsedRow
from registry.imports.questions import questions
from registry.imports.said import with_said
from registry.imports.survey import Survey, survey_table
from registry.imports.table import open_table

HERE = Path(__file__).parent
CLOSE_M = 0.01  # truth.jsonl is rounded
TODAY = date(2026, 6, 1)
OURS = {"galvanized": "galvanized_steel", "stainless": "stainless_steel", "wet": "wet",
        "Riser": "riser"}  # fmt: skip
DN = {"3/4": 20, "1": 25, "1-1/4": 32, "1-1/2": 40, "2": 50, "2-1/2": 65, "3": 80, "4": 100,
      "5": 125, "6": 150, "8": 200}  # fmt: skip
SIZES = {"1.25": "1-1/4", "1.5": "1-1/2", "2.5": "2-1/2"}


def truth() -> dict[str, list[dict]]:
    found: dict[str, list[dict]] = defaultdict(list)
    for line in (HERE / "truth.jsonl").read_text(encoding="utf-8").splitlines():
        told = json.loads(line)
        found[told.pop("file")].append(told)
    return dict(found)


@dataclass
class Score:
    good: int = 0
    loaded: int = 0
    wrong: list[str] = field(default_factory=list)  # rows that load and should not, or otherwise
    lost: dict[str, int] = field(default_factory=dict)  # what keeps good rows out
    asked: list[tuple[str, int]] = field(default_factory=list)
    questions: list = field(default_factory=list)

    @property
    def share(self) -> float:
        return self.loaded / self.good


def score(name: str, lines: list[dict], answers: Answers) -> Score:
    """Without a book: the verdicts alone."""
    found = Score(good=sum(line["good"] for line in lines))
    expected = {(line["sheet"], line["row"]): line for line in lines}
    with open_table(HERE / name, answers) as table:
        answers, _ = with_legend(answers, table.book, table.layout)
        answers, _ = with_said(answers, table.layout, table.mapping)
        survey = survey_table(table, answers=answers, today=TODAY)
        many = len(table.layout.parts) > 1
        only = table.layout.parts[0].sheet.name
        for chunk in checked_chunks(survey):
            for verdict in judge(chunk, survey, {}):
                where = (verdict.row.sheet if many else only, verdict.row.number)
                line = expected.get(where)
                if verdict.fate == Fate.NEW:
                    wrong = differences(line, verdict.parsed)
                    found.wrong += [f"{where}: {one}" for one in wrong]
                    found.loaded += not wrong
                elif line and line["good"]:
                    for problem in verdict.problems:
                        key = f"{problem.field} “{problem.typed}”: {problem.wrong}"
                        found.lost[key] = found.lost.get(key, 0) + 1
        found.questions = [q for q in questions(survey) if q.rows]
        found.asked = [(q.name, q.rows) for q in found.questions]
    return found


def differences(line: dict | None, parsed: ParsedRow | None) -> list[str]:
    if line is None or parsed is None:
        return ["a row that is no pipe"]
    if not line["good"]:
        return [f"a row that nobody should load: {line['why']}"]
    run = parsed.run
    pairs = {
        "system": (parsed.tag, line["system"]),
        "kind": (parsed.kind, line["kind"]),
        "length": (abs(run.length_m - line["length_m"]) < CLOSE_M, True),
        "size": (DN[run.nominal_size], _dn(line)),
    }
    for place in ("site", "building"):
        if place in line:
            pairs[place] = (getattr(parsed, place), line[place])
    if "material" in line:
        pairs["material"] = (run.material, OURS.get(line["material"], line["material"]))
    if "schedule" in line:
        pairs["schedule"] = (run.schedule, line["schedule"])
    if "wall_mm" in line:
        pairs["wall"] = (run.wall_mm, line["wall_mm"])
    installed = line["installed"]
    pairs["installed"] = (run.installed_on.isoformat()[: len(installed)], installed)
    return [f"{name} {is_!r}, not {ought!r}" for name, (is_, ought) in pairs.items()
            if is_ != ought]  # fmt: skip


def _dn(line: dict) -> int:
    if "dn" in line:
        return line["dn"]
    typed = line["nps"].replace(" ", "-")
    return DN[SIZES.get(typed, typed)]


__all__ = ["Checked", "Score", "Survey", "differences", "score", "truth"]
