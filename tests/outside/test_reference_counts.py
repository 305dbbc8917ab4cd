"""Published counts, shares and scores through `guardrow analyse PLAN.toml TABLE --json`, as what they are and transformed.

Sources: `expected.json` of each case and tests/reference/PROVENANCE.md.
"""

import json
import math
from collections import defaultdict

from cases import REFERENCE, blocks, golden, measures, restated, rows_of, written
from golden import CLASSICAL, MIXED, check_pairs, check_row, check_strata, close, close_p, row, table


def measured(case, key, plan="plan-counted.toml", data=None):
    """One measure of a case with all its analyses."""
    found = measures(case, plan, data)[key]
    assert found.get("why_not") is None
    return found


# As counts and shares ------------------------------------------------------------------------------------------------

# By what a mean on the link's scale is turned into the unit of the table, and its slope there.
LOG = (math.exp, math.exp)
LOGIT = (lambda eta: 100 / (1 + math.exp(-eta)), lambda eta: 25 / math.cosh(eta / 2) ** 2)


def check_discrete(ours, expected, units, back):
    """Variances, tests, means and differences against glmmTMB by its restricted likelihood.

    - `units`: our name of each golden standard deviation; all others end at zero
    - `back`: from the link's scale to the unit of the table, and the slope there
    """
    close(ours["log_likelihood"], expected["log_likelihood"], 0.0, "log-likelihood", 1e-6)
    sds = {component["name"]: component["sd"] for component in ours["components"]}
    for name, golden_name in units.items():
        close(sds.pop(name), expected["sd"][golden_name], 1e-4, f"standard deviation of {name}")
    assert all(sd == 0.0 for sd in sds.values()), sds
    assert len(ours["tests"]) == len(ours["on_link"]) == len(ours["tables"]) == len(expected["tables"])
    for of_term in expected["tables"]:
        term = of_term["term"]
        test = next(test for test in ours["tests"] if test["term"] == term)
        assert (test["num_df"], test["den_df"]) == (of_term["test"]["num_df"], of_term["test"]["den_df"]), term
        close(test["f"], of_term["test"]["f"], 1e-4, f"F of {term}")
        close_p(test["p"], of_term["test"]["p"], 1e-3, term)
        on_link = next(table for table in ours["on_link"] if table["term"] == term)
        in_unit = table(ours, *term)
        for found, golden_table in ((on_link, of_term["link"]), (in_unit, of_term["back"])):
            assert len(found["cells"]) == len(golden_table["means"])
            cells = {" / ".join(cell["levels"]): cell for cell in found["cells"]}
            for mean in golden_table["means"]:
                close(cells[mean["label"]]["mean"], mean["mean"], 1e-5, mean["label"], 1e-5)
                close(cells[mean["label"]]["se"], mean["se"], 1e-5, f"SE of {mean['label']}")
        check_pairs(on_link, of_term["link"], MIXED)
        # in the unit people read, p and letters are those of the link's scale
        of_link = {(it["a"], it["b"]): it for it in of_term["link"]["pairs"]}
        pairs = [
            {**it, **{p: of_link[it["a"], it["b"]][p] for p in ("p_raw", "p_tukey")}} for it in of_term["back"]["pairs"]
        ]
        check_pairs(in_unit, {**of_term["back"], "pairs": pairs}, MIXED)
        if len(term) == len(expected["tables"][0]["term"]):
            check_turned_back(on_link, in_unit, *back)


def check_turned_back(on_link, in_unit, turn, slope):
    """Means, errors (delta method) and ends of intervals of single treatments are those of the link's scale, turned back."""
    for linear, natural in zip(on_link["cells"], in_unit["cells"], strict=True):
        close(natural["se"], slope(linear["mean"]) * linear["se"], 1e-9, natural["label"])
        for key in ("mean", "lower", "upper"):
            close(natural[key], turn(linear[key]), 1e-9, f"{key} of {natural['label']}")


def restricted(name):
    return json.loads((REFERENCE / "generalised-restricted" / "expected.json").read_text())[name]


def test_wireworms_as_counts():
    ours = measured("wireworm-latin-square", "wireworms")["discrete"]
    units = {"row": "row", "row x column": "plot"}
    check_discrete(ours, restricted("wireworms"), units, LOG)


def test_germination_as_shares():
    ours = measured("seed-germination-temperature", "germinated")["discrete"]
    check_discrete(ours, restricted("germination"), {"plot": "plot"}, LOGIT)


def test_webworms_as_counts():
    ours = measured("beet-webworm-counts", "webworms")["discrete"]
    units = {"block": "block", "plot": "plot", "unit area": "area"}
    check_discrete(ours, restricted("webworms_poisson"), units, LOG)


def test_webworms_as_negative_binomial_counts(tmp_path):
    case = "beet-webworm-counts"
    spread = ('{ kind = "counted" }', '{ kind = "counted", spread = "negative_binomial" }')
    ours = measured(case, "webworms", restated(case, tmp_path, spread, plan="plan-counted.toml"))["discrete"]
    expected = restricted("webworms")
    check_discrete(ours, expected, {"block": "block", "plot": "plot"}, LOG)
    close(ours["fit"]["fit"]["negative_binomial"]["theta"], expected["theta"], 1e-4, "theta")


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
    header = ["block", "contact_spray", "lead_arsenate", "larvae"]
    data = written(tmp_path / "plots.csv", [[*plot, total] for plot, total in plots.items()], header)
    analysis = measured(case, "larvae", "plan.toml", data)["transformed"]["analysis"]
    block, *treatments = golden(case)["plot_totals_log_anova"]
    ours = blocks("contact_spray", "lead_arsenate", "contact_spray x lead_arsenate")[1:]
    close(row(analysis, "block", "residual")["ss"], block["ss"], 1e-8, "SS of blocks")
    for (stratum, source), expected in zip(ours, treatments, strict=True):
        check_row(row(analysis, stratum, source), expected)
