//! Fields whose ground is known: how the analysis as randomised, the chosen model of the ground, and the one that leads keep their size.
//!
//! Treatments do nothing and are drawn anew onto the plots in every trial, as a randomisation would; the ground is drawn anew as well.

use crate::{Count, normal, note};
use guardrow_design::{BlockStructure, Factor, Level, RandomStream, Scale, Seed, TreatmentStructure};
use guardrow_inference::{Estimate, Experiment, FieldLead, FieldPositions, FieldTrend, Options, field_trend};

/// Blocks of `passes x ranges` plots, one behind the other.
#[derive(Clone, Copy)]
pub struct Field {
    pub blocks: usize,
    pub ranges: usize,
    pub passes: usize,
}

/// What the ground does to the plots; each has an independent error of variance one besides.
#[derive(Clone, Copy)]
pub enum Ground {
    /// Blocks of variance one.
    Blocks,
    /// Wandering: first-order autoregression of variance two in both directions.
    Wandering(f64),
    /// A smooth wave over the field with a random direction and phase, of mean square two.
    Wave,
    /// Ranges and passes of variance one each.
    Stripes,
}

impl Field {
    pub fn plots(self) -> usize {
        self.blocks * self.ranges * self.passes
    }

    fn name(self) -> String {
        let treatments = self.ranges * self.passes;
        format!(
            "{treatments} entries, {} blocks, {} ranges x {} passes",
            self.blocks,
            self.blocks * self.ranges,
            self.passes
        )
    }
}

impl Ground {
    fn name(self) -> String {
        match self {
            Self::Blocks => "blocks only".into(),
            Self::Wandering(rho) => format!("wandering, correlation {rho}"),
            Self::Wave => "a smooth wave".into(),
            Self::Stripes => "ranges and passes".into(),
        }
    }

    fn drawn(self, ranges: usize, passes: usize, of_block: usize, stream: &mut RandomStream) -> Vec<f64> {
        let at = |f: &mut dyn FnMut(usize, usize) -> f64| {
            (0..ranges).flat_map(|range| (0..passes).map(move |pass| (range, pass))).map(|(a, b)| f(a, b)).collect()
        };
        match self {
            Self::Blocks => {
                let effects: Vec<f64> = (0..ranges / of_block).map(|_| normal(stream)).collect();
                at(&mut |range, _| effects[range / of_block])
            }
            Self::Stripes => {
                let along: Vec<f64> = (0..ranges).map(|_| normal(stream)).collect();
                let across: Vec<f64> = (0..passes).map(|_| normal(stream)).collect();
                at(&mut |range, pass| along[range] + across[pass])
            }
            Self::Wave => {
                let angle = std::f64::consts::TAU * normal(stream);
                let (phase, length) = (std::f64::consts::TAU * normal(stream), 10.0);
                let turn = std::f64::consts::TAU / length;
                at(&mut |range, pass| {
                    2.0 * (turn * (range as f64 * angle.cos() + pass as f64 * angle.sin()) + phase).sin()
                })
            }
            Self::Wandering(rho) => {
                let fresh = (1.0 - rho * rho).sqrt();
                let mut values = vec![0.0; ranges * passes];
                // white noise made alike along the passes of each range, then along the ranges
                for range in 0..ranges {
                    for pass in 0..passes {
                        let noise = normal(stream);
                        values[range * passes + pass] =
                            if pass == 0 { noise } else { rho * values[range * passes + pass - 1] + fresh * noise };
                    }
                }
                for range in 1..ranges {
                    for pass in 0..passes {
                        values[range * passes + pass] =
                            rho * values[(range - 1) * passes + pass] + fresh * values[range * passes + pass];
                    }
                }
                values.iter().map(|it| 2.0_f64.sqrt() * it).collect()
            }
        }
    }
}

fn trial(field: Field, ground: Ground, stream: &mut RandomStream) -> (Experiment, FieldPositions) {
    let (ranges, treatments) = (field.blocks * field.ranges, field.ranges * field.passes);
    let of_ground = ground.drawn(ranges, field.passes, field.ranges, stream);
    let response = of_ground.into_iter().map(|it| Some(100.0 + it + normal(stream))).collect();
    let mut treatment = Vec::new();
    for _ in 0..field.blocks {
        let mut order: Vec<usize> = (0..treatments).collect();
        for last in (1..treatments).rev() {
            order.swap(last, stream.below(last as u32 + 1) as usize);
        }
        treatment.extend(order);
    }
    let levels = (1..=treatments).map(|it| Level { label: format!("e{it}"), amount: None }).collect();
    let factor = Factor { name: "entry".into(), scale: Scale::Qualitative, levels };
    let experiment = Experiment::new(
        BlockStructure::unit("block").nest(BlockStructure::unit("plot")),
        vec![("block".into(), (0..field.plots()).map(|plot| plot / treatments).collect())],
        TreatmentStructure { factors: vec![factor], controls: Vec::new() },
        treatment,
        response,
    );
    let range = (0..field.plots()).map(|plot| plot / field.passes + 1).collect();
    let pass = (0..field.plots()).map(|plot| plot % field.passes + 1).collect();
    (experiment, FieldPositions::new(range, pass))
}

/// What was counted on one kind of field.
pub struct Counts {
    pub field: String,
    pub ground: String,
    /// Tests and intervals of each analysis.
    pub counts: Vec<Count>,
    /// Mean standard error of the difference by the leading analysis over that as randomised.
    pub gain: f64,
    /// Share of trials in which a model leads.
    pub led: f64,
    /// Models that could not be fitted, over all trials.
    pub unfitted: usize,
}

pub fn simulate(field: Field, ground: Ground, runs: usize, seed: u64) -> Counts {
    let mut stream = RandomStream::new(&Seed::from_number(seed));
    let (mut counts, mut ratios, mut led, mut unfitted_models) = (Vec::new(), 0.0, 0, 0);
    for _ in 0..runs {
        let (experiment, places) = trial(field, ground, &mut stream);
        let result = field_trend(&experiment, &places, &Options::default()).expect("every field can be analysed");
        let weights: Vec<f64> =
            (0..field.ranges * field.passes).map(|it| [1.0, -1.0].get(it).copied().unwrap_or(0.0)).collect();
        let plain = result.as_randomised.contrast(&weights).expect("a difference");
        let model = result.contrast(&weights).expect("a difference");
        let leads = result.lead == FieldLead::Model;
        led += usize::from(leads);
        ratios += if leads { model.se / plain.se } else { 1.0 };
        for (name, test, estimate) in
            [("as randomised", &result.as_randomised.tests[0], plain), ("chosen model", &result.tests[0], model)]
        {
            note(&mut counts, format!("{name}, F"), test.den_df, test.p < 0.05);
            note(&mut counts, format!("{name}, interval"), estimate.df, misses(&estimate));
        }
        unfitted_models += unfitted(&result);
    }
    let share = |count: usize| count as f64 / runs as f64;
    Counts {
        field: field.name(),
        ground: ground.name(),
        counts,
        gain: ratios / runs as f64,
        led: share(led),
        unfitted: unfitted_models,
    }
}

fn misses(estimate: &Estimate) -> bool {
    let (lower, upper) = estimate.interval(0.05);
    lower > 0.0 || upper < 0.0
}

/// Models that were fitted make sense; how many were not is counted.
fn unfitted(result: &FieldTrend) -> usize {
    let mut unfitted = 0;
    for model in &result.models.models {
        match model.sed {
            Some(sed) => assert!(sed.min > 0.0 && sed.max.is_finite(), "{}", model.name),
            None => unfitted += 1,
        }
    }
    unfitted
}

const FIELDS: [Field; 3] = [
    Field { blocks: 4, ranges: 1, passes: 6 },
    Field { blocks: 4, ranges: 2, passes: 5 },
    Field { blocks: 4, ranges: 2, passes: 8 },
];

/// All kinds of field and ground.
pub fn kinds() -> Vec<(Field, Ground)> {
    let grounds = [Ground::Blocks, Ground::Wandering(0.6), Ground::Wandering(0.9), Ground::Wave, Ground::Stripes];
    FIELDS.into_iter().flat_map(|field| grounds.map(|ground| (field, ground))).collect()
}

impl Counts {
    /// A line of the table.
    pub fn line(&self) -> String {
        let missed: Vec<String> = self.counts.iter().map(|it| format!("{:.1}", 100.0 * it.share())).collect();
        let (field, ground, missed) = (&self.field, &self.ground, missed.join(" | "));
        format!("| {field} | {ground} | {missed} | {:.0} | {:.2} | {} |", 100.0 * self.led, self.gain, self.unfitted)
    }

    /// The analysis as randomised must hold its size; the chosen model may be off by as much as the page tells.
    pub fn check(&self) {
        for count in &self.counts {
            let chance = 4.5 * (0.05 * 0.95 / count.runs as f64).sqrt();
            let allowed = match count.name.as_str() {
                "chosen model, F" => 0.08,
                "chosen model, interval" => 0.04,
                _ => 0.0,
            };
            let share = count.share();
            assert!(
                (share - 0.05).abs() <= chance + allowed,
                "{}, {}, {}: {share}",
                self.field,
                self.ground,
                count.name
            );
        }
        // of five models in every trial
        let models = 5 * self.counts[0].runs;
        assert!(self.unfitted * 50 <= models, "{} of {models} models were not fitted", self.unfitted);
    }
}
