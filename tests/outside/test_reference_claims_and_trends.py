"""What follows from a published trial's means and errors, through the command that a user has: trends, effects within levels,
claims against a margin, comparisons with a control, transformed values.

Sources and the software that made the golden values: tests/reference/PROVENANCE.md and each case's own `expected.json`.
"""

import pytest

from cases import analyse, golden, measure, measures, only, restated, run_case
from golden import (
    CLASSICAL,
    MIXED,
    check_components,
    check_dunnett,
    check_pairs,
    check_row,
    check_tests,
    close,
    row,
    table,
)
from golden_further import check_coefficients, check_cv, check_effects, check_mean_values, check_mixed, check_trend

# Claims against a margin ---------------------------------------------------------------------------------------------


def claimed(case, folder, measure, factor, first, second, margin):
    """The finding of one claim, that two levels do not differ by as much as the margin."""
    question = f"""[question]
decision = "Which of the two is used."

[[question.claims]]
statement = "They are alike."
measure = "{measure}"
comparison = {{ first = {{ factor = "{factor}", level = "{first}" }}, second = {{ factor = "{factor}", level = "{second}" }} }}
direction = "either"
margin = "{margin}"

[[treatments.factors]]
"""
    plan = restated(case, folder, ("[[treatments.factors]]\n", question), limit=1)
    (finding,) = run_case(case, plan)["findings"]["claims"]
    return finding


def check_equivalence(finding, expected):
    numbers = finding["numbers"]
    close(numbers["estimate"], expected["difference"], 1e-8, "difference")
    close(numbers["se"], expected["se"], 1e-8, "SE")
    assert numbers["df"] == expected["df"]
    assert finding["margin"]["value"] == expected["margin"]
    interval = numbers["equivalence"]
    assert interval["level"] == pytest.approx(0.9)
    for key in ("lower", "upper"):
        close(interval[key], expected[f"ci90_{key}"], 1e-8, f"{key} end", 1e-8 * abs(expected["difference"]))
    alike = finding["verdict"] == "no_difference_that_matters"
    assert alike == expected["equivalent_at_5pct"], finding["verdict"]


def test_two_seeding_rates_of_rice_are_not_shown_to_be_alike(tmp_path):
    case = "rice-seeding-rate"
    finding = claimed(case, tmp_path, "grain_yield", "seeding_rate", "100", "75", "500 kg/ha")
    check_equivalence(finding, golden(case)["equivalence"]["margin_500"])


@pytest.mark.parametrize(("level", "margin"), [("trt1", "1.0"), ("trt2", "1.0"), ("trt1", "0.5")])
def test_dry_weight_of_plants_against_a_margin(level, margin, tmp_path):
    case = "plant-dry-weight"
    finding = claimed(case, tmp_path, "dry_weight", "treatment", level, "ctrl", f"{margin} g")
    check_equivalence(finding, golden(case)["equivalence"][f"{level}_margin_{margin}"])


# Trends --------------------------------------------------------------------------------------------------------------


def test_trend_of_rice_over_seeding_rates():
    expected = golden("rice-seeding-rate")
    told = measure("rice-seeding-rate")
    analysis = told["analysis"]
    ms = row(analysis, "plot", "residual")["ms"]
    close(ms, expected["residual_ms"], 1e-8, "residual MS")
    found = check_trend(told["further"], "seeding_rate", expected["polynomial_partition"], ms=ms)
    straight = found["terms"][0]["lack_of_fit"]
    golden_lack = expected["lack_of_fit_of_straight_line"]
    assert straight["num_df"] == golden_lack["df"]
    close(straight["f"], golden_lack["f"], 1e-8, "lack of fit")
    close(straight["f"] * straight["num_df"] * ms, golden_lack["ss"], 1e-8, "SS of the lack of fit")
    close(straight["p"], golden_lack["p"], 1e-7, "p of the lack of fit")
    check_cv(analysis, {"plot": expected["cv_pct"]})
    lines = next(one for one in told["further"]["curves"] if one.get("by") is None)["curves"]["groups"][0]["curves"]
    line = next(one for one in lines if one["form"] == "linear")
    slope = next(one["value"] for one in line["parameters"] if one["name"] == "slope")
    close(slope["estimate"], expected["straight_line"]["slope"], 1e-8, "slope")
    # The golden error has the lack of fit in it; ours is that of the plots.
    check_tests(told["further"]["satterthwaite"], expected["mixed"]["tests_satterthwaite"], ["seeding_rate"])
    cells = table(analysis, "seeding_rate")
    check_coefficients(cells["cells"], cells["pairs"], expected["mixed"]["fixed_effects"], ["rf"], MIXED)


def on_log_scale(folder):
    """The densities of the turnips are doublings, and the golden trends are over their number."""
    case = "turnip-variety-date-density"
    doublings = [
        (f'{{ label = "{2**n}", amount = {2.0**n} }}', f'{{ label = "{2**n}", amount = {float(n)} }}') for n in range(4)
    ]
    return restated(case, folder, *doublings)


@pytest.mark.parametrize("date", ["21_aug", "28_aug"])
def test_trend_of_turnips_over_doublings_of_density(date, tmp_path):
    case = "turnip-variety-date-density"
    told = measure(case, on_log_scale(tmp_path))
    trends = [one for one in golden(case)["density_trends_within_date"] if one["sowing_date"] == date]
    named = [{**one, "name": one["contrast"]} for one in trends]
    check_trend(told["further"], "density", named, at=["sowing_date", date])


def test_density_of_turnips_within_dates():
    case = "turnip-variety-date-density"
    expected = golden(case)
    within = expected["means_density_within_date"]
    # Blocks are a sample here and fixed in the golden means, so that means are compared without their errors.
    check_effects(
        measure(case)["further"], "density", "sowing_date", within, ("df", "sowing_date"), CLASSICAL, means=False
    )


def test_turnips_as_logarithms(tmp_path):
    case = "turnip-variety-date-density"
    logarithm = ('method = "per plot"\n', 'method = "per plot"\ntransformed = { by = "logarithm" }\n')
    analysis = measure(case, restated(case, tmp_path, logarithm))["transformed"]["analysis"]
    rows = {one["source"]: one for one in golden(case)["anova_log"]}
    close(row(analysis, "block", "residual")["ss"], rows.pop("block")["ss"], 1e-8, "SS of blocks")
    check_row(row(analysis, "plot", "residual"), rows.pop("Residuals"))
    assert len(rows) == 7
    for source, one in rows.items():
        check_row(row(analysis, "plot", source.replace(":", " x ").replace("df", "density")), one)


# Comparisons with a control ------------------------------------------------------------------------------------------


def test_dusting_of_wheat_against_none(tmp_path):
    case = "wheat-rust-latin-square"
    expected = golden(case)
    control = [
        (', { label = "not_dusted" }', ""),
        ("[arrangement]", '[[treatments.controls]]\nlabel = "not_dusted"\n\n[arrangement]'),
    ]
    plan = restated(case, tmp_path, *control)
    plan.write_text(plan.read_text() + '\n[table]\ntreatment = "dusting"\n')
    check_dunnett(table(analyse(case, plan))["against_control"][0], expected["dunnett"])


def test_wheat_in_a_latin_square_by_the_model():
    expected = golden("wheat-rust-latin-square")
    told = measure("wheat-rust-latin-square")
    check_mixed(told, expected["mixed_rows_columns_random"], ["dusting"], ["row", "column"])
    check_cv(told["analysis"], {"row x column": expected["cv_pct"]})
    cells = table(told["analysis"], "dusting")
    fixed = expected["mixed_rows_columns_random"]["fixed_effects"]
    check_coefficients(cells["cells"], cells["pairs"], fixed, ["dusting"], MIXED)


# Main effects, places, models beside the strata ----------------------------------------------------------------------


@pytest.mark.parametrize("factor", ["nitrogen", "phosphate", "potash"])
def test_main_effects_of_the_confounded_peas(factor):
    expected = golden("pea-npk-confounded")["main_effect_means"][factor]
    ours = table(analyse("pea-npk-confounded"), factor)
    check_mean_values(ours, expected["means"], [factor], CLASSICAL)
    check_pairs(ours, expected, CLASSICAL)


def test_bamboo_families_within_sites():
    case = "bamboo-families-two-sites"
    within = golden(case)["means_site_family"]
    named = {"site 1": "Vellanikkara", "site 2": "Nailambur"}
    check_effects(measure(case)["further"], "family", "site", within, ("family", "site"), MIXED, named=named)


@pytest.mark.parametrize("site", ["Vellanikkara", "Nailambur"])
def test_bamboo_families_at_one_site(site, tmp_path):
    case = "bamboo-families-two-sites"
    one_site = [('"site / block', '"block'), ('environments = ["site"]\nscope = "these_environments"\n', "")]
    plan = restated(case, tmp_path, *one_site)
    analysis = analyse(case, plan, only(case, tmp_path / "site.csv", site=site))
    rows = {one["source"]: one for one in golden(case)["by_site"][site]["anova"]}
    for stratum, source, theirs in [
        ("block", "residual", "block"),
        ("plot", "family", "family"),
        ("plot", "residual", "block:family"),
        ("tree", "residual", "Residuals"),
    ]:
        ours = row(analysis, stratum, source)
        assert ours["df"] == rows[theirs]["df"]
        close(ours["ss"], rows[theirs]["ss"], 1e-8, f"SS of {theirs}")
        close(ours["ms"], rows[theirs]["ms"], 1e-8, f"MS of {theirs}")


def test_beet_adjusted_for_stand_by_the_model():
    case = "beet-yield-adjusted-for-stand"
    expected = golden(case)
    told = measures(case, "plan-adjusted.toml")["yield"]
    analysis = told["analysis"]
    check_components(analysis, expected["mixed_blocks_random"], ["block"])
    satterthwaite = [one for one in expected["mixed_blocks_random"]["tests_satterthwaite"] if one["source"] == "fertilizer"]
    check_tests(told["further"]["satterthwaite"], satterthwaite, ["fertilizer"])


def test_potatoes_with_lost_plots_by_satterthwaite():
    case = "potato-fertilizer-missing-plots"
    expected = golden(case)["mixed_blocks_random"]["tests_satterthwaite"]
    check_tests(measure(case)["further"]["satterthwaite"], expected, ["treatment"])


# Wheat in a lattice --------------------------------------------------------------------------------------------------

LATTICE = "wheat-lattice-spatial"


def test_wheat_in_a_lattice_of_rows_and_columns():
    expected = golden(LATTICE)
    told = measure(LATTICE)
    components = ["replicate", "replicate:rf", "replicate:cf"]
    check_mixed(told, expected["mixed_rows_columns"], ["variety"], components)
    check_pairs(table(told["analysis"], "variety"), expected["means"], MIXED)
    fixed = told["analysis"]["fixed_units"]["sequential"]
    rows = {one["source"]: one for one in expected["fixed_rows_columns"]}
    check_row(fixed[0], rows["replicate"])
    check_row(fixed[-1], rows["Residuals"])


def test_wheat_in_whole_replicates(tmp_path):
    blocks = [('"row_column"\nreplicates = 6\nrows = 5\ncolumns = 5', '"randomised_blocks"\nreplicates = 6')]
    plan = restated(LATTICE, tmp_path, *blocks)
    plan.write_text(plan.read_text() + '\n[table]\nreplicate = "replicate"\n')
    analysis = analyse(LATTICE, plan)
    rows = {one["source"]: one for one in golden(LATTICE)["rcb"]}
    close(row(analysis, "block", "residual")["ss"], rows["replicate"]["ss"], 1e-8, "SS of replicates")
    check_row(row(analysis, "plot", "variety"), rows["variety"])
    check_row(row(analysis, "plot", "residual"), rows["Residuals"])


def test_wheat_in_rows_alone(tmp_path):
    columns = [
        ('"row_column"\nreplicates = 6\nrows = 5\ncolumns = 5', '"incomplete_blocks"\nreplicates = 6\nblock_size = 5'),
        ("[[measures]]", '[table]\nunits = { block = "row" }\n\n[[measures]]'),
    ]
    told = measure(LATTICE, restated(LATTICE, tmp_path, *columns))
    check_mixed(told, golden(LATTICE)["mixed_rows_only"], ["variety"], ["replicate", "replicate:rf"])
