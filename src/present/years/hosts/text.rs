//! Writes hosts for a terminal: the answer, the table, how it was computed. Layer: `present`.

use std::fmt::Write;

use super::{GrownWith, Report, q_of};
use crate::analyse::hosts::strata::Method;
use crate::analyse::hosts::{Association, Verdict};
use crate::analyse::season::p_words;
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};
use crate::present::years::estimates::{odds, percent, within, wrapped};

/// The text.
#[must_use]
pub fn text(report: &Report) -> String {
    let mut text = wrapped(&answer(report)) + "\n";
    text += &match report.taxon {
        Some(_) => of_taxon(report),
        None => of_all(report),
    };
    if let Some(rates) = &report.rates {
        let _ = write!(text, "\n{}", rates_table(report, rates));
    }
    let _ = write!(text, "\n{}", wrapped(&computed(report)));
    text
}

/// One sentence.
pub(super) fn answer(report: &Report) -> String {
    if let Some(taxon) = &report.taxon {
        return answer_for(taxon, report);
    }
    let with = report.with.heading();
    if report.hosts.tested == 0 {
        return format!("No pair of a taxon and a {with} has enough data for a test.");
    }
    let (more, less) = (report.declared(true).len(), report.declared(false).len());
    let pairs = counted(report.hosts.tested, "pair", "pairs");
    format!(
        "Of {pairs} of a taxon and a {with} with enough data, {more} occur together more often and {less} \
         less often than other fungi of the same outings (false discovery rate 5 %)."
    )
}

fn answer_for(taxon: &str, report: &Report) -> String {
    let with = report.with.heading();
    let most = report.hosts.associations.iter().filter(|pair| pair.patches > 0);
    let Some(most) = most.max_by_key(|pair| (pair.patches, pair.finds)) else {
        return format!(
            "{taxon}: the {with} cannot be determined, because none of {} states one.",
            counted(report.hosts.finds, "find", "finds")
        );
    };
    let grew = format!(
        "{taxon} grew with {} in {} of {}, {}",
        report.host(most.host),
        most.patches,
        counted(most.of_taxon, "patch", "patches"),
        percent(most.share)
    );
    let grew = if report.with == GrownWith::Host {
        grew
    } else {
        grew.replacen("grew with", "grew on or in", 1)
    };
    let clear = match most.verdict {
        Verdict::Tested { odds: ratio, p_value, q_value, .. } => {
            let how = match (q_value <= super::DECLARED, ratio.value > 1.0) {
                (false, _) => "not clearly more or less often than",
                (true, true) => "more often than",
                (true, false) => "less often than",
            };
            format!(
                "; {how} the other fungi of the same outings (odds ratio {}, {})",
                odds(ratio),
                p_words(p_value)
            )
        }
        Verdict::TooLittle => {
            "; not enough data to say whether more often than the other fungi of the same outings"
                .to_owned()
        }
    };
    format!("{grew}{clear}.")
}

fn of_taxon(report: &Report) -> String {
    let mut table = Table::new([
        Column::left(report.with.heading()),
        Column::right("finds"),
        Column::right("outings"),
        Column::right("patches"),
        Column::left("share of patches"),
        Column::left("share of other fungi there"),
        Column::left("odds ratio"),
        Column::left("p"),
        Column::left("false discovery rate"),
    ]);
    for pair in &report.hosts.associations {
        let [ratio, p, q] = tested(pair);
        table.row([
            report.host(pair.host).to_owned(),
            pair.finds.to_string(),
            pair.outings.to_string(),
            pair.patches.to_string(),
            percent(pair.share),
            pair.of_others.map_or_else(|| "no others".to_owned(), percent),
            ratio,
            p,
            q,
        ]);
    }
    let mut text = table.to_string();
    if report.hosts.without > 0 {
        let _ = writeln!(
            text,
            "\n{} of {} state no {} and are left out.",
            report.hosts.without,
            counted(report.hosts.finds, "find", "finds"),
            report.with.heading()
        );
    }
    text
}

fn of_all(report: &Report) -> String {
    let mut table = Table::new([
        Column::left("taxon"),
        Column::left(report.with.heading()),
        Column::right("finds"),
        Column::right("patches"),
        Column::left("share of patches"),
        Column::left("odds ratio"),
        Column::left("p"),
        Column::left("false discovery rate"),
    ]);
    let mut shown: Vec<&Association> =
        report.hosts.associations.iter().filter(|pair| pair.patches > 0).collect();
    shown.sort_by(|a, b| {
        let names = |pair: &Association| report.taxon(pair.taxon).to_owned();
        names(a).cmp(&names(b)).then(b.patches.cmp(&a.patches)).then(q_of(a).total_cmp(&q_of(b)))
    });
    for pair in shown {
        let [ratio, p, q] = tested(pair);
        table.row([
            report.taxon(pair.taxon).to_owned(),
            report.host(pair.host).to_owned(),
            pair.finds.to_string(),
            format!("{} of {}", pair.patches, pair.of_taxon),
            percent(pair.share),
            ratio,
            p,
            q,
        ]);
    }
    table.to_string()
}

fn tested(pair: &Association) -> [String; 3] {
    match pair.verdict {
        Verdict::Tested { odds: ratio, p_value, q_value, .. } => {
            [odds(ratio), bare_p(p_value), bare_p(q_value)]
        }
        Verdict::TooLittle => ["not enough data".to_owned(), String::new(), String::new()],
    }
}

/// `0.31`, `0.004`, `< 0.001`.
fn bare_p(p: f64) -> String {
    let words = p_words(p);
    words.trim_start_matches("p = ").trim_start_matches("p ").to_owned()
}

fn rates_table(report: &Report, rates: &crate::analyse::hosts::rates::Rates) -> String {
    let mut table = Table::new([
        Column::left("habitat"),
        Column::right("searched"),
        Column::right("finds there"),
        Column::left("finds per hour searched"),
    ]);
    for (habitat, rate) in &rates.of {
        table.row([
            report.host(*habitat).to_owned(),
            format!("{:.1} h", rate.hours),
            rate.finds.to_string(),
            within(rate.per_hour, 2),
        ]);
    }
    let how = format!(
        "Hours on ground of known habitat: cells of {:.0} m in which all finds of any taxon that state a \
         habitat state the same; {:.1} h were searched elsewhere. Intervals: Garwood; too narrow where finds \
         come in groups.",
        crate::analyse::hosts::rates::CELL,
        rates.unknown_hours
    );
    format!("{table}\n{}", wrapped(&how))
}

fn computed(report: &Report) -> String {
    let pooled = report
        .hosts
        .associations
        .iter()
        .any(|pair| matches!(pair.verdict, Verdict::Tested { method: Method::Pooled, .. }));
    let pooled = if pooled { "; normal approximation where these are too many" } else { "" };
    format!(
        "A taxon with one {0} at one site counts as one patch, on the outing of its first find. Shares: \
         Wilson. Odds ratio and p: all permutations of taxa among the patches of each outing{pooled}; false \
         discovery rate: Benjamini and Hochberg over {1}. What was available is what other fungi grew with on \
         the same outings: a {0} that nothing was found with is not known. An association may be one of \
         habitat or of one place. docs/hosts.md\n",
        report.with.heading(),
        counted(report.hosts.tested, "pair", "pairs")
    )
}
