//! Draws for the invented values: uniform and normal, the same on every machine.
//!
//! A normal deviate is the sum of twelve uniform ones less six (mean 0, variance 12 x 1/12 = 1). It uses additions
//! only, so that it comes out the same to the last bit everywhere, which logarithms and cosines do not promise. It has
//! no value beyond 6 standard deviations, which invented data do not need.

use guardrow_design::{RandomStream, Seed};

/// Steps into which the unit interval is cut: the numbers are exact in an `f64`.
const STEPS: u32 = 1 << 24;

/// The stream from which all values of one trial are drawn.
pub(crate) struct Draws(RandomStream);

impl Draws {
    /// The stream of one trial: the seed's bytes with the trial's number in the last of them.
    pub(crate) fn of_trial(seed: &Seed, trial: u8) -> Draws {
        let mut bytes = *seed.bytes();
        bytes[31] = trial;
        Draws(RandomStream::new(&Seed::from_bytes(bytes)))
    }

    /// A number between 0 and 1, each step equally likely.
    fn uniform(&mut self) -> f64 {
        (f64::from(self.0.below(STEPS)) + 0.5) / f64::from(STEPS)
    }

    /// A normal deviate with mean 0 and this standard deviation.
    pub(crate) fn normal(&mut self, sd: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.uniform()).sum();
        sd * (sum - 6.0)
    }

    /// One normal deviate for each of `count` units.
    pub(crate) fn normals(&mut self, count: usize, sd: f64) -> Vec<f64> {
        (0..count).map(|_| self.normal(sd)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: mean and variance of a sum of twelve independent uniform numbers, by hand: 6 and 12/12.
    // Tolerances: four standard errors over 20,000 draws, 4/sqrt(20000) = 0.028 and 4 sqrt(2/20000) = 0.040.
    #[test]
    fn a_normal_deviate_has_mean_nought_and_the_given_spread() {
        let mut draws = Draws::of_trial(&Seed::from_number(1), 9);
        let values = draws.normals(20_000, 1.0);
        let mean = values.iter().sum::<f64>() / 20_000.0;
        let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 19_999.0;
        assert!(mean.abs() < 0.028, "{mean}");
        assert!((variance - 1.0).abs() < 0.040, "{variance}");
    }

    #[test]
    fn trials_have_streams_of_their_own() {
        let seed = Seed::from_number(1);
        let first = Draws::of_trial(&seed, 1).normals(5, 1.0);
        assert_eq!(first, Draws::of_trial(&seed, 1).normals(5, 1.0));
        assert_ne!(first, Draws::of_trial(&seed, 2).normals(5, 1.0));
    }
}
