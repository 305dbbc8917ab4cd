"""The published trials in tests/reference, and their way through the command that a user has."""

import csv
import json
from pathlib import Path

import ledger
from program import run_well

REFERENCE = Path(__file__).parents[1] / "reference"


def golden(case):
    """The golden values of a case."""
    ledger.begin(case)
    return ledger.Golden(json.loads((REFERENCE / case / "expected.json").read_text())["computed"], case)


def run_case(case, plan="plan.toml", data=None):
    """All that `guardrow analyse PLAN.toml TABLE --json` says of a case."""
    ledger.begin(case)
    folder = REFERENCE / case
    return run_well("analyse", folder / plan, data or folder / "data.csv", "--json").json()


def measures(case, plan="plan.toml", data=None):
    """Everything that `guardrow analyse PLAN.toml TABLE --json` says of a case's measures, by key; `report` is what people read."""
    answer = run_case(case, plan, data)
    for measure, told in zip(answer["analyses"], answer["report"]["responses"], strict=True):
        assert told["key"] == measure["measure"]
        measure["report"] = told
    return {measure["measure"]: measure for measure in answer["analyses"]}


def measure(case, plan="plan.toml", data=None):
    """The one measure of a case."""
    (only,) = measures(case, plan, data).values()
    assert only.get("why_not") is None
    return only


def analyse(case, plan="plan.toml", data=None):
    """The one analysis of a case, in full precision."""
    return measure(case, plan, data)["analysis"]


def rows_of(case):
    with open(REFERENCE / case / "data.csv", newline="") as file:
        return list(csv.DictReader(file))


def written(path, rows, header=None):
    """A table of rows (dictionaries, or lists under a header)."""
    with open(path, "w", newline="") as file:
        if header is None:
            table = csv.DictWriter(file, rows[0].keys())
            table.writeheader()
            table.writerows(rows)
        else:
            csv.writer(file).writerows([header, *rows])
    return path


def only(case, path, **values):
    """The rows of a case's table that have these values, as a table of their own."""
    rows = [row for row in rows_of(case) if all(row[key] == value for key, value in values.items())]
    return written(path, rows)


def blocks(*sources):
    return [("block", "residual"), *(("plot", source) for source in sources), ("plot", "residual")]


def restated(case, folder, *changes, plan="plan.toml", limit=-1):
    """A plan of a case with parts of its text replaced (everywhere, or the first `limit` times), as a path."""
    text = (REFERENCE / case / plan).read_text()
    for old, new in changes:
        assert old in text, f"{plan} of {case} has no {old}"
        text = text.replace(old, new, limit)
    path = folder / "restated.toml"
    path.write_text(text)
    return path
