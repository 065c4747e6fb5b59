//! Describes lists of microscopic sizes, such as spores: ranges, means, standard deviations and the
//! quotient of length and width, in the notation of descriptions. Layer: `analyse`.

use std::fmt::Write as _;

/// Fewer sizes than this have no percentiles: of 20, one lies outside on average.
const ENOUGH: usize = 20;
/// Fewer are no sample.
const LEAST: usize = 3;
/// No cell of a fungus that is measured under a microscope is longer, micrometres.
const LONGEST: f64 = 2_000.0;

/// Words of headings for what is measured under a microscope.
const MEASURED: [&str; 9] =
    ["spore", "basidi", "cystid", "ascus", "asci", "paraphys", "conidi", "hypha", "\u{b5}m"];

/// Sizes of one kind of cell, micrometres: lengths, and widths where they were measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizes {
    lengths: Vec<f64>,
    widths: Vec<f64>,
}

/// Statistics of one dimension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The smallest value.
    pub least: f64,
    /// The 5 % percentile; `None` below twenty values.
    pub low: Option<f64>,
    /// The arithmetic mean.
    pub mean: f64,
    /// The standard deviation of the sample (n - 1).
    pub deviation: f64,
    /// The 95 % percentile; `None` below twenty values.
    pub high: Option<f64>,
    /// The largest value.
    pub most: f64,
}

impl Sizes {
    /// Reads a list: `8.1 x 5.2, 7.9x5.0; 8.4*5.1`, or lengths alone, `45, 51, 48`. `None` for other
    /// text, a list of less than three sizes, or widths of some only.
    ///
    /// # Units
    /// Micrometres.
    ///
    /// # Examples
    /// ```
    /// use trug::analyse::sizes::Sizes;
    ///
    /// let spores = Sizes::read("8.1 x 5.2, 7.9 x 5.0; 8.4 x 5.1").ok_or("no sizes")?;
    /// assert_eq!(spores.count(), 3);
    /// assert!((spores.length().mean - 8.133).abs() < 0.001);
    /// assert!(spores.length().low.is_none(), "percentiles need twenty");
    /// assert!(Sizes::read("under beech, 3 caps").is_none());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let mut text = text.to_lowercase();
        for (sign, plain) in [(" x ", "x"), ("\u{d7}", "x"), ("*", "x"), (" x", "x"), ("x ", "x")] {
            text = text.replace(sign, plain);
        }
        for unit in ["\u{b5}m", "\u{3bc}m", "um"] {
            text = text.replace(unit, " ");
        }
        let (mut lengths, mut widths) = (Vec::new(), Vec::new());
        for part in text.split([',', ';', ' ', '\n', '\t']).filter(|part| !part.is_empty()) {
            let mut numbers = part.split('x').map(number);
            lengths.push(numbers.next()??);
            match (numbers.next(), numbers.next()) {
                (None, _) => {}
                (Some(width), None) => widths.push(width?),
                _ => return None,
            }
        }
        let complete = widths.is_empty() || widths.len() == lengths.len();
        (lengths.len() >= LEAST && complete).then_some(Self { lengths, widths })
    }

    /// Reads a field, if its heading names what is measured under a microscope or its text the unit: a
    /// list of other numbers is no list of sizes.
    #[must_use]
    pub fn of_field(heading: &str, text: &str) -> Option<Self> {
        let heading = heading.to_lowercase();
        let named = MEASURED.iter().any(|word| heading.contains(word));
        let unit = ["\u{b5}m", "\u{3bc}m"].iter().any(|unit| text.to_lowercase().contains(unit));
        (named || unit).then(|| Self::read(text))?
    }

    /// How many were measured.
    #[must_use]
    pub fn count(&self) -> usize {
        self.lengths.len()
    }

    /// The lengths.
    #[must_use]
    pub fn length(&self) -> Spread {
        spread(&self.lengths)
    }

    /// The widths.
    #[must_use]
    pub fn width(&self) -> Option<Spread> {
        (!self.widths.is_empty()).then(|| spread(&self.widths))
    }

    /// The quotients of length and width, of each cell.
    #[must_use]
    pub fn quotient(&self) -> Option<Spread> {
        let each = self.lengths.iter().zip(&self.widths).map(|(length, width)| length / width);
        let each: Vec<f64> = each.collect();
        (!each.is_empty()).then(|| spread(&each))
    }

    /// `(7.4-)7.6-8.5(-8.8) x 4.8-5.4 um, mean 8.1 x 5.1 um, SD 0.3 x 0.2, Q = 1.5-1.7, Qm = 1.6,
    /// n = 30`, with the proper signs. The range in the middle holds 90 % of the cells, the extremes are
    /// in parentheses; below twenty cells the whole range is given.
    ///
    /// # References
    /// Ranges with extremes in parentheses and means of the specimen: Parmasto & Parmasto 1987,
    /// Variation of basidiospores in the Hymenomycetes, Bibliotheca Mycologica 115 (from memory).
    /// Percentiles of 5 % and 95 %: common practice.
    #[must_use]
    pub fn description(&self) -> String {
        let length = self.length();
        let mut text = range(&length, 1);
        if let Some(width) = self.width() {
            let _ = write!(text, " \u{d7} {}", range(&width, 1));
        }
        let _ = write!(text, " \u{b5}m, mean {:.1}", length.mean);
        if let Some(width) = self.width() {
            let _ = write!(text, " \u{d7} {:.1}", width.mean);
        }
        let _ = write!(text, " \u{b5}m, SD {:.2}", length.deviation);
        if let Some(width) = self.width() {
            let _ = write!(text, " \u{d7} {:.2}", width.deviation);
        }
        if let Some(quotient) = self.quotient() {
            let _ = write!(text, ", Q = {}, Qm = {:.2}", range(&quotient, 2), quotient.mean);
        }
        let _ = write!(text, ", n = {}", self.count());
        text
    }
}

fn number(text: &str) -> Option<f64> {
    let digits = text.chars().all(|c| c.is_ascii_digit() || c == '.');
    let number: f64 = digits.then(|| text.parse().ok())??;
    (number > 0.0 && number <= LONGEST).then_some(number)
}

fn spread(values: &[f64]) -> Spread {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let count = sorted.len() as f64;
    let mean = sorted.iter().sum::<f64>() / count;
    let squares: f64 = sorted.iter().map(|value| (value - mean).powi(2)).sum();
    let enough = sorted.len() >= ENOUGH;
    Spread {
        least: sorted.first().copied().unwrap_or(mean),
        low: enough.then(|| percentile(&sorted, 0.05)),
        mean,
        deviation: (squares / (count - 1.0).max(1.0)).sqrt(),
        high: enough.then(|| percentile(&sorted, 0.95)),
        most: sorted.last().copied().unwrap_or(mean),
    }
}

/// Linear between the order statistics (definition 7 of Hyndman & Fan 1996).
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "between 0 and the length"
)]
fn percentile(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len().saturating_sub(1)) as f64;
    let below = place.floor() as usize;
    let value = |index: usize| sorted.get(index).or(sorted.last()).copied().unwrap_or(0.0);
    value(below) + (value(below + 1) - value(below)) * (place - place.floor())
}

fn range(spread: &Spread, decimals: usize) -> String {
    let shown = |value: f64| format!("{value:.decimals$}");
    let (least, most) = (shown(spread.least), shown(spread.most));
    let (Some(low), Some(high)) = (spread.low.map(shown), spread.high.map(shown)) else {
        return if least == most { least } else { format!("{least}\u{2013}{most}") };
    };
    let before = if least == low { String::new() } else { format!("({least}\u{2013})") };
    let after = if most == high { String::new() } else { format!("(\u{2013}{most})") };
    format!("{before}{low}\u{2013}{high}{after}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_sample_has_its_whole_range() {
        let sizes = Sizes::read("8 x 5, 9\u{d7}5; 10*5 \u{b5}m").unwrap();
        assert_eq!(sizes.count(), 3);
        assert_eq!(sizes.length().mean, 9.0);
        assert_eq!(sizes.length().deviation, 1.0);
        assert_eq!(
            sizes.description(),
            "8.0\u{2013}10.0 \u{d7} 5.0 \u{b5}m, mean 9.0 \u{d7} 5.0 \u{b5}m, SD 1.00 \u{d7} 0.00, \
             Q = 1.60\u{2013}2.00, Qm = 1.80, n = 3"
        );
    }

    #[test]
    fn larger_sample_has_its_extremes_in_parentheses() {
        let list: Vec<String> = (0..=20).map(|step| format!("{}", 80 + step)).collect();
        let sizes = Sizes::read(&list.join(", ")).unwrap();
        assert_eq!((sizes.length().low, sizes.length().high), (Some(81.0), Some(99.0)));
        assert!(
            sizes
                .description()
                .starts_with("(80.0\u{2013})81.0\u{2013}99.0(\u{2013}100.0) \u{b5}m")
        );
        assert!(sizes.width().is_none() && sizes.quotient().is_none());
    }

    #[test]
    fn only_fields_of_microscopy_are_described() {
        assert!(Sizes::of_field("Spores", "8x5 9x5 10x5").is_some());
        assert!(Sizes::of_field("gills", "8x5 9x5 10x5 \u{b5}m").is_some());
        assert!(Sizes::of_field("waypoints", "101 102 103").is_none());
    }

    #[test]
    fn other_text_is_not_a_list_of_sizes() {
        for text in [
            "",
            "smooth",
            "8x5",
            "8x5, 9x5",
            "8x5, 9, 10x5",
            "8x5x3, 1x2x3, 1x2x3",
            "-8, 9, 10",
            "0, 1, 2",
            "1e9, 2, 3",
            "8x, 9x, 10x",
            "inf, nan, 3",
        ] {
            assert_eq!(Sizes::read(text), None, "{text}");
        }
    }
}
