"""Published trials at several sites and in several years, and samples within plots, through the command that a user has.

Sources and the software that made the golden values: tests/reference/PROVENANCE.md and each case's own `expected.json`.
"""

from cases import analyse, golden, measure, restated, rows_of, written
from golden import (
    MIXED,
    check_components,
    check_means,
    check_pairs,
    check_row,
    check_strata,
    check_tests,
    close,
    row,
    table,
)
from golden_further import check_cv, check_effects, check_mixed, check_trend, effects, predicted, with_sound_f

# Varieties at three sites in two years -------------------------------------------------------------------------------

VARIETIES = "varieties-sites-years"


def test_varieties_at_these_sites_in_these_years():
    expected = golden(VARIETIES)
    analysis = analyse(VARIETIES)
    assert analysis["lead"] == "strata"
    rows = {one["source"]: one for one in expected["anova_all_fixed"]}
    for source in ("variety", "site x variety", "year x variety", "site x year x variety"):
        check_row(row(analysis, "plot", source), rows[source.replace(" x ", ":")])
    # Places and years were not drawn: they have a sum of squares, and no test against the plots.
    for source in ("site", "year", "site x year"):
        close(row(analysis, "block", source)["ss"], rows[source.replace(" x ", ":")]["ss"], 1e-8, source)
    assert any(notice["kind"] == "environments_not_drawn" for notice in analysis["notices"])
    close(row(analysis, "plot", "residual")["ms"], rows["Residuals"]["ms"], 1e-8, "residual MS")
    check_components(analysis, expected["mixed_environment_fixed"], ["env:block"])
    check_means(table(analysis, "variety"), expected["means_environment_fixed"], ["variety"], MIXED)
    check_pairs(table(analysis, "variety"), expected["means_environment_fixed"], MIXED)


def test_errors_of_the_six_environments():
    expected = golden(VARIETIES)
    told = measure(VARIETIES)
    places = told["further"]["places"]
    pooled = row(told["analysis"], "plot", "residual")["ms"]
    by_place = effects(told["further"], "variety", ["site", "year"])
    assert len(places["environments"]) == len(by_place) == len(expected["per_environment"]) == 6
    for ours, effect, one in zip(places["environments"], by_place.values(), expected["per_environment"], strict=True):
        what = one["environment"]
        close(ours["error_ms"], one["residual_ms"], 1e-8, f"error of {what}")
        assert ours["error_df"] == one["residual_df"]
        close(ours["mean"], one["mean"], 1e-8, f"mean of {what}")
        # Within one place the varieties are compared with the plots of all.
        close(effect["test"]["f"] * pooled / one["residual_ms"], one["f_variety"], 1e-8, f"F in {what}")
    bartlett = expected["bartlett_on_error_ms"]
    close(places["bartlett"]["chi_square"], bartlett["chi2"], 1e-8, "Bartlett's chi-square")
    assert places["bartlett"]["df"] == bartlett["df"]
    close(places["bartlett"]["p"], bartlett["p"], 1e-7, "p of Bartlett's test")
    close(places["largest_over_smallest"], expected["hartley_fmax"], 1e-8, "largest error over smallest")


def test_varieties_in_these_environments(tmp_path):
    """The six combinations as one kind of place, as the golden model was written."""
    rows = [{**line, "environment": f"{line['site']} {line['year']}"} for line in rows_of(VARIETIES)]
    told = measure(VARIETIES, "plan-environments.toml", written(tmp_path / "environments.csv", rows))
    labels = ["variety", "environment", "environment x variety"]
    expected = golden(VARIETIES)["mixed_environment_fixed"]
    check_mixed(told, expected, labels, ["env:block"])
    # The same tests from the mean squares.
    check_tests(told["analysis"]["tests"], expected["tests_kenward_roger"], labels)


def test_varieties_at_sites_and_in_years_like_these():
    expected = golden(VARIETIES)
    told = measure(VARIETIES, "plan-places-like-these.toml")
    analysis = told["analysis"]
    components = [
        "site",
        "year",
        "site:year",
        "variety:site",
        "variety:year",
        "variety:site:year",
        "site:year:block",
    ]
    check_mixed(told, expected["mixed_all_random_but_variety"], ["variety"], components)
    means = next(one for one in told["further"]["means_by_model"] if one["term"] == ["variety"])
    check_means(means, expected["means_all_random"], ["variety"], MIXED)
    check_pairs(means, expected["means_all_random"], MIXED)
    # By strata no mean square of its own judges the varieties; a sum of three does.
    rows = {one["source"]: one for one in expected["anova_all_fixed"]}
    at_sites, in_years, both = (rows[it] for it in ("site:variety", "year:variety", "site:year:variety"))
    error = at_sites["ms"] + in_years["ms"] - both["ms"]
    df = error**2 / sum(it["ms"] ** 2 / it["df"] for it in (at_sites, in_years, both))
    close(analysis["tests"][0]["f"], rows["variety"]["ms"] / error, 1e-8, "F against a sum of mean squares")
    close(analysis["tests"][0]["den_df"], df, 1e-8, "its df")
    assert any(notice["kind"] == "error_is_sum" for notice in analysis["notices"])


# Rice in split-plots at three sites ----------------------------------------------------------------------------------

RICE = "rice-split-plot-three-sites"


def test_rice_at_these_three_sites():
    expected = golden(RICE)
    told = measure(RICE, "plan-three-sites.toml")
    analysis = told["analysis"]
    rows = [
        ("block", "site"),
        ("block", "residual"),
        ("main plot", "nitrogen"),
        ("main plot", "site x nitrogen"),
        ("main plot", "residual"),
        ("plot", "variety"),
        ("plot", "site x variety"),
        ("plot", "nitrogen x variety"),
        ("plot", "site x nitrogen x variety"),
        ("plot", "residual"),
    ]
    check_strata(analysis, expected["anova_strata"], rows)
    labels = [
        "site",
        "nitrogen",
        "variety",
        "site x nitrogen",
        "site x variety",
        "nitrogen x variety",
        "site x nitrogen x variety",
    ]
    check_mixed(told, with_sound_f(expected, "site:nf"), labels, ["site:block", "site:block:nf"])
    check_means(table(analysis, "nitrogen"), expected["means_nitrogen"], ["nf"], MIXED)
    check_pairs(table(analysis, "nitrogen"), expected["means_nitrogen"], MIXED)
    within = expected["means_variety_by_site"]
    check_effects(told["further"], "variety", "site", within, ("variety", "site"), MIXED, named=SITES)
    check_trend(
        told["further"],
        "nitrogen",
        expected["nitrogen_trends_main"],
        ms=row(analysis, "main plot", "residual")["ms"],
    )


# A unit without a number of its own is numbered in the order of the table.
SITES = {"site 1": "L1", "site 2": "L2", "site 3": "L3"}


def test_rice_at_sites_like_these(tmp_path):
    """Each term is then tested against its own interaction with sites, by the same sums of squares."""
    like_these = ("these_environments", "environments_like_these")
    analysis = analyse(RICE, restated(RICE, tmp_path, like_these, plan="plan-three-sites.toml"))
    rows = {one["source"]: one for one in golden(RICE)["anova_strata"]}
    tests = {test["label"]: test for test in analysis["tests"]}
    assert tests.keys() == {"nitrogen", "variety", "nitrogen x variety"}
    for term, test in tests.items():
        source = term.replace("nitrogen", "nf").replace(" x ", ":")
        own, error = rows[source], rows[f"site:{source}"]
        close(test["f"], own["ms"] / error["ms"], 1e-8, term)
        assert (test["den_df"], test["stratum"]) == (error["df"], f"site x {term}")


# Bamboo at two sites, six trees of each plot -------------------------------------------------------------------------

BAMBOO = "bamboo-families-two-sites"


def test_bamboo_families_at_two_sites():
    expected = golden(BAMBOO)
    told = measure(BAMBOO)
    analysis = told["analysis"]
    rows = [
        ("block", "site"),
        ("block", "residual"),
        ("plot", "family"),
        ("plot", "site x family"),
        ("plot", "residual"),
        ("tree", "residual"),
    ]
    check_strata(analysis, expected["anova_strata"], rows)
    labels = ["site", "family", "site x family"]
    check_mixed(told, expected["mixed_family_fixed"], labels, ["site:block", "site:block:family"])
    check_means(table(analysis, "family"), expected["means_family"], ["family"], MIXED)
    check_pairs(table(analysis, "family"), expected["means_family"], MIXED)


def test_bamboo_families_as_a_sample():
    expected = golden(BAMBOO)
    told = measure(BAMBOO, "plan-families-as-a-sample.toml")
    analysis = told["analysis"]
    components = ["family", "site:family", "site:block", "site:block:family"]
    check_mixed(told, expected["mixed_family_random"], ["site"], components)
    rows = {one["label"]: one for one in predicted(analysis, "family")["rows"]}
    for one in expected["family_blup"]:
        # The golden fit was tightened, but its components still have only about six digits.
        close(rows[one["family"]]["effect"], one["blup"], 1e-4, one["family"])
    mean_squares = {one["source"]: one["ms"] for one in expected["anova_strata"]}
    for stratum, source in (("family", "family"), ("site x family", "site:family")):
        close(row(analysis, stratum, "residual")["ms"], mean_squares[source], 1e-8, stratum)


# Rice in blocks, four hills of each plot -----------------------------------------------------------------------------


def test_tillers_of_rice_hill_by_hill():
    case = "rice-tillers-subsamples"
    expected = golden(case)
    told = measure(case, "plan-hills.toml")
    analysis = told["analysis"]
    rows = [("block", "residual"), ("plot", "treatment"), ("plot", "residual"), ("hill", "residual")]
    check_strata(analysis, expected["anova_strata"], rows)
    close(row(analysis, "plot", "residual")["ms"], expected["experimental_error_ms"], 1e-8, "error of plots")
    close(row(analysis, "hill", "residual")["ms"], expected["sampling_error_ms"], 1e-8, "error of hills")
    close(row(analysis, "plot", "treatment")["p"], expected["p_treatment_correct"], 1e-7, "p against plots")
    check_cv(analysis, {"plot": expected["cv_pct_experimental"]})
    check_mixed(told, expected["mixed"], ["treatment"], ["block", "block:treatment"])
    components = {one["name"]: one["variance"] for one in analysis["mixed"]["components"]}
    close(components["plot"], expected["components"]["plot"], 1e-8, "variance of plots")
    close(analysis["mixed"]["residual_variance"], expected["components"]["hill"], 1e-8, "variance of hills")
    check_means(table(analysis, "treatment"), expected["means"], ["treatment"], MIXED)
    check_pairs(table(analysis, "treatment"), expected["means"], MIXED)
