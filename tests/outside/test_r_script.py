"""The way out: the script for R that Guardrow writes, run by R itself on the published trials.

R (aov, lme4, pbkrtest, emmeans, mvtnorm) is the other program here: each script fits the trial anew from `plots.csv` and stops
with an error when one number of Guardrow differs. What must be compared is counted here, so that a script that compares
nothing cannot pass.
"""

import csv
import io
import itertools
import os
import random
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


def compared(folder, locale="C.UTF-8"):
    """Runs the script of a folder by R and gives what it printed of each number: (part, term) -> numbers."""
    assert RSCRIPT, "Rscript is not there; tests/run installs it"
    done = subprocess.run(
        [RSCRIPT, str(folder / "reproduce.R")],
        capture_output=True,
        encoding="utf-8",
        timeout=PATIENCE_S,
        cwd="/",
        env={**os.environ, "LC_ALL": locale},
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
    ("rice-seeding-rate", "plan", STRATA | MIXED | SAME_BY_BOTH | {"trends", "lack of fit", "curves", "lack of fit of curves"}),
    ("turnip-variety-date-density", "plan", STRATA | MIXED),
    ("oats-variety-nitrogen-split-plot", "plan", STRATA | MIXED | SAME_BY_BOTH | {"trends", "lack of fit", "curves", "best amounts"}),
    ("split-plot-48", "plan", STRATA | MIXED),
    ("pea-npk-confounded", "plan", STRATA | MIXED),
    ("wheat-rust-latin-square", "plan", STRATA | MIXED),
    ("rice-variety-nitrogen-strip-plot", "plan", STRATA | MIXED),
    ("rice-nitrogen-management-variety-split-split", "plan", STRATA | MIXED),
    ("rice-tillers-subsamples", "plan-hills", STRATA | MIXED),
    ("sprouts-manure-plus-control", "plan", {"tests by strata", "means", "against a control"} | MIXED),
    ("wheat-trend-three-columns", "plan", STRATA | MIXED),
    ("beet-yield-adjusted-for-stand", "plan-adjusted", {"tests by strata", "means", "differences", "slopes"}),
    ("wireworm-latin-square", "plan-counted", STRATA | {"transformed back"}),
    ("seed-germination-temperature", "plan-counted", STRATA | {"transformed back"}),
    ("beet-webworm-counts", "plan-counted", STRATA | MIXED),
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


# Invented trials, for what no published one has. ----------------------------------------------------------------------


def invented(units, treatments, columns=1):
    """Rows of units, treatment and values, with an effect of every unit and treatment; the same each time."""
    chance = random.Random(2026)
    effects = {}

    def effect(*key):
        return effects.setdefault(key, chance.gauss(0, 3))

    rows = []
    for unit in units:
        for treatment in treatments:
            size = sum(effect(*unit[: depth + 1]) for depth in range(len(unit))) + effect(*treatment)
            values = [round(50 + size + effect(unit[0], *treatment) + chance.gauss(0, 2), 2)]
            values += [round(30 + chance.gauss(0, 2), 2) for _ in range(columns - 1)]
            rows.append([*unit, *treatment, *values])
    return rows


def without(rows, gone):
    """The rows with the last value of some left out."""
    return [[*row[:-1], ""] if gone(row) else row for row in rows]


VARIETIES, RATES, CHECKS = ["A", "B", "C"], ["low", "mid", "high"], ["check", "untreated"]
BLOCKS = [[block] for block in range(1, 5)]
SITES = [[site, block] for site in range(1, 5) for block in range(1, 4)]
YEARS = [[site, year, block] for site in range(1, 4) for year in range(1, 3) for block in range(1, 4)]
PAIRS = [[variety, rate] for variety in VARIETIES for rate in RATES]
BESIDE = [[variety] for variety in VARIETIES] + [[check] for check in CHECKS]
SPLIT = 'kind = "split_plot"\nreplicates = 4\nmain_plot_factors = ["variety"]'
TWO = {"variety": VARIETIES, "rate": RATES}
STATED_AT = 'kind = "stated"\nreplicates = 12\nunits = "{}"\nenvironments = [{}]\nscope = "{}"'


def at(units, places, scope):
    return STATED_AT.format(units, ", ".join(f'"{place}"' for place in places), scope)


THESE, LIKE_THESE = "these_environments", "environments_like_these"
ADJUSTED = '[[measures]]\nkey = "stand"\nname = "Stand"\nunit = "index"\nevent = "counted"\n[[adjustments]]\nmeasure = "y"\nby = ["stand"]'
INVENTED = {
    "a lost main plot": (
        plan(TWO, SPLIT, "y"),
        ["block", "variety", "rate", "y"],
        without(invented(BLOCKS, PAIRS), lambda row: row[:2] == [2, "C"]),
        {"means", "differences"} | MIXED,
    ),
    "a combination without values": (
        plan(TWO, SPLIT, "y"),
        ["block", "variety", "rate", "y"],
        without(invented(BLOCKS, PAIRS), lambda row: row[1:3] == ["B", "mid"]),
        {"means", "differences"} | MIXED,
    ),
    "a covariate in a split-plot": (
        plan(TWO, SPLIT, "y", ADJUSTED),
        ["block", "variety", "rate", "y", "stand"],
        without(invented(BLOCKS, PAIRS, columns=2), lambda row: row[:3] == [1, "A", "low"]),
        {"means", "differences", "slopes"} | MIXED,
    ),
    "unequal replication": (
        plan(TWO, 'kind = "completely_random"\nreplicates = 4', "y"),
        ["variety", "rate", "y"],
        [row[1:] for row in without(invented(BLOCKS, PAIRS), lambda row: row[:2] in ([1, "A"], [2, "A"]) or row[0:3] == [3, "B", "mid"])],
        {"tests by strata", "means", "differences"},
    ),
    "rows and columns in squares": (
        plan({"variety": VARIETIES}, 'kind = "stated"\nreplicates = 12\nunits = "square / (row x column)"', "y"),
        ["square", "row", "column", "variety", "y"],
        [
            [square, row, column, VARIETIES[(square + row + column) % 3], value[-1]]
            for (square, row, column), value in zip(
                itertools.product(range(1, 5), range(1, 4), range(1, 4)), invented(BLOCKS, PAIRS), strict=True
            )
        ],
        STRATA | MIXED,
    ),
    "controls at these places": (
        plan({"variety": VARIETIES}, at("site / block / plot", ["site"], THESE), "y", controls=CHECKS),
        ["site", "block", "treatment", "y"],
        invented(SITES, BESIDE),
        STRATA | MIXED | {"against a control"},
    ),
    "controls at places like these, plots lost": (
        plan({"variety": VARIETIES}, at("site / block / plot", ["site"], LIKE_THESE), "y", controls=CHECKS),
        ["site", "block", "treatment", "y"],
        without(invented(SITES, BESIDE), lambda row: row[:3] in ([1, 2, "A"], [3, 1, "check"])),
        {"means", "differences"} | MIXED,
    ),
    "years within these sites": (
        plan(TWO, at("site / year / block / plot", ["site", "year"], THESE), "y"),
        ["site", "year", "block", "variety", "rate", "y"],
        invented(YEARS, PAIRS),
        {"analysis of variance", "tests by strata", "means"} | MIXED,
    ),
    "years within sites like these": (
        plan(TWO, at("site / year / block / plot", ["site", "year"], LIKE_THESE), "y"),
        ["site", "year", "block", "variety", "rate", "y"],
        invented(YEARS, PAIRS),
        {"means"} | MIXED,
    ),
    "entries a sample, beside controls": (
        plan(
            {"entry": [f"E{number}" for number in range(1, 13)]},
            at("site / block / plot", ["site"], LIKE_THESE) + '\nrandom_factors = ["entry"]',
            "y",
            controls=CHECKS,
        ),
        ["site", "block", "treatment", "y"],
        invented(SITES, [[f"E{number}"] for number in range(1, 13)] + [[check] for check in CHECKS]),
        {"variances by REML", "predicted effects"},
    ),
}


# Amounts with what they cost, a response that bends, and plots lost, so that the mixed model leads.
RATES_PLAN = """format = "guardrow plan 1"
[trial]
code = "R-3"
title = "Rates that pay"
season = 2031
crop = "oat"
currency = "EUR"
[[treatments.factors]]
name = "cover"
levels = [{{ label = "A" }}, {{ label = "B" }}]
[[treatments.factors]]
name = "rate"
scale = {{ kind = "quantitative", unit = "kg/ha" }}
levels = [{levels}]
[arrangement]
kind = "split_plot"
replicates = 4
main_plot_factors = ["cover"]
[[measures]]
key = "grain"
name = "Grain"
unit = "kg/ha"
event = "harvest"
transformed = {{ by = "logarithm", added = 10.0 }}
[money]
measure = "grain"
price = "0.20 EUR/kg"
costs = [{{ factor = "rate", amount = 10.0, cost = "14 EUR/ha" }}]
"""
BENT = {"logistic", "exponential", "quadratic-plateau", "linear-plateau", "quadratic"}


@pytest.mark.parametrize("lost", [set(), {(1, "A", 40), (3, "B", 0)}], ids=["whole", "plots lost"])
def test_amounts_that_pay_are_reproduced(tmp_path, lost):
    chance = random.Random(8)
    amounts = [0, 20, 40, 60, 80, 110, 140]
    levels = ", ".join(f'{{ label = "{amount}", amount = {amount}.0 }}' for amount in amounts)
    (tmp_path / "plan.toml").write_text(RATES_PLAN.format(levels=levels))
    with open(tmp_path / "table.csv", "w", newline="") as file:
        out = csv.writer(file)
        out.writerow(["block", "cover", "rate", "grain"])
        for block, cover in itertools.product(range(1, 5), "AB"):
            strip = chance.gauss(0, 150)
            for amount in amounts:
                rise = 2000 * (1 - 2.718281828 ** (-amount / (35 if cover == "A" else 60)))
                value = round(3000 + 100 * block + strip + rise + chance.gauss(0, 250), 1)
                out.writerow([block, cover, amount, "" if (block, cover, amount) in lost else value])
    found = compared(script(tmp_path, tmp_path / "plan.toml", tmp_path / "table.csv"))
    assert {"transformed back", "curves", "best amounts"} <= set(found)
    returns = [of for of in found["best amounts"] if of.endswith("highest return")]
    assert any("cover" in of for of in returns) and any("cover" not in of for of in returns)
    assert any(form in of for of in found["curves"] for form in BENT), found["curves"]


@pytest.mark.parametrize("name", INVENTED)
def test_invented_trials_are_reproduced(tmp_path, name):
    text, header, rows, parts = INVENTED[name]
    (tmp_path / "plan.toml").write_text(text)
    with open(tmp_path / "table.csv", "w", newline="") as file:
        csv.writer(file).writerows([header, *rows])
    found = compared(script(tmp_path, tmp_path / "plan.toml", tmp_path / "table.csv"))
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


@pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
def test_names_that_look_like_code_stay_names(tmp_path, locale):
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
    found = compared(folder, locale)
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
