"""Models of the errors beside the analysis as randomised, through `guardrow analyse PLAN.toml TABLE --json`.

Golden values: dense REML in R 4.2.2, lme4, pbkrtest and nlme, as each `expected.json` and tests/reference/PROVENANCE.md say.
"""

import csv
import json
from pathlib import Path

from golden import close
from program import run_well

REFERENCE = Path(__file__).parents[1] / "reference"


def golden(case):
    return json.loads((REFERENCE / case / "expected.json").read_text())


def analysed(case, plan, data=None):
    folder = REFERENCE / case
    answer = run_well("analyse", folder / plan, data or folder / "data.csv", "--json").json()
    (measure,), (told,) = answer["analyses"], answer["report"]["responses"]
    return measure, told


def model(found, name):
    return next(one for one in found["models"]["models"] if one["name"] == name)["fitted"]


def part(fitted, name):
    return next(one for one in fitted["parts"] if one["name"] == name)


# Source of the data: Gilmour, Cullis & Verbyla (1997), JABES 2:269-293.
def test_models_of_the_ground_of_a_published_field():
    measure, told = analysed("wheat-lattice-spatial", "plan-ground.toml")
    ground, expected = measure["ground"], golden("wheat-lattice-spatial")["computed"]
    for name, path in [
        ("autoregression", "ar1_by_ar1"),
        ("autoregression and independent errors", "ar1_by_ar1_plus_nugget"),
    ]:
        fitted = model(ground, name)
        ranges, passes = part(fitted, "trend")["axes"]
        close(ranges["correlation"], expected[path]["rho_row"], 1e-4, "rho of rows")
        close(passes["correlation"], expected[path]["rho_column"], 1e-4, "rho of columns")
        close(fitted["reml_log_likelihood"], expected[path]["reml_loglik"], 0, "log-likelihood", absolute=1e-6)
    assert ground["models"]["models"][ground["models"]["chosen"]]["name"] == "autoregression and independent errors"
    means = {cell["label"]: cell["mean"] for cell in ground["tables"][0]["cells"]}
    for one in expected["ar1_by_ar1_plus_nugget"]["means"]:
        close(means[one["variety"]], one["mean"], 1e-5, one["variety"])
    # what a reader sees: both means of every variety, and the ground of every plot
    (beside,) = told["beside"]
    assert beside["heading"] == "Models of the ground"
    assert "105.2 below 'as randomised'" in beside["sentences"][0]
    assert [row["cells"][0] for row in beside["tables"][1]["rows"]][:25] == sorted(means)
    shades = [plot for plot in beside["map"]["chart"]["plots"] if plot["value_text"]]
    assert len(shades) == 150, beside["map"]["chart"]["plots"][0]


# Source of the data: Sharma (1988), Statistical and Biometrical Techniques in Plant Breeding.
def test_errors_of_sites_and_years_of_a_published_series():
    measure, told = analysed("varieties-sites-years", "plan-errors.toml")
    found, expected = measure["errors_by_place"], golden("errors-by-environment")
    names = {"one variance": "one", "a variance of each site": "site", "a variance of each year": "year"}
    names |= {"a variance of each site x year": "both"}
    for name, path in names.items():
        fitted = model(found, name)
        close(fitted["reml_log_likelihood"], expected[path]["reml_loglik"], 0, name, absolute=1e-6)
        variances = part(fitted, "residual")["variances"]
        assert len(variances) == len(expected[path]["variances"])
        for one in variances:
            place = "all" if one["group"] is None else one["group"].replace(", ", " ")
            close(one["variance"], expected[path]["variances"][place], 1e-4, place)
    assert found["models"]["chosen"] == 0
    (beside,) = told["beside"]
    assert beside["heading"] == "An error of each place or season"
    assert beside["tables"] == []
    # places are called as the table calls them
    by_site = next(table for table in measure["analysis"]["tables"] if table["label"] == "site")
    assert [cell["label"] for cell in by_site["cells"]] == ["L1", "L2", "L3"]


def test_one_place_has_no_errors_of_places(tmp_path):
    folder = REFERENCE / "varieties-sites-years"
    rows = [row for row in csv.DictReader((folder / "data.csv").open()) if (row["site"], row["year"]) == ("L1", "Y1")]
    table = tmp_path / "one.csv"
    with table.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    plan = (folder / "plan-errors.toml").read_text()
    replicates = len({row["block"] for row in rows})
    before = next(line for line in plan.splitlines() if line.startswith("replicates"))
    (tmp_path / "plan.toml").write_text(plan.replace(before, f"replicates = {replicates}"))
    answer = run_well("analyse", tmp_path / "plan.toml", table, "--json").json()
    assert "errors_by_place" not in answer["analyses"][0]
    (told,) = answer["report"]["responses"]
    assert told["beside"] == []
    assert not [notice for notice in told["notices"] if "place or season" in notice["text"]]
