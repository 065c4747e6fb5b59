//! Writes estimates with their intervals, p-values and counts in sentences. Layer: `present`.

use crate::analyse::intervals::Interval;

/// `23.4 (95 %: 21 to 31)`.
#[must_use]
pub fn within(interval: Interval, decimals: usize) -> String {
    let end = |value: f64| number(value, decimals);
    format!("{} (95 %: {} to {})", end(interval.value), end(interval.low95), end(interval.high95))
}

/// The decimals with which a number and its interval have two significant digits, one at the least.
#[must_use]
pub fn decimals_of(interval: Interval) -> usize {
    let digits = |value: f64| {
        let place = -value.abs().log10().floor() + 1.0;
        if place.is_finite() { place.clamp(1.0, 6.0) } else { 1.0 }
    };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 1 to 6")]
    let decimals = digits(interval.value) as usize;
    decimals
}

/// The text in lines of at most a hundred letters.
#[must_use]
pub fn wrapped(text: &str) -> String {
    const WIDE: usize = 100;
    let (mut lines, mut length) = (String::new(), 0);
    for word in text.split_whitespace() {
        let letters = word.chars().count();
        if length > 0 && length + 1 + letters > WIDE {
            lines.push('\n');
            length = 0;
        } else if length > 0 {
            lines.push(' ');
            length += 1;
        }
        lines.push_str(word);
        length += letters;
    }
    lines.push('\n');
    lines
}

/// `12 % (95 %: 8 to 17 %)`, from shares of 0 to 1.
#[must_use]
pub fn percent(share: Interval) -> String {
    let [value, low, high] = [share.value, share.low95, share.high95].map(percent_number);
    format!("{value} % (95 %: {low} to {high} %)")
}

/// A share as a number of per cent: whole, but with a decimal above 99 and below 1.
fn percent_number(share: f64) -> String {
    let percent = 100.0 * share;
    let fine = (98.95..99.95).contains(&percent) || (0.05..0.95).contains(&percent);
    if fine { format!("{percent:.1}") } else { format!("{percent:.0}") }
}

/// A number with this many decimals, or in words where it has no limit.
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    if value.is_finite() { format!("{value:.decimals$}") } else { "any number".to_owned() }
}

/// `3.1`, `0.02`, `140`: three significant figures at most.
#[must_use]
pub fn ratio(value: f64) -> String {
    match value.abs() {
        size if size >= 99.5 => format!("{value:.0}"),
        size if size >= 9.95 => format!("{value:.0}"),
        size if size >= 0.995 => format!("{value:.1}"),
        size if size >= 0.0995 => format!("{value:.2}"),
        0.0 => "0".to_owned(),
        _ => format!("{value:.3}"),
    }
}

/// An odds ratio with its interval: `8.2 (95 %: 2.1 to 40)`, `above 3.4 (95 %)`, `below 0.4 (95 %)`.
#[must_use]
pub fn odds(interval: Interval) -> String {
    let (low, high) = (ratio(interval.low95), ratio(interval.high95));
    match (interval.low95 > 0.0, interval.high95.is_finite()) {
        (true, true) => format!("{} (95 %: {low} to {high})", ratio(interval.value)),
        (true, false) => format!("above {low} (95 %)"),
        (false, true) => format!("below {high} (95 %)"),
        (false, false) => "any".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(value: f64, low95: f64, high95: f64) -> Interval {
        Interval { value, low95, high95 }
    }

    #[test]
    fn long_text_is_wrapped_between_words() {
        let text = wrapped(&"word ".repeat(45));
        assert!(text.lines().count() == 3 && text.lines().all(|line| line.len() <= 100), "{text}");
        assert_eq!(wrapped("short"), "short\n");
    }

    #[test]
    fn estimates_carry_intervals() {
        let rare = of(0.0156, 0.0071, 0.0339);
        assert_eq!(within(rare, decimals_of(rare)), "0.016 (95 %: 0.007 to 0.034)");
        assert_eq!(decimals_of(of(19.42, 0.001, 27.6)), 1);
        assert_eq!(decimals_of(of(0.0, 0.0, 0.3)), 1);
        assert_eq!(within(of(19.42, 19.0, 27.6), 1), "19.4 (95 %: 19.0 to 27.6)");
        assert_eq!(percent(of(0.997, 0.99, 1.0)), "99.7 % (95 %: 99.0 to 100 %)");
        assert_eq!(percent(of(0.25, 0.004, 0.6)), "25 % (95 %: 0.4 to 60 %)");
        assert_eq!(odds(of(8.21, 2.06, 40.3)), "8.2 (95 %: 2.1 to 40)");
        assert_eq!(odds(of(f64::INFINITY, 3.41, f64::INFINITY)), "above 3.4 (95 %)");
        assert_eq!(odds(of(0.0, 0.0, 0.412)), "below 0.41 (95 %)");
        assert_eq!(odds(of(1.0, 0.0, f64::INFINITY)), "any");
    }
}
