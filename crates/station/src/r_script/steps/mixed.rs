//! The mixed model by lme4: variances, likelihood, predictions; and least squares with the units fixed.

use guardrow_inference::PredictionTable;

use super::{BY_MODEL, BY_STRATA, Steps};
use crate::r_script::section::Model;

const VARIANCES: &str = "variances by REML";
const FIXED: &str = "units as fixed effects";

/// Whether the section has a mixed model.
pub(super) fn is_there(model: &Model<'_>) -> bool {
    model.section.analysis.mixed.as_ref().is_some_and(|mixed| !mixed.components.is_empty())
}

/// Writes the fit and what follows from it alone.
pub(in crate::r_script) fn write(model: &Model<'_>, steps: &mut Steps<'_>) {
    if is_there(model) {
        fit(model, steps);
        for table in &model.section.analysis.predictions {
            predictions(model, steps, table);
        }
    }
    fixed_units(model, steps);
}

fn fit(model: &Model<'_>, steps: &mut Steps<'_>) {
    let Some(mixed) = &model.section.analysis.mixed else { return };
    let present = model.parts.cells.iter().filter(|cell| cell.plots > 0).count();
    let fixed = if present > 1 { "0 + cell" } else { "1" };
    let random = model.groupings.iter().filter(|it| it.in_mixed).map(|it| match it.of_sample {
        true => format!("(0 + in_sample | {})", it.column),
        false => format!("(1 | {})", it.column),
    });
    let parts: Vec<String> =
        std::iter::once(fixed.to_owned()).chain(model.covariates.iter().cloned()).chain(random).collect();
    steps.blank();
    steps.comment("Mixed model: treatments fixed, units larger than plots random, variances by REML.");
    steps.line(&format!("model <- fitted_by_reml(y ~ {}, d)", parts.join(" + ")));
    steps.line("print(VarCorr(model), comp = c(\"Variance\", \"Std.Dev.\"))");
    if mixed.evidence.singular {
        steps.comment(
            "A variance is estimated at zero, the edge of what is possible. Programs that stop their search just short of zero, or drop the term, give slightly other errors and degrees of freedom than those with the zero kept.",
        );
    }
    let columns: Vec<String> = mixed
        .components
        .iter()
        .filter_map(|component| model.groupings.iter().find(|it| it.name == component.name))
        .map(|grouping| crate::r_script::names::quoted(&grouping.column))
        .collect();
    let components = mixed.components.iter().map(|it| (it.name.clone(), Some(it.variance)));
    let all = components.chain([("residual".to_owned(), Some(mixed.residual_variance))]);
    steps.numbers.add(VARIANCES, "", "variance", all);
    steps.line("variances <- as.data.frame(VarCorr(model))");
    let here = format!("c(variances$vcov[match(c({}), variances$grp)], sigma(model)^2)", columns.join(", "));
    steps.compare(VARIANCES, "", "variance", &here, BY_MODEL, "sigma(model)^2");
    steps.numbers.one(VARIANCES, "", "log-likelihood", Some(mixed.reml_log_likelihood));
    steps.compare(VARIANCES, "", "log-likelihood", "as.numeric(logLik(model))", BY_STRATA, "1");
    if present > 1 {
        steps.line("cells_by_model <- emmeans(model, ~cell, lmer.df = \"kenward-roger\")");
    }
}

fn predictions(model: &Model<'_>, steps: &mut Steps<'_>, table: &PredictionTable) {
    let part = "predicted effects";
    let Some(grouping) = model.groupings.iter().find(|it| it.name == table.label) else { return };
    let column = &grouping.column;
    let inside = if grouping.of_sample { "[d$in_sample == 1]" } else { "" };
    steps.numbers.add(part, &table.label, "effect", table.rows.iter().map(|row| (row.label.clone(), Some(row.effect))));
    let here = format!("ranef(model)[[\"{column}\"]][unique(as.character(d${column}{inside})), 1]");
    steps.compare(part, &table.label, "effect", &here, BY_MODEL, "sigma(model)");
}

/// Least squares with every larger unit as a fixed effect, as it is given beside a layout that is not orthogonal.
fn fixed_units(model: &Model<'_>, steps: &mut Steps<'_>) {
    let Some(fixed) = &model.section.analysis.fixed_units else { return };
    if !model.covariates.is_empty() {
        return;
    }
    let units: Vec<&str> = model.groupings.iter().map(|it| it.column.as_str()).collect();
    steps.blank();
    steps.comment("Least squares with blocks, rows and columns as fixed effects: differences within them alone.");
    steps.line(&format!("within <- lm(y ~ {} + cell, data = d)", units.join(" + ")));
    steps.line("print(anova(within))");
    steps.numbers.one(FIXED, "treatments", "numerator df", Some(fixed.treatments.df));
    steps.numbers.one(FIXED, "treatments", "denominator df", Some(fixed.residual_df));
    steps.numbers.one(FIXED, "treatments", "F", fixed.treatments.f);
    steps.numbers.one(FIXED, "treatments", "p", fixed.treatments.p);
    steps.line(&format!(
        "compare_test(measure, \"{FIXED}\", \"treatments\", test_of_row(anova(within), \"cell\"), {BY_STRATA})"
    ));
    steps.numbers.one(FIXED, "residual", "mean square", Some(fixed.residual_ms));
    steps.compare(FIXED, "residual", "mean square", "sigma(within)^2", BY_STRATA, "0");
    let plots = &model.section.measure.plots;
    let missing = fixed.missing_plots.iter();
    let missing: Vec<(String, Option<f64>)> =
        missing.map(|it| (format!("plot {}", plots[it.plot]), Some(it.estimate))).collect();
    if !missing.is_empty() {
        let numbers: Vec<String> = fixed.missing_plots.iter().map(|it| plots[it.plot].to_string()).collect();
        steps.numbers.add(FIXED, "missing plots", "estimate", missing);
        steps.comment("What the plots without a value would be expected to have.");
        // With blocks within fixed places some coefficients are not needed, which predict() remarks upon.
        let here =
            format!("suppressWarnings(predict(within, trial[match(c({}), trial$plot_number), ]))", numbers.join(", "));
        steps.compare(FIXED, "missing plots", "estimate", &here, BY_STRATA, "0");
    }
}
