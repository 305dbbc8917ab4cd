"""Published split-plots, split-split-plots and strip-plots through the command that a user has.

Sources and the software that made the golden values: tests/reference/PROVENANCE.md and each case's own `expected.json`.
"""

import json

import pytest

from cases import REFERENCE, analyse, golden, measure, only
from golden import CLASSICAL, MIXED, check_means, check_pairs, check_row, check_strata, check_tests, close, row, table
from golden_further import check_coefficients, check_cv, check_mixed, check_trend, effects


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



