"""Published split-plots, split-split-plots and strip-plots through the command that a user has.

Sources and the software that made the golden values: tests/reference/PROVENANCE.md and each case's own `expected.json`.
"""

import json
import math

import pytest

import ledger
from cases import REFERENCE, analyse, golden, measure, only
from golden import (
    MIXED,
    check_components,
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
from golden_further import check_coefficients, check_cv, check_mixed, check_trend, with_sound_f


def split_plot(main, sub):
    return [
        ("block", "residual"),
        ("main plot", main),
        ("main plot", "residual"),
        ("plot", sub),
        ("plot", f"{main} x {sub}"),
        ("plot", "residual"),
    ]


def test_oats_variety_nitrogen():
    expected = golden("oats-variety-nitrogen-split-plot")
    told = measure("oats-variety-nitrogen-split-plot")
    analysis = told["analysis"]
    check_strata(analysis, expected["anova_strata"], split_plot("variety", "nitrogen"))
    for stratum, name in (("block", "block"), ("main plot", "whole_plot"), ("plot", "sub_plot")):
        close(row(analysis, stratum, "residual")["ms"], expected["stratum_ms"][name], 1e-8, f"MS of {stratum}")
    cv = expected["cv_pct"]
    check_cv(analysis, {"main plot": cv["whole_plot_per_subplot_basis"], "plot": cv["sub_plot"]})
    terms = ["variety", "nitrogen", "variety x nitrogen"]
    check_mixed(told, expected["mixed"], terms, ["block", "block:variety"])
    # nlme's log-likelihood of the same model, by other code.
    nlme = expected["mixed_nlme"]["reml_loglik"]
    close(analysis["mixed"]["reml_log_likelihood"], nlme, 0.0, "log-likelihood by nlme", 1e-6)
    for term, keys, name in [
        (["variety"], ["variety"], "whole_plot_means"),
        (["nitrogen"], ["nf"], "sub_plot_means"),
        (["variety", "nitrogen"], ["variety", "nf"], "cell_means"),
    ]:
        check_means(table(analysis, *term), expected[name], keys, MIXED)
        check_pairs(table(analysis, *term), expected[name], MIXED)
    cells = table(analysis, "variety", "nitrogen")
    check_coefficients(cells["cells"], cells["pairs"], expected["mixed"]["fixed_effects"], ["variety", "nf"], MIXED)
    means = {tuple(cell["levels"]): cell for cell in cells["cells"]}
    for one in expected["cell_means_satterthwaite_df"]:
        cell = means[one["variety"], one["nf"]]
        close(cell["mean"], one["emmean"], MIXED["mean"], "mean")
        close(cell["se"], one["SE"], MIXED["mean"], "SE")
        close(cell["df"], one["df"], MIXED["df"], "df")


def test_kinds_of_difference_in_a_split_plot():
    """In closed form, so at the classical tolerance."""
    expected = golden("oats-variety-nitrogen-split-plot")
    analysis = analyse("oats-variety-nitrogen-split-plot")
    kinds = expected["sed_kinds"]
    close(table(analysis, "variety")["sed"]["max"], kinds["variety_means"], 1e-8, "varieties")
    close(table(analysis, "nitrogen")["sed"]["max"], kinds["nitrogen_means"], 1e-8, "rates")
    cells = {(pair["a"], pair["b"]): pair for pair in table(analysis, "variety", "nitrogen")["pairs"]}
    rates, varieties = cells[0, 1], cells[0, 4]
    close(rates["se"], kinds["nitrogen_within_variety"], 1e-8, "rates of one variety")
    close(varieties["se"], kinds["variety_within_or_across_nitrogen"], 1e-8, "varieties at one rate")
    close(varieties["df"], kinds["satterthwaite_df_variety_at_same_nitrogen"], 1e-8, "their df")
    lsd = (varieties["upper"] - varieties["lower"]) / 2
    close(lsd, kinds["lsd_variety_at_same_nitrogen_satterthwaite"], 1e-8, "their LSD")
    check = expected["satterthwaite_check"]
    for pair, name in ((varieties, "variety_at_first_nitrogen"), (rates, "nitrogen_within_first_variety")):
        close(pair["estimate"], check[name][0]["estimate"], MIXED["mean"], name)
        close(pair["se"], check[name][0]["SE"], MIXED["mean"], f"SE of {name}")
        close(pair["df"], check[name][0]["df"], MIXED["df"], f"df of {name}")


def test_trends_over_nitrogen_on_plots_within_varieties():
    expected = golden("oats-variety-nitrogen-split-plot")
    told = measure("oats-variety-nitrogen-split-plot")
    analysis, further = told["analysis"], told["further"]
    ms = row(analysis, "plot", "residual")["ms"]
    check_trend(further, "nitrogen", expected["nitrogen_trends"], ms=ms)
    # The golden interaction of trend and variety is what the trends of the varieties' own add to that of their mean.
    rows = {(one["stratum"], one["source"]): one for one in expected["nitrogen_trend_by_variety_interaction"]}
    averaged = next(one["trend"] for one in further["trends"] if "at" not in one)
    alone = [one["trend"] for one in further["trends"] if "at" in one]
    for degree, own, by in ((0, "I(nitrogen)", "variety:I(nitrogen)"), (1, "I(nitrogen^2)", "variety:I(nitrogen^2)")):
        shared = averaged["terms"][degree]["f"] * ms
        close(shared, rows["Within", own]["ss"], 1e-8, own)
        close(averaged["terms"][degree]["p"], rows["Within", own]["p"], 1e-7, f"p of {own}")
        together = sum(trend["terms"][degree]["f"] for trend in alone) * ms
        close(together - shared, rows["Within", by]["ss"], 1e-8, by)
    check_row(row(analysis, "main plot", "variety"), rows["block:variety", "variety"])
    check_row(row(analysis, "plot", "residual"), rows["Within", "Residuals"])


@pytest.mark.parametrize("site", ["L1", "L2", "L3"])
def test_rice_at_one_site(site, tmp_path):
    case = "rice-split-plot-three-sites"
    expected = next(one for one in golden(case)["per_site"] if one["site"] == site)
    analysis = analyse(case, data=only(case, tmp_path / f"{site}.csv", site=site))
    check_strata(analysis, expected["anova_strata"], split_plot("nitrogen", "variety"))




# Split-split-plot with two variances at zero -------------------------------------------------------------------------

SPLIT_SPLIT = "rice-nitrogen-management-variety-split-split"


def test_rice_split_twice():
    expected = golden(SPLIT_SPLIT)
    told = measure(SPLIT_SPLIT)
    analysis = told["analysis"]
    assert analysis["lead"] == "strata"
    rows = [
        ("block", "residual"),
        ("main plot", "nitrogen"),
        ("main plot", "residual"),
        ("subplot", "management"),
        ("subplot", "nitrogen x management"),
        ("subplot", "residual"),
        ("plot", "variety"),
        ("plot", "nitrogen x variety"),
        ("plot", "management x variety"),
        ("plot", "nitrogen x management x variety"),
        ("plot", "residual"),
    ]
    check_strata(analysis, expected["anova_strata"], rows)
    cv = expected["cv_pct"]
    check_cv(analysis, {"main plot": cv["a"], "subplot": cv["b"], "plot": cv["c"]})
    labels = [
        "nitrogen",
        "management",
        "variety",
        "nitrogen x management",
        "nitrogen x variety",
        "management x variety",
        "nitrogen x management x variety",
    ]
    check_components(analysis, expected["mixed"], ["block", "block:nf", "block:nf:management"])
    check_tests(analysis["other_tests"], expected["mixed"]["tests_kenward_roger"], labels)
    check_tests(told["further"]["satterthwaite"], expected["mixed"]["tests_satterthwaite"], labels)
    at_zero = {one["name"] for one in analysis["mixed"]["components"] if one["at_zero"]}
    assert at_zero == {"block", "subplot"} and expected["mixed"]["singular"]
    assert all(one["se"] is None for one in analysis["mixed"]["components"])
    assert "block and subplot at zero" in analysis["difference_between_methods"]


def test_means_of_rice_split_twice_by_the_model_too():
    """The strata lead and keep their own errors; the golden means are those of the model with the zeros in it."""
    expected = golden(SPLIT_SPLIT)
    by_model = {tuple(one["term"]): one for one in measure(SPLIT_SPLIT)["further"]["means_by_model"]}
    for term, keys, name in [
        (("nitrogen",), ["nf"], "means_nitrogen"),
        (("management",), ["management"], "means_management"),
        (("variety",), ["variety"], "means_variety"),
        (("nitrogen", "variety"), ["nf", "variety"], "means_nitrogen_by_variety"),
    ]:
        check_means(by_model[term], expected[name], keys, MIXED)
        check_pairs(by_model[term], expected[name], MIXED)


# Strip-plot ----------------------------------------------------------------------------------------------------------

STRIPS = "rice-variety-nitrogen-strip-plot"


def test_rice_in_strips():
    expected = golden(STRIPS)
    told = measure(STRIPS)
    analysis = told["analysis"]
    across, along, crossing = "strip across", "strip along", "strip across x strip along"
    rows = [
        ("block", "residual"),
        (across, "variety"),
        (across, "residual"),
        (along, "nitrogen"),
        (along, "residual"),
        (crossing, "variety x nitrogen"),
        (crossing, "residual"),
    ]
    check_strata(analysis, expected["anova_strata"], rows)
    cv = expected["cv_pct"]
    check_cv(analysis, {across: cv["horizontal"], along: cv["vertical"], crossing: cv["interaction"]})
    labels = ["variety", "nitrogen", "variety x nitrogen"]
    check_mixed(told, with_sound_f(expected, "variety:nf"), labels, ["block", "block:variety", "block:nf"])
    for term, keys, name in [
        (["variety"], ["variety"], "means_variety"),
        (["nitrogen"], ["nf"], "means_nitrogen"),
        (["variety", "nitrogen"], ["variety", "nf"], "means_cells"),
    ]:
        check_means(table(analysis, *term), expected[name], keys, MIXED)
        check_pairs(table(analysis, *term), expected[name], MIXED)
    cells = table(analysis, "variety", "nitrogen")
    check_coefficients(cells["cells"], cells["pairs"], expected["mixed"]["fixed_effects"], ["variety", "nf"], MIXED)
    means = {tuple(cell["levels"]): cell for cell in cells["cells"]}
    for one in expected["means_cells_satterthwaite"]:
        cell = means[one["variety"], one["nf"]]
        close(cell["mean"], one["emmean"], MIXED["mean"], "mean")
        close(cell["se"], one["SE"], MIXED["mean"], "SE")
        close(cell["df"], one["df"], MIXED["df"], "df")
    ms = row(analysis, along, "residual")["ms"]
    check_trend(told["further"], "nitrogen", expected["nitrogen_trends"], ms=ms)


# Invented ------------------------------------------------------------------------------------------------------------


def test_split_plot_of_48_plots():
    """Invented numbers of a benchmark, 4 blocks x 3 x 4."""
    case = "split-plot-48"
    ledger.begin(case)
    expected = json.loads((REFERENCE / case / "expected.json").read_text())
    analysis = measure(case)["analysis"]
    # The golden value was made with contrasts that sum to zero; its X is ours times a matrix of determinant 3^4 x 4^3.
    likelihood = expected["reml_loglik"] + math.log(81 * 64)
    close(analysis["mixed"]["reml_log_likelihood"], likelihood, 0.0, "log-likelihood", 1e-6)
    for tests in (analysis["tests"], analysis["other_tests"]):
        for one in expected["tests"]:
            (ours,) = [test for test in tests if test["label"] == one["term"].replace(":", " x ")]
            assert ours["num_df"] == one["NumDF"]
            close(ours["den_df"], one["DenDF"], 1e-4, f"den df of {one['term']}")
            close(ours["f"], one["F value"], 1e-3, f"F of {one['term']}")
            close_p(ours["p"], one["Pr(>F)"], 1e-3, one["term"])
    for name, of_term in expected["terms"].items():
        means = table(analysis, *name.split(":"))
        cells = {tuple(cell["levels"]): cell for cell in means["cells"]}
        for one in of_term["means"]:
            cell = cells[tuple(one[factor] for factor in name.split(":"))]
            for key, theirs in (("mean", "emmean"), ("se", "SE"), ("lower", "lower.CL"), ("upper", "upper.CL")):
                close(cell[key], one[theirs], MIXED["mean"], f"{key} of {cell['label']}")
            close(cell["df"], one["df"], MIXED["df"], f"df of {cell['label']}")
        labels = [" ".join(cell["levels"]) for cell in means["cells"]]
        pairs = {f"{labels[pair['a']]} - {labels[pair['b']]}": pair for pair in means["pairs"]}
        assert len(pairs) == len(of_term["pairs"])
        for one in of_term["pairs"]:
            first, second = one["contrast"].split(" - ")
            sign = 1 if one["contrast"] in pairs else -1
            pair = pairs.get(one["contrast"]) or pairs[f"{second} - {first}"]
            close(sign * pair["estimate"], one["estimate"], MIXED["mean"], one["contrast"])
            close(pair["se"], one["SE"], MIXED["mean"], f"SE of {one['contrast']}")
            close(pair["df"], one["df"], MIXED["df"], f"df of {one['contrast']}")
            close(pair["p_tukey"], one["p.value"], 0.0, f"p by Tukey of {one['contrast']}", 1e-6)
