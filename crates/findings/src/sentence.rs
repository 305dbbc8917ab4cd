//! Clauses made from the numbers of a difference, in the words that its verdict allows.

use crate::figure::{Figures, plain};
use crate::{Bounds, Interval, Numbers, Sidedness, Strength, Verdict};

/// What a sentence is about.
#[derive(Debug, Clone)]
pub(crate) struct Telling<'a> {
    pub first: &'a str,
    pub second: &'a str,
    /// Name of the measure as it stands within a sentence.
    pub measure: String,
    /// Symbol of differences of the measure.
    pub unit: &'a str,
    pub sidedness: Sidedness,
    /// Whether a lower value is what is claimed, or (without direction) better.
    pub lower_is_as_claimed: bool,
    pub manner: Manner,
}

/// Whether a difference decides the claim or is a step (or rival) beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Manner {
    Claim,
    Step,
}

/// Numbers oriented as claimed, with the way they are written.
struct Oriented {
    bounds: Bounds,
    margin: f64,
    figures: Figures,
}

impl Oriented {
    fn new(bounds: Bounds, se: f64, judged: &Judged) -> Oriented {
        let Bounds { estimate, interval, equivalence } = bounds;
        let (interval, equivalence) = ([interval.lower, interval.upper], [equivalence.lower, equivalence.upper]);
        let shown = match (judged.line, judged.strength) {
            (2, Some(_)) => vec![equivalence[0], equivalence[1], interval[0], interval[1]],
            (2 | 5, _) => equivalence.to_vec(),
            _ => vec![estimate, interval[0], interval[1]],
        };
        let limits = [0.0, judged.margin, -judged.margin];
        Oriented { bounds, margin: judged.margin, figures: Figures::new(se, &shown, &limits) }
    }
}

impl Telling<'_> {
    /// The verdict as a clause without place, premise and closing words, for lines 2 to 6 of the table.
    pub fn clause(&self, numbers: &Numbers, judged: &Judged) -> String {
        let oriented = Oriented::new(numbers.bounds(self.lower_is_as_claimed), numbers.se, judged);
        match (judged.line, judged.verdict) {
            (2, _) => self.no_difference_that_matters(&oriented, judged.strength),
            (3, Verdict::Supported) => self.supported(&oriented, judged.strength),
            (3, Verdict::SecondBetter) => self.better(&oriented.mirrored(), judged.strength, self.second, self.first),
            (3, _) => self.better(&oriented, judged.strength, self.first, self.second),
            (4, _) => self.contradicted(&oriented, judged.strength),
            (5, _) => self.no_gain(&oriented),
            _ => self.undecided(&oriented),
        }
    }

    fn supported(&self, told: &Oriented, strength: Option<Strength>) -> String {
        let Telling { first, second, measure, .. } = self;
        let raised = self.verb().past;
        let by = self.by(told, told.bounds.interval);
        match strength {
            Some(Strength::AtLeastTheMargin) => format!(
                "{first} {raised} {measure} {by} compared with {second}, at least the margin of {}",
                self.margin(told)
            ),
            _ => format!(
                "{first} {raised} {measure} compared with {second}, by how much is less sure: {by}, estimate {}",
                self.amount(told, told.bounds.estimate)
            ),
        }
    }

    fn better(&self, told: &Oriented, strength: Option<Strength>, better: &str, other: &str) -> String {
        let measure = &self.measure;
        let side = if self.lower_is_as_claimed { "lower" } else { "higher" };
        let by = self.by(told, told.bounds.interval);
        let outcome = match self.manner {
            Manner::Claim => format!("{better} was better than {other} in {measure}"),
            Manner::Step => format!("{better} differed from {other} in {measure}"),
        };
        match strength {
            Some(Strength::AtLeastTheMargin) => {
                format!("{outcome}, {side} {by}, at least the margin of {}", self.margin(told))
            }
            _ => format!(
                "{outcome}, by how much is less sure: {side} {by}, estimate {}",
                self.amount(told, told.bounds.estimate)
            ),
        }
    }

    fn no_difference_that_matters(&self, told: &Oriented, strength: Option<Strength>) -> String {
        let Telling { first, second, measure, .. } = self;
        let equivalence = self.extent(told, told.bounds.equivalence);
        let plain = format!(
            "{first} made no difference that matters (less than {}) in {measure} compared with {second}: {equivalence}",
            self.margin(told)
        );
        match strength {
            Some(Strength::RealButSmaller) => format!(
                "{plain}; there is a real difference, smaller than matters: {}",
                self.extent(told, told.bounds.interval)
            ),
            _ => plain,
        }
    }

    fn contradicted(&self, told: &Oriented, strength: Option<Strength>) -> String {
        let Telling { first, second, measure, .. } = self;
        let (verb, against) = (self.verb(), self.opposite_verb());
        let by = self.by(told, told.bounds.interval);
        let head = format!("{first} did not {} {measure} compared with {second}; it {} it", verb.base, against.past);
        match strength {
            Some(Strength::AtLeastTheMargin) => format!("{head} {by}, at least the margin of {}", self.margin(told)),
            _ => {
                format!("{head}, by how much is less sure: {by}, estimate {}", self.amount(told, told.bounds.estimate))
            }
        }
    }

    fn no_gain(&self, told: &Oriented) -> String {
        let Telling { first, second, measure, .. } = self;
        let (gain, loss) = if self.lower_is_as_claimed { ("lowering", "rise") } else { ("gain", "loss") };
        format!(
            "{first} did not {} {measure} by as much as matters compared with {second}: any {gain} is smaller than {} \
             ({}); a {loss} is not excluded",
            self.verb().base,
            self.margin(told),
            self.extent(told, told.bounds.equivalence)
        )
    }

    fn undecided(&self, told: &Oriented) -> String {
        let Telling { first, second, measure, .. } = self;
        let margin = self.margin(told);
        let question = match (self.sidedness, self.manner) {
            (Sidedness::Directed, _) => {
                format!("whether {first} {} {measure} by {margin} or more compared with {second}", self.verb().present)
            }
            (Sidedness::Either, Manner::Claim) => format!(
                "which of {first} and {second} is better in {measure}, or whether they differ by as much as matters \
                 ({margin})"
            ),
            (Sidedness::Either, Manner::Step) => {
                format!("whether {first} and {second} differ in {measure} by as much as matters ({margin})")
            }
        };
        let estimate = self.signed(told, told.bounds.estimate);
        let interval = self.extent(told, told.bounds.interval);
        format!("this trial cannot tell {question}: estimate {estimate}, {interval}{}", self.what_is_sure(told))
    }

    /// What an undecided interval does settle.
    fn what_is_sure(&self, told: &Oriented) -> String {
        let Bounds { interval, equivalence, .. } = told.bounds;
        let side = |positive: bool| if positive != self.lower_is_as_claimed { "higher" } else { "lower" };
        if interval.lower > 0.0 || interval.upper < 0.0 {
            let first = self.first;
            let side = side(interval.lower > 0.0);
            return format!("; that {first} is {side} is sure, whether by as much as matters is not");
        }
        if self.sidedness == Sidedness::Either && (equivalence.upper < told.margin || equivalence.lower > -told.margin)
        {
            let (first, margin) = (self.first, self.margin(told));
            let side = side(equivalence.upper < told.margin);
            return format!("; that {first} is {side} by {margin} or more is excluded");
        }
        String::new()
    }

    /// `by 120 to 350 kg/ha (95 % interval)`: both ends lie on one side of zero.
    fn by(&self, told: &Oriented, interval: Interval) -> String {
        let (near, far) = if interval.lower.abs() <= interval.upper.abs() {
            (interval.lower, interval.upper)
        } else {
            (interval.upper, interval.lower)
        };
        let level = percent(interval.level);
        format!("by {} to {} {} ({level} interval)", told.figures.size(near), told.figures.size(far), self.unit)
    }

    /// `95 % interval from 20 kg/ha lower to 260 kg/ha higher`, or `95 % interval 20 to 260 kg/ha higher`.
    fn extent(&self, told: &Oriented, interval: Interval) -> String {
        let level = percent(interval.level);
        let shown = if self.lower_is_as_claimed { interval.mirrored() } else { interval };
        if shown.lower < 0.0 && shown.upper > 0.0 {
            let (lower, upper) = (self.amount(told, shown.lower), self.amount(told, shown.upper));
            return format!("{level} interval from {lower} lower to {upper} higher");
        }
        let (near, far, side) =
            if shown.lower >= 0.0 { (shown.lower, shown.upper, "higher") } else { (shown.upper, shown.lower, "lower") };
        format!("{level} interval {} to {} {side}", told.figures.size(near), self.amount(told, far))
    }

    /// `20 kg/ha lower`: the first option against the second.
    fn signed(&self, told: &Oriented, oriented: f64) -> String {
        let amount = self.amount(told, oriented);
        if oriented == 0.0 {
            return amount;
        }
        let side = if (oriented < 0.0) != self.lower_is_as_claimed { "lower" } else { "higher" };
        format!("{amount} {side}")
    }

    fn amount(&self, told: &Oriented, value: f64) -> String {
        format!("{} {}", told.figures.size(value), self.unit)
    }

    fn margin(&self, told: &Oriented) -> String {
        format!("{} {}", plain(told.margin), self.unit)
    }

    fn verb(&self) -> Verb {
        if self.lower_is_as_claimed { LOWER } else { RAISE }
    }

    fn opposite_verb(&self) -> Verb {
        if self.lower_is_as_claimed { RAISE } else { LOWER }
    }

    /// The estimate and its interval alone: `seeding date early 120 kg/ha higher than late in yield (95 % ...)`.
    pub fn estimate_only(&self, numbers: &Numbers) -> String {
        let told = Oriented {
            bounds: numbers.bounds(self.lower_is_as_claimed),
            margin: 0.0,
            figures: Figures::new(
                numbers.se,
                &[numbers.estimate, numbers.interval.lower, numbers.interval.upper],
                &[0.0],
            ),
        };
        let Telling { first, second, measure, .. } = self;
        format!(
            "{first} against {second} in {measure}: estimate {}, {}",
            self.signed(&told, told.bounds.estimate),
            self.extent(&told, told.bounds.interval)
        )
    }
}

impl Oriented {
    fn mirrored(&self) -> Oriented {
        Oriented { bounds: self.bounds.mirrored(), margin: self.margin, figures: self.figures }
    }
}

/// What a clause is told from: a line of the table that has numbers and a margin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Judged {
    pub line: u8,
    pub verdict: Verdict,
    pub strength: Option<Strength>,
    pub margin: f64,
}

#[derive(Clone, Copy)]
struct Verb {
    base: &'static str,
    present: &'static str,
    past: &'static str,
}

const RAISE: Verb = Verb { base: "raise", present: "raises", past: "raised" };
const LOWER: Verb = Verb { base: "lower", present: "lowers", past: "lowered" };

/// `95 %`, `98.3 %`.
pub(crate) fn percent(level: f64) -> String {
    format!("{} %", plain((level * 1000.0).round() / 10.0))
}
