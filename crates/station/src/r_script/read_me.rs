//! What stands beside the script for a person to read first.

use super::names::{Columns, Role, one_line};
use super::{Measured, SCRIPT, Trial};
use crate::analysed::Analysed;

/// What the files are, what every column is, and what is not reproduced.
pub(super) fn read_me(trial: &Trial<'_>, columns: &Columns, measured: &[Measured], analysed: &[Analysed]) -> String {
    let head = &trial.dossier.plan.trial;
    let mut text = format!(
        "Trial {}: {}\n\nThis folder reproduces Guardrow's analyses of the trial in R.\n\n\
         {SCRIPT}    the script; run it with: Rscript {SCRIPT}\n\
         plots.csv      one row per plot (comma separated, UTF-8)\n\
         expected.csv   Guardrow's numbers with all their digits\n\n\
         R needs the packages lme4, pbkrtest, emmeans and mvtnorm. On Debian:\n\
         apt install r-base-core r-cran-lme4 r-cran-pbkrtest r-cran-emmeans r-cran-multcomp\n\n\
         The script prints each number of Guardrow beside its own with the relative difference, and ends with an error when\n\
         one differs by more than it may. To save what it prints: Rscript {SCRIPT} > compared.txt\n\n\
         Units: {}\n\nColumns of plots.csv\n  plot_number: number of the plot\n",
        one_line(&head.code),
        one_line(&head.title),
        one_line(&trial.experiment.blocks.to_string()),
    );
    let of = |role: Role, name: &str| columns.of(role, name).unwrap_or_default().to_owned();
    for (unit, _) in &trial.experiment.units {
        text.push_str(&format!(
            "  {}: {}, numbered within the unit that holds it\n",
            of(Role::Unit, unit),
            one_line(unit)
        ));
    }
    text.push_str("  treatment: the treatment in words\n");
    for factor in &trial.experiment.treatments.factors {
        text.push_str(&format!(
            "  {}: level of {}; empty for a control\n",
            of(Role::Factor, &factor.name),
            one_line(&factor.name)
        ));
    }
    for it in measured {
        let (name, unit) = (one_line(&it.name), one_line(&it.unit));
        text.push_str(&format!("  {}: {name}, in {unit}; empty where there is no value\n", of(Role::Measure, &it.key)));
    }
    let left_out: Vec<String> = analysed
        .iter()
        .filter_map(|measure| Some(format!("  {}: {}\n", one_line(&measure.name), measure.outcome.as_ref().err()?)))
        .collect();
    if !left_out.is_empty() {
        text.push_str("\nMeasures without an analysis\n");
        left_out.iter().for_each(|line| text.push_str(line));
    }
    text
}
