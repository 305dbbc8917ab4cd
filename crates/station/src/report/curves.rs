//! Responses to amounts as curves: which curves are told, in sentences, and drawn.

use guardrow_design::{Factor, Scale};
use guardrow_inference::{
    Analysis, BestAmount, CurveFit, CurveNotice, CurveOptions, Form, GroupCurves, Optimum, ResponseCurves, SharedPart,
};
use guardrow_publish::chart::Figure;

use super::curve_chart;
use super::numbers::{Decimals, df, f_ratio, p_value};
use crate::analysed::Analysed;
use crate::dossier::Laid;
use crate::paying::Paying;

/// A curve asks for more amounts than a bend has parameters.
pub(crate) const FEWEST_AMOUNTS: usize = 4;
/// Steps in which a curve is drawn.
const STEPS: usize = 48;

/// What is said and shown of the response to amounts.
#[derive(Default)]
pub(crate) struct Curves {
    /// Sentences.
    pub sentences: Vec<String>,
    /// A chart for each quantitative factor.
    pub figures: Vec<Figure>,
}

/// One response to the amounts of one factor, ready to be told.
pub(crate) struct OverAmounts<'a> {
    /// The measure.
    pub measure: &'a Analysed,
    /// Plots and treatments.
    pub laid: &'a Laid,
    /// The quantitative factor.
    pub factor: &'a Factor,
    /// Unit of the amounts.
    pub unit: &'a str,
    /// The factor at whose levels the curves differ.
    pub by: Option<&'a Factor>,
    /// One curve, or one for each of its levels.
    pub groups: Vec<GroupCurves>,
    /// The form drawn in each group; none where no form fits.
    pub forms: Vec<Option<Form>>,
    /// What the amount costs and the response brings, where the plan says so.
    pub paying: Option<Paying>,
    /// Decimals of the response.
    pub decimals: Decimals,
    /// Decimals of the amounts.
    pub amounts: Decimals,
}

/// Curves over every quantitative factor with enough levels: one where its average may be told and the curves do not differ, else
/// one for each level of the factor by which they differ.
///
/// - `withheld`: factors whose average hides a decision, so that no curve of it is told
/// - `paying`: prices for the amounts of a factor
pub(crate) fn curves(
    measure: &Analysed,
    analysis: &Analysis,
    laid: &Laid,
    withheld: &[String],
    decimals: Decimals,
    paying: impl Fn(&Factor) -> Option<Paying>,
) -> Curves {
    let mut told = Curves::default();
    for factor in laid.treatments.factors.iter().filter(|factor| factor.levels.len() >= FEWEST_AMOUNTS) {
        let Scale::Quantitative { unit } = &factor.scale else { continue };
        let asked = Asked { analysis, laid, factor, withheld: withheld.contains(&factor.name), paying: paying(factor) };
        let Some(chosen) = asked.choose() else { continue };
        let amounts = factor.levels.iter().filter_map(|level| level.amount);
        let (low, high) =
            amounts.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), it| (low.min(it), high.max(it)));
        let over = OverAmounts {
            measure,
            laid,
            factor,
            unit,
            by: chosen.by,
            groups: chosen.groups,
            forms: chosen.forms,
            paying: asked.paying,
            decimals,
            amounts: Decimals::of_amounts(high - low),
        };
        told.sentences.extend(chosen.why);
        told.sentences.extend(over.sentences());
        told.figures.push(curve_chart::figure(&over, analysis));
    }
    told
}

/// A factor whose curves are asked for.
struct Asked<'a> {
    analysis: &'a Analysis,
    laid: &'a Laid,
    factor: &'a Factor,
    withheld: bool,
    paying: Option<Paying>,
}

struct Chosen<'a> {
    by: Option<&'a Factor>,
    groups: Vec<GroupCurves>,
    forms: Vec<Option<Form>>,
    why: Option<String>,
}

impl<'a> Asked<'a> {
    fn fitted(&self, by: Option<&Factor>) -> Option<ResponseCurves> {
        let price_ratio = self.paying.as_ref().map(|paying| paying.ratio);
        let options = CurveOptions { price_ratio, drawn_in: STEPS, ..CurveOptions::default() };
        let by = by.map(|by| by.name.as_str());
        self.analysis.response_curves(&self.factor.name, by, &[], &[], &options).ok()
    }

    fn choose(&self) -> Option<Chosen<'a>> {
        let others = self.laid.treatments.factors.iter().filter(|other| other.name != self.factor.name);
        let differing = others.filter_map(|other| self.differing(other)).min_by(|a, b| a.0.total_cmp(&b.0));
        match differing {
            Some((_, chosen)) => Some(chosen),
            None if self.withheld => None,
            None => {
                let groups = self.fitted(None)?.groups;
                let forms = groups.iter().map(|group| group.fit_equally.first().copied()).collect();
                Some(Chosen { by: None, groups, forms, why: None })
            }
        }
    }

    /// Curves by another factor, with the p of what tells them apart, if they differ in shape or must be told apart.
    fn differing(&self, other: &'a Factor) -> Option<(f64, Chosen<'a>)> {
        let curves = self.fitted(Some(other))?;
        let form = common_form(&curves.groups);
        let test = form.and_then(|form| {
            let of = |part: SharedPart| curves.sharing.iter().find(|test| test.form == form && test.shared == part);
            of(SharedPart::Shape).or_else(|| of(SharedPart::Everything))
        });
        let differ = test.filter(|test| test.p < curves.level);
        if differ.is_none() && !self.withheld {
            return None;
        }
        let why = differ.map(|test| {
            format!(
                "The response to {} differs by {}: against {}, F {} on {} and {} df, p {}; so each level has its own curve.",
                self.factor.name,
                other.name,
                test.shared.words(),
                f_ratio(test.f),
                df(test.num_df),
                df(test.den_df),
                p_value(test.p)
            )
        });
        let own = |group: &GroupCurves| form.or(group.fit_equally.first().copied());
        let forms = curves.groups.iter().map(own).collect();
        Some((test.map_or(1.0, |test| test.p), Chosen { by: Some(other), groups: curves.groups, forms, why }))
    }
}

/// The form that fits all groups best together: without lack of fit in any, and with the lowest sum of criteria.
fn common_form(groups: &[GroupCurves]) -> Option<Form> {
    let corrected = groups.iter().flat_map(|group| &group.curves).any(|curve| curve.aicc.is_some());
    let of_group = |group: &GroupCurves, form: Form| {
        let curve = group.curve(form).filter(|curve| curve.lack_of_fit.is_none_or(|test| test.p >= 0.05))?;
        if corrected { curve.aicc } else { curve.aic }
    };
    let total = |form: Form| groups.iter().map(|group| of_group(group, form)).sum::<Option<f64>>();
    let fitting = Form::ALL.into_iter().filter_map(|form| Some((form, total(form)?)));
    fitting.min_by(|a, b| a.1.total_cmp(&b.1)).map(|it| it.0)
}

impl OverAmounts<'_> {
    /// An amount with its unit.
    pub(crate) fn amount(&self, amount: f64) -> String {
        format!("{} {}", self.amounts.value(amount), self.unit)
    }

    /// The curve that is drawn for a group.
    pub(crate) fn drawn(&self, index: usize) -> Option<&CurveFit> {
        self.groups[index].curve(self.forms[index]?)
    }

    fn sentences(&self) -> Vec<String> {
        let highest = self.groups.iter().map(|group| self.highest(group));
        highest.chain(self.highest_return()).collect()
    }

    fn highest(&self, group: &GroupCurves) -> String {
        let words = group.fit_equally_words(|curve| &curve.best, |amount| self.amount(amount));
        let which = match group.label.as_str() {
            "" => "averaged over the other factors".to_owned(),
            level => format!("at {level}"),
        };
        let which = if self.laid.treatments.factors.len() == 1 { String::new() } else { format!(", {which}") };
        format!("Curve over {}{which}, for the highest response and without prices: {words}", self.factor.name)
    }

    /// The amounts with the highest return, on the curves that are drawn.
    fn highest_return(&self) -> Option<String> {
        let paying = self.paying.as_ref()?;
        let told: Vec<String> = (0..self.groups.len()).filter_map(|index| self.return_of(index)).collect();
        let sentence = format!(
            "The amount of {} with the highest return, at {}: {}.",
            self.factor.name,
            paying.words,
            told.join("; ")
        );
        (!told.is_empty()).then_some(sentence)
    }

    fn return_of(&self, index: usize) -> Option<String> {
        let (label, fit) = (&self.groups[index].label, self.drawn(index)?);
        let at = if label.is_empty() { String::new() } else { format!("at {label} ") };
        let of = fit.form.name();
        Some(match fit.economic.as_ref()? {
            BestAmount::NoBest(why) => format!("{at}not to be told ({of} curve; {})", unstopped(&why.sentence())),
            BestAmount::Found(best) if is_lowest(best) => {
                format!("{at}{}, the lowest tested ({of} curve; more does not pay)", self.amount(best.amount.estimate))
            }
            BestAmount::Found(best) => {
                let within = best.profile.map_or_else(
                    || "without an interval".to_owned(),
                    |it| format!("95 % interval {}", it.words(|amount| self.amount(amount))),
                );
                let beyond = match best.notices.contains(&CurveNotice::Extrapolated) {
                    true => "; outside the tested amounts",
                    false => "",
                };
                format!("{at}{} ({within}; {of} curve{beyond})", self.amount(best.amount.estimate))
            }
        })
    }
}

/// Whether the lowest tested amount is best, so that what bounds it from below says nothing.
pub(crate) fn is_lowest(best: &Optimum) -> bool {
    best.notices.contains(&CurveNotice::LowestIsBest)
}

fn unstopped(sentence: &str) -> String {
    guardrow_findings::mid_sentence(sentence.trim_end_matches('.'))
}
