//! Axes: where a value lies, and which ticks are drawn.

/// Values beyond this are not drawn: sums and differences of them would lose all their digits.
const LARGEST: f64 = 1e15;

/// Whether a value can be drawn.
pub(super) fn drawable(value: f64) -> bool {
    value.is_finite() && value.abs() <= LARGEST
}

/// Smallest and largest drawable value; none when there is no drawable value.
pub(super) fn extent(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values.into_iter().filter(|value| drawable(*value)).fold(None, |extent, value| match extent {
        None => Some((value, value)),
        Some((low, high)) => Some((low.min(value), high.max(value))),
    })
}

/// A linear scale with its ticks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    start_px: f64,
    end_px: f64,
    step: f64,
}

impl Scale {
    /// A scale over `[low, high]`, widened to whole ticks, of about `ticks` ticks, drawn from `start_px` to `end_px`
    /// (which may run backwards).
    pub fn new((low, high): (f64, f64), (start_px, end_px): (f64, f64), ticks: usize) -> Self {
        let (low, high) = if high > low { (low, high) } else { widened(low) };
        let step = nice_step((high - low) / ticks.max(1) as f64);
        // A hair of slack keeps a value that lies on a tick from opening one more step.
        let low = ((low / step) + 1e-9).floor() * step;
        let high = ((high / step) - 1e-9).ceil() * step;
        Self { low, high, start_px, end_px, step }
    }

    /// A scale that ends at the data, for an axis whose ticks need not enclose it.
    pub fn tight((low, high): (f64, f64), px: (f64, f64), ticks: usize) -> Self {
        let (low, high) = if high > low { (low, high) } else { widened(low) };
        Self { low, high, start_px: px.0, end_px: px.1, step: nice_step((high - low) / ticks.max(1) as f64) }
    }

    /// Place of a value.
    pub fn px(&self, value: f64) -> f64 {
        self.start_px + (value - self.low) / (self.high - self.low) * (self.end_px - self.start_px)
    }

    /// Whether zero lies on the axis.
    pub fn shows_zero(&self) -> bool {
        self.low <= 0.0 && self.high >= 0.0
    }

    /// Values of the ticks with their texts.
    pub fn ticks(&self) -> Vec<(f64, String)> {
        let first = (self.low / self.step - 1e-9).ceil() as i64;
        let last = (self.high / self.step + 1e-9).floor() as i64;
        (first..=last).map(|index| index as f64 * self.step).map(|value| (value, self.tick_text(value))).collect()
    }

    fn tick_text(&self, value: f64) -> String {
        number_text(value, decimals_of(self.step))
    }
}

/// The range of an axis for values that are quantities: it starts at zero unless all values lie so close together that
/// nothing could be seen; then it is cut, and the chart must say so.
pub(super) fn quantity_range((low, high): (f64, f64)) -> (f64, f64) {
    /// Spread, as a share of the largest value, below which an axis from zero hides every difference.
    const TOO_CLOSE: f64 = 0.15;
    if low >= 0.0 && high - low >= TOO_CLOSE * high {
        (0.0, high)
    } else if low > 0.0 {
        let space = (high - low).max(high * 0.01) * 0.15;
        (low - space, high + space)
    } else {
        (low, high)
    }
}

/// The range of an axis along which lines run: what is read is how they part, and bars from zero there are none. It
/// starts at zero only when that costs little of the height.
pub(super) fn lines_range((low, high): (f64, f64)) -> (f64, f64) {
    /// Share of the height below the lowest value that an axis from zero may cost.
    const SPARE: f64 = 0.35;
    if low >= 0.0 && low <= SPARE * high {
        (0.0, high)
    } else if low > 0.0 {
        let space = (high - low).max(high * 0.01) * 0.15;
        (low - space, high + space)
    } else {
        (low, high)
    }
}

fn widened(value: f64) -> (f64, f64) {
    let half = if value == 0.0 { 1.0 } else { value.abs() * 0.1 };
    (value - half, value + half)
}

/// The smallest of 1, 2, 2.5, 5 times a power of ten that is not below `step`.
fn nice_step(step: f64) -> f64 {
    let power = 10f64.powi(step.log10().floor() as i32);
    let lead = step / power;
    let nice = [1.0, 2.0, 2.5, 5.0].into_iter().find(|nice| lead <= nice * (1.0 + 1e-9)).unwrap_or(10.0);
    nice * power
}

fn decimals_of(step: f64) -> usize {
    (0..12)
        .find(|&decimals| {
            let shifted = step * 10f64.powi(decimals as i32);
            (shifted - shifted.round()).abs() < 1e-6 * shifted.max(1.0)
        })
        .unwrap_or(12)
}

/// A number for reading: a real minus sign, never "-0", powers of ten beyond ten million.
pub(super) fn number_text(value: f64, decimals: usize) -> String {
    let text = if value.abs() >= 1e7 { format!("{value:e}") } else { format!("{value:.decimals$}") };
    let digits = text.trim_start_matches('-');
    let negative = text.starts_with('-') && digits.chars().any(|digit| ('1'..='9').contains(&digit));
    if negative { format!("−{digits}") } else { digits.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check_ticks(range: (f64, f64), ticks: usize, expected: &[&str]) {
        let scale = Scale::new(range, (0.0, 100.0), ticks);
        let texts: Vec<String> = scale.ticks().into_iter().map(|(_, text)| text).collect();
        assert_eq!(texts, expected, "{range:?}");
    }

    #[test]
    fn ticks_are_round_numbers() {
        check_ticks((0.0, 4.1), 5, &["0", "1", "2", "3", "4", "5"]);
        check_ticks((0.0, 10.0), 4, &["0.0", "2.5", "5.0", "7.5", "10.0"]);
        check_ticks((-0.31, 0.42), 4, &["−0.4", "−0.2", "0.0", "0.2", "0.4", "0.6"]);
        check_ticks((0.0, 90.0), 5, &["0", "20", "40", "60", "80", "100"]);
        check_ticks((7.0, 7.0), 4, &["6.0", "6.5", "7.0", "7.5", "8.0"]);
    }

    #[test]
    fn a_minus_zero_is_never_written() {
        assert_eq!(number_text(-0.04, 1), "0.0");
        assert_eq!(number_text(-0.0, 0), "0");
        assert_eq!(number_text(-1.5, 1), "−1.5");
        assert_eq!(number_text(2.5e8, 0), "2.5e8");
    }

    #[test]
    fn places_run_both_ways() {
        let up = Scale::new((0.0, 10.0), (300.0, 0.0), 5);
        assert!((up.px(0.0) - 300.0).abs() < 1e-9 && up.px(10.0).abs() < 1e-9 && (up.px(5.0) - 150.0).abs() < 1e-9);
    }

    #[test]
    fn quantities_start_at_zero_unless_too_close() {
        assert_eq!(quantity_range((2.9, 3.6)).0, 0.0);
        assert!(quantity_range((78.0, 79.0)).0 > 70.0);
        assert_eq!(quantity_range((-1.0, 2.0)), (-1.0, 2.0));
        assert_eq!(quantity_range((0.0, 0.0)), (0.0, 0.0));
    }

    #[test]
    fn lines_have_the_height_for_themselves() {
        assert_eq!(lines_range((1.0, 3.6)).0, 0.0);
        let (low, high) = lines_range((2.9, 3.6));
        assert!(low > 2.7 && low < 2.9 && high > 3.6, "{low} {high}");
        assert_eq!(lines_range((-1.0, 2.0)), (-1.0, 2.0));
    }

    #[test]
    fn what_cannot_be_drawn_is_left_out() {
        assert_eq!(extent([f64::NAN, 3.0, f64::INFINITY, 1.0, 1e300]), Some((1.0, 3.0)));
        assert_eq!(extent([f64::NAN]), None);
    }
}
