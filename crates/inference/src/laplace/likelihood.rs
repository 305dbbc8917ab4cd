//! What the engine must know about one kind of observation.

/// Log-likelihood of one observation close by: value, first derivative by its linear predictor, minus the second.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Near {
    pub log: f64,
    pub slope: f64,
    pub weight: f64,
}

/// First to fourth derivative of an observation's log-likelihood by its linear predictor.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Derivatives {
    pub first: f64,
    pub second: f64,
    pub third: f64,
    pub fourth: f64,
}

/// Derivatives of the log-likelihood and of its first three derivatives by one further parameter.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct ByExtra {
    /// Which further parameter.
    pub extra: usize,
    pub log: f64,
    pub first: f64,
    pub second: f64,
    pub third: f64,
}

/// Second derivatives of the log-likelihood and of its first two derivatives by two further parameters, `a >= b`.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct ByTwoExtras {
    pub a: usize,
    pub b: usize,
    pub log: f64,
    pub first: f64,
    pub second: f64,
}

/// How one observation depends on the further parameters: on two of them at most.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct ExtraDerivatives {
    pub once: [Option<ByExtra>; 2],
    pub twice: [Option<ByTwoExtras>; 3],
}

/// One kind of observation. The log-likelihood of an observation must be concave in its linear predictor.
pub(crate) trait Likelihood {
    /// Number of further parameters.
    fn extras(&self) -> usize {
        0
    }

    /// Whether the further parameters enter by their squares only, with an edge at zero, as standard deviations do.
    fn extras_are_spreads(&self) -> bool {
        false
    }

    /// Takes over values of the further parameters; false where they lie outside their range.
    fn set_extras(&mut self, _values: &[f64]) -> bool {
        true
    }

    /// The log-likelihood (constants may be left out) with its slope and weight.
    fn near(&self, observation: usize, predictor: f64) -> Near;

    /// Whether a predictor lies so far out that only a likelihood rising without end leads there.
    fn is_foretold(&self, observation: usize, predictor: f64) -> bool;

    /// Derivatives by the predictor.
    fn derivatives(&self, observation: usize, predictor: f64) -> Derivatives;

    /// Derivatives by the further parameters.
    fn by_extras(&self, _observation: usize, _predictor: f64) -> ExtraDerivatives {
        ExtraDerivatives::default()
    }
}
