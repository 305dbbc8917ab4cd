//! One side of a distribution, computed without cancellation, from which the other side follows.

/// The probability on one side of a point, as `exp(log_scale) * factor`.
///
/// Always the side on which the whole mass is not nearly gathered, so that one minus it keeps its digits.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    is_lower: bool,
    log_scale: f64,
    factor: f64,
}

impl Part {
    pub fn lower(log_scale: f64, factor: f64) -> Self {
        Self { is_lower: true, log_scale, factor }
    }

    pub fn upper(log_scale: f64, factor: f64) -> Self {
        Self { is_lower: false, log_scale, factor }
    }

    /// The distribution of the variable turned round.
    pub fn turned(self) -> Self {
        Self { is_lower: !self.is_lower, ..self }
    }

    /// Nothing below the point.
    pub const NOTHING_BELOW: Self = Self { is_lower: true, log_scale: 0.0, factor: 0.0 };
    /// Nothing above the point.
    pub const NOTHING_ABOVE: Self = Self { is_lower: false, log_scale: 0.0, factor: 0.0 };
    /// An argument that makes no sense.
    pub const NOT_A_NUMBER: Self = Self { is_lower: true, log_scale: 0.0, factor: f64::NAN };

    fn log(&self) -> f64 {
        // not `min`, which would make a number of NaN
        let log = self.log_scale + self.factor.ln();
        if log > 0.0 { 0.0 } else { log }
    }

    fn value(&self) -> f64 {
        // the product of a front that underflows with a large factor may still be a number
        let value = if self.log_scale > -700.0 { self.log_scale.exp() * self.factor } else { self.log().exp() };
        if value > 1.0 { 1.0 } else { value }
    }

    /// Lower and upper probability.
    pub fn tails(&self) -> (f64, f64) {
        let value = self.value();
        if self.is_lower { (value, 1.0 - value) } else { (1.0 - value, value) }
    }

    /// Natural logarithms of the lower and upper probability.
    pub fn log_tails(&self) -> (f64, f64) {
        let other = (-self.value()).ln_1p();
        if self.is_lower { (self.log(), other) } else { (other, self.log()) }
    }
}
