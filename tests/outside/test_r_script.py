"""The way out: the script for R that Guardrow writes, run by R itself on the published trials.

R (aov, lme4, pbkrtest, emmeans, mvtnorm) is the other program here: each script fits the trial anew from `plots.csv` and stops
with an error when one number of Guardrow differs. What must be compared is counted here, so that a script that compares
nothing cannot pass.
"""

import csv
import io
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest

from program import run, run_well
from trial import BY, CODE

REFERENCE = Path(__file__).parents[1] / "reference"
RSCRIPT = shutil.which("Rscript")
PATIENCE_S = 600
REFUSED = 5


def plan(factors, arrangement, measure, table="", controls=()):
    """A plan file for a published trial whose folder has none."""
    lines = ['format = "guardrow plan 1"', "[trial]", 'code = "R-1"', 'title = "As published"', "season = 1990"]
    for name, levels in factors.items():
        labels = ", ".join(f"{{ label = {level!r} }}" for level in levels)
        lines += ["[[treatments.factors]]", f"name = '{name}'", f"levels = [{labels}]"]
    for control in controls:
        lines += ["[[treatments.controls]]", f"label = {control!r}"]
    lines += ["[arrangement]", arrangement, "[[measures]]", f'key = "{measure}"', 'name = "Measure"', 'unit = "index"']
    return "\n".join([*lines, 'event = "as published"', table, ""])


def levels_of(case, column):
    with open(REFERENCE / case / "data.csv", newline="") as file:
        return sorted({row[column] for row in csv.DictReader(file)})


def compared(folder):
    """Runs the script of a folder by R and gives what it printed of each number: (part, term) -> numbers."""
    assert RSCRIPT, "Rscript is not there; tests/run installs it"
    done = subprocess.run(
        [RSCRIPT, str(folder / "reproduce.R")], capture_output=True, text=True, timeout=PATIENCE_S, cwd="/"
    )
    assert done.returncode == 0, done.stderr
    with open(folder / "expected.csv", newline="", encoding="utf-8") as file:
        expected = list(csv.DictReader(file))
    known = [row for row in expected if row["value"]]
    total = re.search(r"(\d+) numbers compared, .* all agree", done.stdout)
    assert total and int(total.group(1)) == len(known) > 0, done.stdout[-500:]
    lines = re.findall(r"^  .* \| .* \| .* \| .*$", done.stdout, re.MULTILINE)
    assert len(lines) == len(expected), "every number is printed beside its own"
    found = {}
    for row in known:
        found.setdefault(row["part"], {}).setdefault(row["of"], []).append((row["item"], row["number"]))
    return found


def script(tmp_path, plan_file, table):
    folder = tmp_path / "script"
    run_well("analyse", plan_file, table, "--r-script", folder)
    assert sorted(file.name for file in folder.iterdir()) == ["README.txt", "expected.csv", "plots.csv", "reproduce.R"]
    return folder


STRATA = {"analysis of variance", "tests by strata", "means", "differences"}
MIXED = {"variances by REML", "tests by Kenward-Roger", "predicted effects"}
SAME_BY_BOTH = {"means by emmeans"}

# Case, plan, and the parts that have to be compared.
CASES = [
    ("plant-dry-weight", "plan", STRATA),
    ("plant-dry-weight", "plan-with-control", STRATA | {"against a control"}),
    ("potato-scab-sulphur", "plan-with-control", {"tests by strata", "means", "differences", "against a control"}),
    ("rice-seeding-rate", "plan", STRATA | MIXED | SAME_BY_BOTH | {"trends", "lack of fit"}),
    ("turnip-variety-date-density", "plan", STRATA | MIXED),
    ("oats-variety-nitrogen-split-plot", "plan", STRATA | MIXED | SAME_BY_BOTH | {"trends", "lack of fit"}),
    ("split-plot-48", "plan", STRATA | MIXED),
    ("pea-npk-confounded", "plan", STRATA | MIXED),
    ("wheat-rust-latin-square", "plan", STRATA | MIXED),
    ("rice-variety-nitrogen-strip-plot", "plan", STRATA | MIXED),
    ("rice-nitrogen-management-variety-split-split", "plan", STRATA | MIXED),
    ("rice-tillers-subsamples", "plan-hills", STRATA | MIXED),
    ("sprouts-manure-plus-control", "plan", {"tests by strata", "means", "against a control"} | MIXED),
    ("wheat-trend-three-columns", "plan", STRATA | MIXED),
    ("beet-yield-adjusted-for-stand", "plan-adjusted", {"tests by strata", "means", "differences", "slopes"}),
    ("potato-fertilizer-missing-plots", "plan", {"means", "differences", "units as fixed effects"} | MIXED),
    ("potato-fertilizer-missing-plots", "plan-factorial", {"means", "differences", "units as fixed effects"} | MIXED),
]


@pytest.mark.parametrize(("case", "plan_name", "parts"), CASES, ids=lambda it: it if isinstance(it, str) else "")
def test_published_trials_are_reproduced(tmp_path, case, plan_name, parts):
    folder = REFERENCE / case
    found = compared(script(tmp_path, folder / f"{plan_name}.toml", folder / "data.csv"))
    assert parts <= set(found), sorted(parts - set(found))
    for part in parts:
        assert all(found[part].values()), part


STATED = [
    (
        "alpha design, varieties fixed",
        "oats-alpha-design",
        ["variety"],
        'kind = "incomplete_blocks"\nreplicates = 3\nblock_size = 4',
        '[table]\nreplicate = "replicate"\nunits = { "block" = "incomplete_block" }',
        MIXED | {"means", "differences"},
    ),
    (
        "alpha design, varieties a sample",
        "oats-alpha-design",
        ["variety"],
        'kind = "stated"\nreplicates = 3\nunits = "replicate / incomplete_block / plot"\nrandom_factors = ["variety"]',
        "",
        {"variances by REML", "predicted effects"},
    ),
    (
        "these places and years",
        "varieties-sites-years",
        ["variety"],
        'kind = "stated"\nreplicates = 18\nunits = "(site x year) / block / plot"\nenvironments = ["site", "year"]',
        "",
        STRATA | MIXED,
    ),
    (
        "places and years like these",
        "varieties-sites-years",
        ["variety"],
        'kind = "stated"\nreplicates = 18\nunits = "(site x year) / block / plot"\nenvironments = ["site", "year"]\n'
        'scope = "environments_like_these"',
        "",
        {"means", "differences"} | MIXED,
    ),
    (
        "a split-plot at three places",
        "rice-split-plot-three-sites",
        ["nitrogen", "variety"],
        'kind = "stated"\nreplicates = 9\nunits = "site / block / main plot / plot"\nenvironments = ["site"]\n'
        'randomised_to = { nitrogen = "main plot" }',
        '[table]\nunits = { "main plot" = "nitrogen" }',
        STRATA | MIXED,
    ),
]


@pytest.mark.parametrize(("case", "factors", "arrangement", "table", "parts"), [it[1:] for it in STATED], ids=[it[0] for it in STATED])
def test_arrangements_stated_for_a_published_table(tmp_path, case, factors, arrangement, table, parts):
    data = REFERENCE / case / "data.csv"
    with open(data, newline="") as file:
        measure = csv.DictReader(file).fieldnames[-1]
    plan_file = tmp_path / "plan.toml"
    plan_file.write_text(plan({name: levels_of(case, name) for name in factors}, arrangement, measure, table))
    found = compared(script(tmp_path, plan_file, data))
    assert parts <= set(found), sorted(parts - set(found))


# Names and levels that would be code, numbers or other words in R, if they were not written safely.
HOSTILE = ['a"); stop("out") #', "NA", "TRUE", "01", "1e2", "`rm`", "back\\slash", "Rübe 🌱", "%d %s", "c(1, 2)"]


def hostile_table(levels, name):
    rows = [["replicate", name, "seed_yield"]]
    for block in range(4):
        for index, level in enumerate(levels):
            value = 20 + 1.5 * index + 0.7 * block + ((index * 7 + block * 5) % 11) / 3
            # Three plots are lost, so that every part of the script is met.
            rows.append([block + 1, level, "" if (block, index) in {(0, 1), (2, 4), (3, 9)} else value])
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()


def test_names_that_look_like_code_stay_names(tmp_path):
    name = 'if "x" ~ 0 + y'
    quoted = [level.replace("\\", "\\\\").replace('"', '\\"') for level in HOSTILE]
    labels = ", ".join(f'{{ label = "{level}" }}' for level in quoted)
    text = f"""format = "guardrow plan 1"
[trial]
code = "R-2"
title = 'quit("no") # "title"'
season = 2026
[[treatments.factors]]
name = '{name}'
levels = [{labels}]
[arrangement]
kind = "randomised_blocks"
replicates = 4
[[measures]]
key = "seed_yield"
name = 'Yield"); quit()'
unit = "index"
event = "harvest"
"""
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    (tmp_path / "table.csv").write_text(hostile_table(HOSTILE, name), encoding="utf-8")
    folder = script(tmp_path, tmp_path / "plan.toml", tmp_path / "table.csv")
    found = compared(folder)
    assert {item for item, number in found["means"][name] if number == "SE"} == set(HOSTILE)
    code = [line for line in (folder / "reproduce.R").read_text().splitlines() if not line.lstrip().startswith("#")]
    assert not any(line.lstrip().startswith(("stop(\"out", "quit", "system")) for line in code)


def test_a_number_that_differs_is_not_passed_over(tmp_path):
    """The comparison can fail: one changed value, one row too few, and one value that R cannot find are each told."""
    case = REFERENCE / "rice-seeding-rate"
    folder = script(tmp_path, case / "plan.toml", case / "data.csv")
    rows = list(csv.reader(open(folder / "expected.csv", newline="")))
    index = next(i for i, row in enumerate(rows) if row[1] == "means" and row[4] == "SE")

    def run_with(changed):
        with open(folder / "expected.csv", "w", newline="") as file:
            csv.writer(file).writerows(changed)
        done = subprocess.run([RSCRIPT, str(folder / "reproduce.R")], capture_output=True, text=True, timeout=PATIENCE_S)
        assert done.returncode != 0, done.stdout[-500:]
        return done.stderr

    nudged = [*rows[:index], [*rows[index][:5], str(float(rows[index][5]) * 1.0001)], *rows[index + 1 :]]
    assert "1 of" in run_with(nudged)
    assert "numbers and this script" in run_with([*rows[:index], *rows[index + 1 :]])
    added = [*rows, ["grain_yield", "means", "something else", "", "SE", "1"]]
    assert "were not compared" in run_with(added)


def test_a_folder_in_use_is_left_alone(tmp_path):
    case = REFERENCE / "rice-seeding-rate"
    folder = script(tmp_path, case / "plan.toml", case / "data.csv")
    before = {file.name: file.read_bytes() for file in folder.iterdir()}
    refused = run("analyse", case / "plan.toml", case / "data.csv", "--r-script", folder)
    assert refused.code == REFUSED and "holds files already" in refused.err
    run_well("analyse", case / "plan.toml", case / "data.csv", "--r-script", folder, "--replace")
    assert {file.name: file.read_bytes() for file in folder.iterdir()} == before, "the same trial gives the same bytes"
    (folder / "notes.txt").write_text("mine")
    refused = run("analyse", case / "plan.toml", case / "data.csv", "--r-script", folder, "--replace")
    assert refused.code == REFUSED and "notes.txt" in refused.err
    assert [it.name for it in tmp_path.iterdir()] == ["script"], "nothing half-written stays beside it"


def test_the_invented_station_packs_its_scripts(demo, tmp_path):
    """Through a station: several measures of a trial that was drawn, sown and harvested there."""
    station = tmp_path / "station"
    shutil.copytree(demo, station)
    codes = [one["code"] for one in run_well("trials", station, "--json").json()["trials"]]
    made = 0
    for code in codes:
        answer = run("document", station, code, "r-script", "--by", BY)
        if answer.code == REFUSED:
            assert "no analysis to write a script for" in answer.err or "layout" in answer.err, answer.err
            continue
        assert answer.code == 0, answer.err
        folder = tmp_path / f"out-{made}"
        with zipfile.ZipFile(answer.out.strip()) as archive:
            archive.extractall(folder)
        found = compared(folder)
        assert {"means", "differences"} <= set(found)
        made += 1
    assert made > 0, codes


def test_a_trial_without_values_has_no_script(station):
    folder, _ = station
    refused = run("document", folder, CODE, "r-script", "--by", BY)
    assert refused.code == REFUSED and "there is no analysis to write a script for" in refused.err
