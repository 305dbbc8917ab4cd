"""Published field experiments through the command that a user has: `guardrow analyse PLAN.toml TABLE --json`.

Sources and the software that made the golden values: tests/reference/PROVENANCE.md; each case's own `expected.json`
names book and page. Every completely random, randomised-block, factorial, split-plot, strip-plot and Latin-square case of the
collection is here.
"""

import json

import pytest

from cases import REFERENCE, analyse, blocks, golden, measures, rows_of
from golden import (
    CLASSICAL,
    MIXED,
    check_components,
    check_dunnett,
    check_means,
    check_pairs,
    check_row,
    check_strata,
    check_tests,
    close,
    close_p,
    row,
    table,
)


# Completely random ---------------------------------------------------------------------------------------------------


def test_plant_dry_weight():
    expected = golden("plant-dry-weight")
    analysis = analyse("plant-dry-weight")
    check_strata(analysis, expected["anova"], [("plot", "treatment"), ("plot", "residual")])
    check_means(table(analysis, "treatment"), expected["means"], ["treatment"], CLASSICAL)
    check_pairs(table(analysis, "treatment"), expected["means"], CLASSICAL)
    close(analysis["cv"][0]["percent"], expected["cv_pct"], 1e-8, "CV")


def test_plant_dry_weight_against_its_control():
    analysis = analyse("plant-dry-weight", "plan-with-control.toml")
    check_dunnett(table(analysis)["against_control"][0], golden("plant-dry-weight")["dunnett"])


def test_potato_scab_as_seven_treatments():
    expected = golden("potato-scab-sulphur")
    analysis = analyse("potato-scab-sulphur")
    check_strata(analysis, expected["anova"], [("plot", "treatment"), ("plot", "residual")])
    check_means(table(analysis, "treatment"), expected["means"], ["treatment"], CLASSICAL)
    check_pairs(table(analysis, "treatment"), expected["means"], CLASSICAL)
    close(analysis["grand_mean"], expected["grand_mean"], 1e-8, "grand mean")
    close(analysis["cv"][0]["percent"], expected["cv_pct"], 1e-8, "CV")


def test_potato_scab_as_a_factorial_beside_a_control():
    expected = golden("potato-scab-sulphur")
    analysis = analyse("potato-scab-sulphur", "plan-with-control.toml")
    sources = ["controls and factorial", "season", "sulphur_rate", "season x sulphur_rate"]
    for source, one in zip(sources, expected["partition_of_treatments"], strict=True):
        check_row(row(analysis, "plot", source), one)
    check_row(row(analysis, "plot", "residual"), expected["anova"][1])
    names = {line["treatment"]: f"{line['season']}, {line['sulphur_rate']}" for line in rows_of("potato-scab-sulphur")}
    check_dunnett(table(analysis)["against_control"][0], expected["dunnett"], names.get)


# Tolerances as the golden files say: the lower difficulty 1e-12 (SiRstv 1e-10); SmLs04 and 05 have 7 constant leading
# digits, SmLs07 has 13, which the data themselves lose when they are stored as doubles.
@pytest.mark.parametrize(
    ("name", "tolerance"),
    [("sirstv", 1e-10), ("smls01", 1e-12), ("smls02", 1e-12), ("smls04", 1e-8), ("smls05", 1e-8), ("smls07", 1e-2)],
)
def test_certified_one_way_sets(name, tolerance):
    certified = json.loads((REFERENCE / "nist" / name / "expected.json").read_text())["published"]["certified"]
    analysis = analyse(f"nist/{name}")
    between, within = row(analysis, "plot", "treatment"), row(analysis, "plot", "residual")
    assert (between["df"], within["df"]) == (certified["between_df"], certified["within_df"])
    close(between["ss"], certified["between_ss"], tolerance, "SS between")
    close(within["ss"], certified["within_ss"], tolerance, "SS within")
    close(between["f"], certified["f"], tolerance, "F")
    close(within["ms"] ** 0.5, certified["residual_sd"], tolerance, "residual SD")


# Randomised blocks ---------------------------------------------------------------------------------------------------


def test_rice_seeding_rate():
    expected = golden("rice-seeding-rate")
    analysis = analyse("rice-seeding-rate")
    check_strata(analysis, expected["anova_strata"], blocks("seeding_rate"))
    check_tests(analysis["other_tests"], expected["mixed"]["tests_kenward_roger"], ["seeding_rate"])
    check_components(analysis, expected["mixed"], ["block"])
    # Blocks are a sample here, so the means' own errors are those of the mixed model; differences do not depend on it.
    check_means(table(analysis, "seeding_rate"), expected["means_mixed"], ["rf"], MIXED)
    check_pairs(table(analysis, "seeding_rate"), expected["means"], CLASSICAL)
    assert table(analysis, "seeding_rate")["letters"] is None, "rates have a trend, not letters"


def test_wheat_in_three_blocks_of_fifty():
    expected = golden("wheat-trend-three-columns")
    analysis = analyse("wheat-trend-three-columns")
    block, variety, residual = expected["rcb_anova"]
    close(row(analysis, "block", "residual")["ss"], block["ss"], 1e-8, "SS of blocks")
    check_row(row(analysis, "plot", "variety"), variety)
    check_row(row(analysis, "plot", "residual"), residual)
    means = table(analysis, "variety")
    for key in ("min", "max"):
        close(means["sed"][key], expected["rcb_sed"], 1e-8, "SED")
    cells = {cell["label"]: cell["mean"] for cell in means["cells"]}
    assert len(cells) == len(expected["means"]) == 50
    for one in expected["means"]:
        close(cells[one["variety"]], one["rcb"], 1e-8, one["variety"])


def test_potato_infection_with_nine_plots_lost():
    expected = golden("potato-fertilizer-missing-plots")
    analysis = analyse("potato-fertilizer-missing-plots")
    assert (analysis["lead"], analysis["orthogonal"], analysis["plots_used"]) == ("mixed", False, 71)
    check_tests(analysis["tests"], expected["mixed_blocks_random"]["tests_kenward_roger"], ["treatment"])
    check_components(analysis, expected["mixed_blocks_random"], ["block"])
    check_means(table(analysis, "treatment"), expected["means_blocks_random"], ["treatment"], MIXED)
    check_pairs(table(analysis, "treatment"), expected["means_blocks_random"], MIXED)
    fixed = analysis["fixed_units"]
    assert len(fixed["sequential"]) == len(expected["anova_sequential_blocks_first"])
    for ours, one in zip(fixed["sequential"], expected["anova_sequential_blocks_first"], strict=True):
        check_row(ours, one)
    check_means(fixed["tables"][0], expected["means_blocks_fixed"], ["treatment"], CLASSICAL)
    check_pairs(fixed["tables"][0], expected["means_blocks_fixed"], CLASSICAL)
    assert len(fixed["missing_plots"]) == len(expected["missing_plot_estimates"]) == 9
    for ours, one in zip(fixed["missing_plots"], expected["missing_plot_estimates"], strict=True):
        close(ours["estimate"], one["estimate"], 1e-8, f"{one['block']}, {one['treatment']}")


# Factorials ----------------------------------------------------------------------------------------------------------


def test_potato_infection_as_a_factorial():
    expected = golden("potato-fertilizer-missing-plots")
    fixed = analyse("potato-fertilizer-missing-plots", "plan-factorial.toml")["fixed_units"]
    for ours, one in zip(fixed["sequential"], expected["factorial_sequential"], strict=True):
        check_row(ours, one)
    assert len(fixed["marginal"]) == 7
    for ours, one in zip(fixed["marginal"], expected["factorial_type3"][2:9], strict=True):
        assert ours["source"].replace(" x ", ":") == one["source"]
        close(ours["ss"], one["ss"], 1e-8, one["source"])
        close(ours["f"], one["f"], 1e-8, one["source"])
        close_p(ours["p"], one["p"], 1e-7, one["source"])
    for factor in ("nitrogen", "phosphorus", "potassium"):
        ours = next(table for table in fixed["tables"] if table["term"] == [factor])
        check_means(ours, expected["factorial_main_effect_means"][factor], [factor], CLASSICAL)


def test_turnip_variety_date_density():
    expected = golden("turnip-variety-date-density")
    analysis = analyse("turnip-variety-date-density")
    terms = [
        "variety",
        "sowing_date",
        "density",
        "variety x sowing_date",
        "variety x density",
        "sowing_date x density",
        "variety x sowing_date x density",
    ]
    for source, one in zip([*terms, "residual"], expected["anova"][1:], strict=True):
        check_row(row(analysis, "plot", source), one)
    close(row(analysis, "block", "residual")["ss"], expected["anova"][0]["ss"], 1e-8, "SS of blocks")
    check_tests(analysis["other_tests"], expected["mixed"]["tests_kenward_roger"], terms)
    check_components(analysis, expected["mixed"], ["block"])
    cells = table(analysis, "variety", "sowing_date", "density")
    check_pairs(cells, expected["means_three_way"], CLASSICAL)
    means = {tuple(cell["levels"]): cell["mean"] for cell in cells["cells"]}
    for one in expected["means_three_way"]["means"]:
        # The golden column of the density is called df, for the factor made of it.
        close(means[one["variety"], one["sowing_date"], one["df"]], one["mean"], 1e-8, str(one["variety"]))


def test_sprouts_manure_beside_a_control_four_times_in_each_block():
    expected = golden("sprouts-manure-plus-control")
    analysis = analyse("sprouts-manure-plus-control")
    sources = ["controls and factorial", "material", "amount", "material x amount"]
    for source, one in zip(sources, expected["partition_of_treatments"], strict=True):
        check_row(row(analysis, "plot", source), one)
    check_row(row(analysis, "plot", "residual"), expected["anova"][2])
    close(row(analysis, "block", "residual")["ss"], expected["anova"][0]["ss"], 1e-8, "SS of blocks")
    names = {line["treatment"]: f"{line['material']}, {line['amount']}" for line in rows_of("sprouts-manure-plus-control")}
    names["none"] = "none"
    everything = table(analysis)
    check_dunnett(everything["against_control"][0], expected["dunnett"], names.get)
    check_pairs(everything, expected["means"], CLASSICAL, lambda label: names[label].replace(", ", " / "))
    means = {cell["label"]: cell["mean"] for cell in everything["cells"]}
    for one in expected["means"]["means"]:
        close(means[names[one["treatment"]]], one["mean"], 1e-8, one["treatment"])
    for factor in ("material", "amount"):
        for cell in table(analysis, factor)["cells"]:
            close(cell["mean"], expected["factorial_means_over_treated"][factor][cell["label"]], 1e-8, cell["label"])
    check_components(analysis, expected["mixed"], ["block"])


# Other arrangements: the units are stated in the plan, or told by its kind -------------------------------------------------


def test_pea_npk_confounded():
    """The interaction of all three factors is compared between blocks only, and that is said."""
    expected = golden("pea-npk-confounded")
    analysis = analyse("pea-npk-confounded")
    whole = "nitrogen x phosphate x potash"
    pairs = ["nitrogen x phosphate", "nitrogen x potash", "phosphate x potash"]
    within = [("plot", source) for source in ["nitrogen", "phosphate", "potash", *pairs, "residual"]]
    check_strata(analysis, expected["anova_strata"], [("block", whole), ("block", "residual"), *within])
    confounded = [notice for notice in analysis["notices"] if notice["kind"] == "confounded"]
    assert [(notice["term"], notice["stratum"]) for notice in confounded] == [(whole, "block")]


def test_wheat_rust_latin_square():
    expected = golden("wheat-rust-latin-square")
    analysis = analyse("wheat-rust-latin-square")
    # The golden table has rows and columns as sources of one stratum; here they are strata of their own.
    rows = {source["source"]: source for source in expected["anova"]}
    for ours, source in (("row", "row"), ("column", "column"), ("row x column", "Residuals")):
        check_row(row(analysis, ours, "residual"), {**rows[source], "f": None})
    check_row(row(analysis, "row x column", "dusting"), rows["dusting"])
    check_pairs(table(analysis, "dusting"), expected["means"], CLASSICAL)


# Adjusted for another measure ------------------------------------------------------------------------------------------------


def test_beet_yield_adjusted_for_stand():
    expected = golden("beet-yield-adjusted-for-stand")
    told = measures("beet-yield-adjusted-for-stand", "plan-adjusted.toml")["yield"]
    analysis, report = told["analysis"], told["report"]
    (covariate,) = analysis["covariates"]
    close(covariate["mean"], expected["covariate_mean"], 1e-12, "mean of the covariate")
    close(covariate["slope"]["estimate"], expected["slope"]["estimate"], CLASSICAL["mean"], "slope")
    close(covariate["slope"]["se"], expected["slope"]["se"], CLASSICAL["mean"], "SE of the slope")
    close_p(covariate["p"], expected["slope"]["p"], CLASSICAL["p"], "the slope")
    close(covariate["parallel"]["f"], expected["common_slope_test"]["f"], 1e-8, "F of unlike slopes")
    close_p(covariate["parallel"]["p"], expected["common_slope_test"]["p"], CLASSICAL["p"], "unlike slopes")
    # Differences within blocks are those of the analysis with fixed blocks; the golden means have that analysis' SE.
    check_pairs(table(analysis, "fertilizer"), expected["means_adjusted"], CLASSICAL)
    means = {cell["label"]: cell["mean"] for cell in table(analysis, "fertilizer")["cells"]}
    for cell in expected["means_adjusted"]["means"]:
        close(means[cell["fertilizer"]], cell["mean"], CLASSICAL["mean"], cell["fertilizer"])
    treatments = next(row for row in expected["ancova_covariate_before_treatment"] if row["source"] == "fertilizer")
    close(analysis["tests"][0]["f"], treatments["f"], 1e-8, "F of the treatments given the covariate")
    # Fertilisers changed the stand, and the report must say so.
    assert any(notice["kind"] == "covariate_affected" for notice in analysis["notices"])
    told = " ".join(report["precision"])
    assert "Means are given at beets per plot 286.0 index; slope 0.02380" in told, told
