"""Published cases whose plots were counted in parts, or whose values the golden analysis transforms first.

The value of a plot (a mean of hills, a total of unit areas, a transformed share) is worked out here, as the golden script
does; then it goes through the command that a user has. What these cases hold beyond that (a covariate, counts and
proportions on their own scale, subsamples as a stratum) is outside what Guardrow analyses so far.
"""

import csv
import math
from collections import defaultdict

import pytest

from golden import CLASSICAL, check_pairs, check_row, check_strata, close, row, table
from program import run_well
from test_reference_data import REFERENCE, blocks, golden, rows_of


def analyses(case, data):
    answer = run_well("analyse", REFERENCE / case / "plan.toml", data, "--json").json()
    return {measure["measure"]: measure["analysis"] for measure in answer["analyses"]}


def written(path, header, rows):
    with open(path, "w", newline="") as file:
        csv.writer(file).writerows([header, *rows])
    return path


def by_plot(case, *keys):
    plots = defaultdict(list)
    for line in rows_of(case):
        plots[tuple(line[key] for key in keys)].append(line)
    return plots


@pytest.mark.parametrize(("measure", "name"), [("yield", "anova_unadjusted"), ("plants", "anova_of_covariate")])
def test_beet_in_blocks_not_adjusted_for_stand(measure, name):
    case = "beet-yield-adjusted-for-stand"
    analysis = analyses(case, REFERENCE / case / "data.csv")[measure]
    block, fertilizer, residual = golden(case)[name]
    close(row(analysis, "block", "residual")["ss"], block["ss"], 1e-8, "SS of blocks")
    check_row(row(analysis, "plot", "fertilizer"), fertilizer)
    check_row(row(analysis, "plot", "residual"), residual)
    if measure == "yield":
        check_pairs(table(analysis, "fertilizer"), golden(case)["means_unadjusted"], CLASSICAL)


def test_tillers_of_rice_against_plots_and_not_against_hills(tmp_path):
    case = "rice-tillers-subsamples"
    plots = by_plot(case, "block", "treatment")
    means = [(*plot, sum(float(line["tillers"]) for line in lines) / len(lines)) for plot, lines in plots.items()]
    data = written(tmp_path / "plots.csv", ["block", "treatment", "tillers"], means)
    analysis = analyses(case, data)["tillers"]
    expected = golden(case)
    close(row(analysis, "block", "residual")["ss"], expected["anova_of_plot_means"][0]["ss"], 1e-8, "SS of blocks")
    check_row(row(analysis, "plot", "treatment"), expected["anova_of_plot_means"][1])
    check_row(row(analysis, "plot", "residual"), expected["anova_of_plot_means"][2])
    check_pairs(table(analysis, "treatment"), expected["means_from_plot_means"], CLASSICAL)
    # The F that the book prints, 17.59, is against the hills; the right one is against the plots.
    close(row(analysis, "plot", "treatment")["f"], expected["f_treatment_correct"], 1e-8, "F against plots")


def test_germination_completely_random_as_arcsines(tmp_path):
    case = "seed-germination-temperature"
    shares = [
        (line["temperature_regime"], line["concentration"], math.asin(math.sqrt(int(line["germinated"]) / int(line["seeds"]))))
        for line in rows_of(case)
    ]
    data = written(tmp_path / "arcsine.csv", ["temperature_regime", "concentration", "share"], shares)
    sources = ["temperature_regime", "concentration", "temperature_regime x concentration", "residual"]
    check_strata(analyses(case, data)["share"], golden(case)["arcsine_anova"], [("plot", source) for source in sources])


def test_webworms_in_blocks_as_logarithms(tmp_path):
    case = "beet-webworm-counts"
    plots = by_plot(case, "block", "contact_spray", "lead_arsenate")
    logs = [(*plot, math.log(1 + sum(int(line["webworms"]) for line in lines))) for plot, lines in plots.items()]
    data = written(tmp_path / "plots.csv", ["block", "contact_spray", "lead_arsenate", "larvae"], logs)
    analysis = analyses(case, data)["larvae"]
    block, *treatments = golden(case)["plot_totals_log_anova"]
    ours = blocks("contact_spray", "lead_arsenate", "contact_spray x lead_arsenate")[1:]
    close(row(analysis, "block", "residual")["ss"], block["ss"], 1e-8, "SS of blocks")
    for (stratum, source), expected in zip(ours, treatments, strict=True):
        check_row(row(analysis, stratum, source), expected)
