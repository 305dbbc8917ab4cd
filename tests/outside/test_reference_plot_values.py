"""Published cases whose plots were counted in parts, or that the golden analysis takes in another way as well.

The value of a plot (a mean of hills) is worked out here, as the golden script does; then it goes through the command that a
user has.
"""

from collections import defaultdict

import pytest

from cases import golden, measures, rows_of, written
from golden import CLASSICAL, check_pairs, check_row, close, row, table


def by_plot(case, *keys):
    plots = defaultdict(list)
    for line in rows_of(case):
        plots[tuple(line[key] for key in keys)].append(line)
    return plots


@pytest.mark.parametrize(("measure", "name"), [("yield", "anova_unadjusted"), ("plants", "anova_of_covariate")])
def test_beet_in_blocks_not_adjusted_for_stand(measure, name):
    case = "beet-yield-adjusted-for-stand"
    analysis = measures(case)[measure]["analysis"]
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
    data = written(tmp_path / "plots.csv", means, ["block", "treatment", "tillers"])
    analysis = measures(case, data=data)["tillers"]["analysis"]
    expected = golden(case)
    close(row(analysis, "block", "residual")["ss"], expected["anova_of_plot_means"][0]["ss"], 1e-8, "SS of blocks")
    check_row(row(analysis, "plot", "treatment"), expected["anova_of_plot_means"][1])
    check_row(row(analysis, "plot", "residual"), expected["anova_of_plot_means"][2])
    check_pairs(table(analysis, "treatment"), expected["means_from_plot_means"], CLASSICAL)
    # The F that the book prints, 17.59, is against the hills; the right one is against the plots.
    close(row(analysis, "plot", "treatment")["f"], expected["f_treatment_correct"], 1e-8, "F against plots")
