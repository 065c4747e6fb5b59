//! Formats the comparison of years as text and JSON; the figure is in `figure`. Layer: `present`.

mod figure;

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::analyse::season::{DayEstimate, day_words, p_words};
use crate::analyse::years::{Amount, LEVEL, Named, Trend, YearLine, YearsOf, trends_tested};
use crate::present::coded::with_sentence;
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};

pub use figure::pages;

/// What stands for the taxon where all finds are compared.
pub const ALL_FINDS: &str = "all finds";

/// The sentence that answers the question for all taxa of a table.
#[must_use]
pub fn answer(all: &[YearsOf]) -> String {
    let mut named: Vec<String> = Vec::new();
    for of in all {
        for year in of.years.iter().filter(|year| !year.named.is_empty()) {
            let what: Vec<String> = year.named.iter().map(|named| standing(*named, year)).collect();
            named.push(format!("{} {} was {}", of.taxon, season(year), what.join(" and ")));
        }
    }
    let years: usize = all.iter().map(|of| of.years.len()).max().unwrap_or(0);
    let of_year =
        |year: &YearLine| usize::from(year.shift.q.is_some()) + usize::from(year.level.q.is_some());
    let tested: usize = all.iter().flat_map(|of| &of.years).map(of_year).sum();
    let head = match named.len() {
        0 => format!("No year of {years} stands out that these data can show"),
        _ => format!(
            "{}{}",
            named.iter().take(6).cloned().collect::<Vec<_>>().join("; "),
            more(named.len())
        ),
    };
    format!(
        "{head} (false discovery rate 5 % over {})",
        counted(tested, "comparison", "comparisons")
    )
}

fn more(named: usize) -> String {
    if named > 6 { format!("; and {} more", named - 6) } else { String::new() }
}

fn standing(named: Named, year: &YearLine) -> String {
    match named {
        Named::Early | Named::Late => {
            let word = if named == Named::Early { "early" } else { "late" };
            format!("{word} by {:.0} days", year.shift.value.abs())
        }
        Named::Rich | Named::Poor => {
            let word = if named == Named::Rich { "rich" } else { "poor" };
            let Amount { factor, low95, high95 } = year.amount;
            format!("{word} ({factor:.1} times the typical year, 95 %: {low95:.1} to {high95:.1})")
        }
    }
}

/// `2016`, or `2015/16` of a season across New Year.
pub(super) fn season(year: &YearLine) -> String {
    if year.until_year > year.year {
        format!("{}/{:02}", year.year, year.until_year.rem_euclid(100))
    } else {
        year.year.to_string()
    }
}

/// One word for each way in which a year stands out.
pub(super) fn named_words(year: &YearLine) -> String {
    let word = |named: &Named| match named {
        Named::Early => "early",
        Named::Late => "late",
        Named::Rich => "rich",
        Named::Poor => "poor",
    };
    year.named.iter().map(word).collect::<Vec<_>>().join(", ")
}

/// For a terminal.
#[must_use]
pub fn text(all: &[YearsOf]) -> String {
    let mut text = format!("{}.\n", answer(all));
    for of in all {
        let _ = write!(text, "\n{}", section(of));
    }
    text.push_str(
        "\nOnset, peak and end: 10 %, highest and 90 % of the rate of finds per hour searched, with 95 % \
         intervals.\nAmount: finds per hour over the season; the median of the years is 1. ~: nobody \
         searched then in\nthat year; the date rests on the other years.\n",
    );
    let trends = trends_tested(all);
    if trends > 0 {
        let _ = writeln!(
            text,
            "By decade: p is that of the trend alone, q after Benjamini and Hochberg over the {} above. \
             \"Clear\" is\nq at most 0.05; an interval at 95 % belongs to p.",
            counted(trends, "trend", "trends")
        );
    }
    text
}

fn section(of: &YearsOf) -> String {
    let mut text = format!(
        "{}: {} on {} in {}; {}\n",
        of.taxon,
        counted(of.finds as usize, "find", "finds"),
        counted(of.outings, "outing", "outings"),
        counted(of.years.len(), "season", "seasons"),
        typical(of)
    );
    let mut table = Table::new([
        Column::left("year"),
        Column::right("outings"),
        Column::right("hours"),
        Column::right("finds"),
        Column::left("onset"),
        Column::left("peak"),
        Column::left("end"),
        Column::left("amount"),
        Column::left(""),
    ])
    .indented(2);
    for year in &of.years {
        table.row([
            season(year),
            year.outings.to_string(),
            format!("{:.1}", year.hours),
            year.finds.to_string(),
            words(year.onset, year.onset_unsearched),
            year.peak.map_or_else(|| NO_PEAK.to_owned(), |peak| words(peak, year.peak_unsearched)),
            words(year.end, year.end_unsearched),
            amount_words(&year.amount),
            named_words(year),
        ]);
    }
    let _ = write!(text, "{table}");
    let _ = writeln!(
        text,
        "  between years: {:.1} days (standard deviation{}), amounts by a factor of {:.2}",
        of.shift_between_years.abs(),
        if of.shift_about_trend { " about the trend" } else { "" },
        of.amount_between_years.exp()
    );
    if !of.clear_season {
        text.push_str(
            "  no clear season in all years together: no year is called early or late, and dates of a year are those \
             of its rate alone\n",
        );
    }
    let trend = of.shift.zip(of.amount).map_or_else(
        || "by decade: not determined, five seasons are needed".to_owned(),
        |(shift, amount)| trends(&shift, &amount),
    );
    let _ = writeln!(text, "  {trend}");
    if let Some((shift, amount)) = &of.with_weather {
        let _ = writeln!(text, "  with the weather allowed for: {}", trends(shift, amount));
    } else if let Some(why) = of.weather {
        let _ = writeln!(text, "  {why}");
    }
    text
}

/// The dates of the typical year, where all years together have a season.
fn typical(of: &YearsOf) -> String {
    let Some((onset, end)) = of.onset.zip(of.end) else {
        return "no clear season in all years together, so no typical dates".to_owned();
    };
    format!(
        "typical year {} to {}, peak {}",
        day_words(onset.day),
        day_words(end.day),
        of.peak.map_or_else(|| NO_PEAK.to_owned(), |peak| words(peak, false))
    )
}

/// `1.31 (0.82 to 2.10)`; nothing where the interval says nothing.
fn amount_words(amount: &Amount) -> String {
    if !amount.is_determined() {
        return NO_PEAK.to_owned();
    }
    format!("{:.2} ({:.2} to {:.2})", amount.factor, amount.low95, amount.high95)
}

/// Shown instead of an amount whose interval says nothing, and instead of a date where the rate is highest at the edge of the season.
const NO_PEAK: &str = "not determined";

/// `p = 0.04, q = 0.31`.
fn p_and_q(trend: &Trend) -> String {
    let q = trend.q.map(|q| p_words(q).replacen('p', ", q", 1));
    format!("{}{}", p_words(trend.p), q.unwrap_or_default())
}

/// `by decade +2.1 days (95 %: -1.0 to 5.2; p = 0.15, q = 0.4): no clear shift; amount ...`.
fn trends(shift: &Trend, amount: &Trend) -> String {
    let clear = |trend: &Trend| trend.q.unwrap_or(trend.p) <= LEVEL;
    let shifts = match (clear(shift), shift.by_decade > 0.0) {
        (true, true) => "later",
        (true, false) => "earlier",
        (false, _) => "no clear shift",
    };
    let amounts = match (clear(amount), amount.by_decade > 1.0) {
        (true, true) => "more",
        (true, false) => "less",
        (false, _) => "no clear change",
    };
    format!(
        "by decade {:+.1} days (95 %: {:+.1} to {:+.1}; {}): {shifts}; amount times {:.2} (95 %: {} to {}; \
         {}): {amounts}",
        shift.by_decade,
        shift.low95,
        shift.high95,
        p_and_q(shift),
        amount.by_decade,
        factor(amount.low95),
        factor(amount.high95),
        p_and_q(amount)
    )
}

/// Two decimals, or the power of ten where that says nothing.
fn factor(factor: f64) -> String {
    if (0.01..1_000.0).contains(&factor) {
        format!("{factor:.2}")
    } else if factor >= 1_000.0 {
        "more than 1000".to_owned()
    } else {
        "less than 0.01".to_owned()
    }
}

/// `12 May (4 May to 20 May)`, with a mark where nobody searched then.
fn words(day: DayEstimate, unsearched: bool) -> String {
    let mark = if unsearched { "~" } else { "" };
    format!("{mark}{} ({} to {})", day_words(day.day), day_words(day.low95), day_words(day.high95))
}

/// The JSON.
#[must_use]
pub fn properties(all: &[YearsOf]) -> Value {
    let mut taxa = json!(all);
    for (place, of) in all.iter().enumerate() {
        for (number, year) in of.years.iter().enumerate() {
            taxa[place]["years"][number]["season"] = season(year).into();
        }
        if let Some(weather) = &of.weather {
            taxa[place]["weather"] = with_sentence(weather, &weather.to_string());
        }
    }
    json!({
        "sentence": answer(all),
        "false_discovery_rate": crate::analyse::years::LEVEL,
        "taxa": taxa,
    })
}
