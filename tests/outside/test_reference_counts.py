"""Published counts, shares and scores through `guardrow analyse PLAN.toml TABLE --json`, as what they are and transformed.

Sources: `expected.json` of each case and tests/reference/PROVENANCE.md.
"""

import csv
from collections import defaultdict

from golden import CLASSICAL, check_pairs, check_row, check_strata, close, row, table
from program import run_well
from test_reference_data import REFERENCE, blocks, golden, rows_of


def measured(case, measure, plan="plan-counted.toml", data=None):
    """One measure of a case with all its analyses."""
    folder = REFERENCE / case
    answer = run_well("analyse", folder / plan, data or folder / "data.csv", "--json").json()
    found = {it["measure"]: it for it in answer["analyses"]}[measure]
    assert found.get("why_not") is None
    return found


# Transformed ---------------------------------------------------------------------------------------------------------


def test_wireworms_as_roots():
    analysis = measured("wireworm-latin-square", "wireworms")["transformed"]["analysis"]
    expected = golden("wireworm-latin-square")["sqrt_y_plus_1"]
    rows = {source["source"]: source for source in expected["anova"]}
    for ours, source in (("row", "row"), ("column", "column"), ("row x column", "Residuals")):
        check_row(row(analysis, ours, "residual"), {**rows[source], "f": None})
    check_row(row(analysis, "row x column", "fumigant"), rows["fumigant"])
    check_pairs(table(analysis, "fumigant"), expected["means"], CLASSICAL)


def test_roots_of_wireworms_back_in_worms():
    transformed = measured("wireworm-latin-square", "wireworms")["transformed"]
    cells = {cell["label"]: cell for cell in transformed["back"][0]["cells"]}
    for expected in golden("wireworm-latin-square")["sqrt_y_plus_1"]["means"]["means"]:
        close(cells[expected["fumigant"]]["mean"], expected["mean"] ** 2 - 1, 1e-8, expected["fumigant"])


def test_germination_as_angles():
    analysis = measured("seed-germination-temperature", "germinated")["transformed"]["analysis"]
    sources = ["temperature_regime", "concentration", "temperature_regime x concentration", "residual"]
    expected = golden("seed-germination-temperature")["arcsine_anova"]
    check_strata(analysis, expected, [("plot", source) for source in sources])


def test_webworms_of_plots_as_logarithms(tmp_path):
    case = "beet-webworm-counts"
    plots = defaultdict(int)
    for line in rows_of(case):
        plots[line["block"], line["contact_spray"], line["lead_arsenate"]] += int(line["webworms"])
    data = tmp_path / "plots.csv"
    with open(data, "w", newline="") as file:
        header = ["block", "contact_spray", "lead_arsenate", "larvae"]
        csv.writer(file).writerows([header, *([*plot, total] for plot, total in plots.items())])
    analysis = measured(case, "larvae", plan="plan.toml", data=data)["transformed"]["analysis"]
    block, *treatments = golden(case)["plot_totals_log_anova"]
    ours = blocks("contact_spray", "lead_arsenate", "contact_spray x lead_arsenate")[1:]
    close(row(analysis, "block", "residual")["ss"], block["ss"], 1e-8, "SS of blocks")
    for (stratum, source), expected in zip(ours, treatments, strict=True):
        check_row(row(analysis, stratum, source), expected)
