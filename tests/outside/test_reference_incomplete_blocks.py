"""Published alpha designs, rows and columns and augmented blocks through the command that a user has.

Sources and the software that made the golden values: tests/reference/PROVENANCE.md and each case's own `expected.json`.
"""

import itertools

import pytest

from cases import analyse, golden, measure, only, restated, rows_of, written
from golden import MIXED, check_pairs, check_row, check_tests, close, row, table
from golden_further import check_mixed, predicted


# Oats in an alpha design ---------------------------------------------------------------------------------------------


def test_oats_in_an_alpha_design():
    expected = golden("oats-alpha-design")
    told = measure("oats-alpha-design")
    assert told["analysis"]["lead"] == "mixed"
    mixed = expected["mixed_replicate_random"]
    check_mixed(told, mixed, ["variety"], ["replicate", "replicate:incomplete_block"])
    # Replicates are whole, so that differences of varieties are the same with replicates fixed, as in the golden means.
    varieties = table(told["analysis"], "variety")
    check_pairs(varieties, expected["means_mixed"], MIXED)
    spread = sum(pair["se"] ** 2 for pair in varieties["pairs"]) / len(varieties["pairs"])
    close(spread, expected["efficiency_vs_rcb"]["mixed_avg_variance_of_difference"], 1e-5, "variance of a difference")


def check_within_units(fixed, expected, replicate="replicate"):
    """Larger units fixed: the golden table has entries before the blocks, ours after them; the first and last rows are the same."""
    own = {one["source"]: one for one in expected}
    check_row(fixed["sequential"][0], own[replicate])
    check_row(fixed["sequential"][-1], own["Residuals"])


def check_whole_replicates(case, plan, expected, data=None):
    """As if replicates were the only blocks."""
    analysis = analyse(case, plan, data)
    replicate, entries, residual = expected
    close(row(analysis, "block", "residual")["ss"], replicate["ss"], 1e-8, "SS of replicates")
    check_row(row(analysis, "plot", entries["source"]), entries)
    check_row(row(analysis, "plot", "residual"), residual)
    return analysis


def test_oats_in_whole_replicates(tmp_path):
    case = "oats-alpha-design"
    expected = golden(case)
    plan = restated(case, tmp_path, ('"incomplete_blocks"', '"randomised_blocks"'), *IN_BLOCKS)
    analysis = check_whole_replicates(case, plan, expected["rcb_ignoring_blocks"])
    errors = [pair["se"] for pair in table(analysis, "variety")["pairs"]]
    for error in (min(errors), max(errors)):
        close(error**2, expected["efficiency_vs_rcb"]["rcb_avg_variance_of_difference"], 1e-8, "variance of a difference")


# What a plan in incomplete blocks says beyond one in whole blocks.
IN_BLOCKS = [("\nblock_size = 4", ""), ('units = { block = "incomplete_block" }', 'replicate = "replicate"')]


def test_oats_within_blocks_only():
    expected = golden("oats-alpha-design")
    fixed = analyse("oats-alpha-design")["fixed_units"]
    check_within_units(fixed, expected["intra_block_sequential"])
    close(fixed["residual_ms"], expected["intra_block_residual_ms"], 1e-8, "residual MS")
    assert fixed["residual_df"] == expected["intra_block_residual_df"]
    (means,) = fixed["tables"]
    cells = {cell["label"]: cell for cell in means["cells"]}
    for one in expected["intra_block_means"]:
        close(cells[one["variety"]]["mean"], one["emmean"], 1e-8, one["variety"])
        close(cells[one["variety"]]["se"], one["SE"], 1e-8, f"SE of {one['variety']}")
        assert fixed["residual_df"] == one["df"]
    for key, value in expected["intra_block_sed"].items():
        close(means["sed"][key], value, 1e-8, f"SED {key}")


def test_oats_as_a_sample_of_varieties():
    expected = golden("oats-alpha-design")["varieties_random"]
    analysis = analyse("oats-alpha-design", "plan-varieties-as-a-sample.toml")
    varieties = predicted(analysis, "variety")
    variance = {one["term"]: one["variance"] for one in expected["components"]}
    close(varieties["variance"], variance["variety"], 1e-4, "variance of varieties")
    close(predicted(analysis, "block")["variance"], variance["replicate:incomplete_block"], 1e-4, "variance of blocks")
    close(analysis["mixed"]["residual_variance"], variance["Residual"], 1e-4, "residual variance")
    rows = {one["label"]: one for one in varieties["rows"]}
    for one in expected["blup"]:
        ours = rows[one["variety"]]
        close(ours["effect"], one["blup"], 1e-5, one["variety"], 1e-5 * ours["prediction_se"])
        close(ours["prediction_se"], one["se_prediction"], 1e-5, f"SE of {one['variety']}")
    close(varieties["heritability"], expected["heritability_cullis"], 1e-5, "heritability")


# Wheat in rows and columns -------------------------------------------------------------------------------------------


def test_wheat_in_rows_and_columns(tmp_path):
    case = "wheat-row-column"
    expected = golden(case)
    # One label of the copy runs into the yield beside it, which is missing; Guardrow refuses it by its name, and it is mended.
    damaged = [line for line in rows_of(case) if " " in line["variety"]]
    assert [line["yield"] for line in damaged] == [""]
    mended = [{**line, "variety": line["variety"].split()[0]} for line in rows_of(case)]
    told = measure(case, data=written(tmp_path / "mended.csv", mended))
    components = ["replicate", "replicate:row", "replicate:column"]
    check_mixed(told, expected["mixed_replicate_random"], ["variety"], components)
    check_within_units(told["analysis"]["fixed_units"], expected["fixed_rows_columns_sequential"])


# Maize hybrids, county by county -------------------------------------------------------------------------------------

COUNTIES = ["C1", "C2", "C3", "C4", "C5", "C6"]
BLOCKS = "replicate:incomplete_block"


def of_county(county):
    return next(one for one in golden("maize-hybrids-six-counties")["by_county"] if one["county"] == county)


def variance(of, term):
    return next(one["variance"] for one in of["components"] if one["term"] == term)


@pytest.mark.parametrize("county", COUNTIES)
def test_maize_hybrids_in_one_county(county, tmp_path):
    case = "maize-hybrids-six-counties"
    expected = of_county(county)
    told = measure(case, "plan-county.toml", only(case, tmp_path / "county.csv", county=county))
    analysis = told["analysis"]
    assert (analysis["plots_used"], len(table(analysis, "hybrid")["cells"])) == (expected["n"], expected["hybrids"])
    check_within_units(analysis["fixed_units"], expected["intra_block"])
    # The golden models have replicates fixed. Replicates are whole, so that this changes nothing else while their variance is
    # above zero; at zero, random replicates are pooled with the blocks.
    if predicted(analysis, "replicate")["variance"] == 0.0:
        assert county == "C2"
        return
    mixed = expected["mixed"]
    close(predicted(analysis, "block")["variance"], variance(mixed, BLOCKS), 1e-4, "variance of blocks", 1e-6)
    close(analysis["mixed"]["residual_variance"], variance(mixed, "Residual"), 1e-4, "residual variance")
    tests = [one for one in mixed["tests_satterthwaite"] if one["source"] == "hybrid"]
    check_tests(told["further"]["satterthwaite"], tests, ["hybrid"])


@pytest.mark.parametrize("county", COUNTIES)
def test_maize_hybrids_in_whole_replicates_of_one_county(county, tmp_path):
    case = "maize-hybrids-six-counties"
    blocks = [(old.replace("4", "8"), new) for old, new in IN_BLOCKS]
    plan = restated(case, tmp_path, ('"incomplete_blocks"', '"randomised_blocks"'), *blocks, plan="plan-county.toml")
    data = only(case, tmp_path / "county.csv", county=county)
    check_whole_replicates(case, plan, of_county(county)["rcb"], data)


@pytest.mark.parametrize("county", COUNTIES)
def test_maize_hybrids_as_a_sample_in_one_county(county, tmp_path):
    case = "maize-hybrids-six-counties"
    expected = of_county(county)["hybrids_random"]
    data = only(case, tmp_path / "county.csv", county=county)
    analysis = analyse(case, "plan-county-hybrids-as-a-sample.toml", data)
    if predicted(analysis, "replicate")["variance"] == 0.0:
        assert county == "C2"
        return
    hybrids = predicted(analysis, "hybrid")
    close(hybrids["variance"], variance(expected, "hybrid"), 1e-4, "variance of hybrids", 1e-6)


def test_maize_hybrids_in_counties_like_these():
    case = "maize-hybrids-six-counties"
    expected = golden(case)
    told = measure(case)
    components = ["county", "county:hybrid", "county:replicate", "county:replicate:incomplete_block"]
    check_mixed(told, expected["combined_homogeneous"], ["hybrid"], components)
    cells = {cell["label"]: cell for cell in table(told["analysis"], "hybrid")["cells"]}
    for one in expected["combined_means"]:
        close(cells[one["hybrid"]]["mean"], one["mean"], 1e-5, one["hybrid"])


# Durum in augmented blocks -------------------------------------------------------------------------------------------


def test_durum_in_augmented_blocks():
    case = "durum-augmented-blocks"
    expected = golden(case)
    told = measure(case)
    check_mixed(told, expected["entries_fixed_blocks_random"], ["entry"], ["block"])
    fixed = told["analysis"]["fixed_units"]
    close(fixed["residual_ms"], expected["residual_ms"], 1e-8, "residual MS")
    assert fixed["residual_df"] == expected["residual_df"]
    # As the book prints it.
    close(fixed["residual_ms"], 91_103.0, 0.0, "residual MS as printed", 0.5)
    for ours, one in zip(fixed["sequential"], expected["whole_trial_sequential_blocks_first"], strict=True):
        check_row(ours, one)
    (means,) = fixed["tables"]
    cells = {cell["label"]: cell for cell in means["cells"]}
    for one in expected["adjusted_means"]:
        close(cells[one["entry"]]["mean"], one["adjusted_mean"], 1e-8, one["entry"])
        close(cells[one["entry"]]["se"], one["se"], 1e-8, f"SE of {one['entry']}")
    by_model = {cell["label"]: cell for cell in table(told["analysis"], "entry")["cells"]}
    for one in expected["means_blocks_random"]:
        cell = by_model[one["entry"]]
        close(cell["mean"], one["emmean"], MIXED["mean"], one["entry"])
        close(cell["se"], one["SE"], MIXED["mean"], f"SE of {one['entry']}")
        close(cell["df"], one["df"], MIXED["df"], f"df of {one['entry']}")


def test_four_kinds_of_difference_in_augmented_blocks():
    case = "durum-augmented-blocks"
    expected = golden(case)["sed"]
    (means,) = analyse(case)["fixed_units"]["tables"]
    label = [cell["label"] for cell in means["cells"]]
    block = {line["entry"]: line["block"] for line in rows_of(case) if line["kind"] == "new"}
    found = {}
    for pair in means["pairs"]:
        new = [block[entry] for entry in (label[pair["a"]], label[pair["b"]]) if entry in block]
        kind = {
            0: "two_checks",
            1: "new_vs_check",
            2: "two_new_same_block" if len(set(new)) == 1 else "two_new_different_blocks",
        }[len(new)]
        found.setdefault(kind, []).append(pair["se"])
    for kind, errors in found.items():
        for error in (min(errors), max(errors)):
            close(error, expected[kind], 1e-8, kind)
            close(error, expected["closed_forms"][kind], 1e-8, kind)
    assert found.keys() == expected["closed_forms"].keys()
