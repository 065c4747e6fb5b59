//! Writes hosts for a terminal: the answer, the table, how it was computed. Layer: `present`.

use std::collections::BTreeMap;
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
    if report.hosts.associations.is_empty() && report.rates.is_none() {
        return text;
    }
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
        "Of {pairs} of a taxon and a {with} with enough data, {more} {} together more often and {less} \
         less often than other fungi of the same outings (false discovery rate 5 %).",
        if more == 1 { "occurs" } else { "occur" }
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
                "; {how} the other fungi of the same outings (odds ratio {}, {}{})",
                odds(ratio),
                p_words(p_value),
                corrected(q_value, report)
            )
        }
        Verdict::TooLittle => {
            "; not enough data to say whether more often than the other fungi of the same outings"
                .to_owned()
        }
    };
    format!("{grew}{clear}.")
}

/// `; 0.21 after correction for 4 tests`; empty for one.
fn corrected(q: f64, report: &Report) -> String {
    if report.hosts.tested < 2 {
        return String::new();
    }
    format!("; {} after correction for {} tests", bare_p(q), report.hosts.tested)
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
    let (shown, hidden): (Vec<&Association>, Vec<&Association>) =
        report.hosts.associations.iter().partition(|pair| pair.patches > 0 || is_tested(pair));
    for pair in shown {
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
    if !hidden.is_empty() {
        let _ = writeln!(
            text,
            "\n{} of other fungi only, without enough data for a test: {}.",
            counted(hidden.len(), report.with.heading(), report.with.many()),
            hidden_names(report, &hidden)
        );
    }
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

fn hidden_names(report: &Report, hidden: &[&Association]) -> String {
    let named = hidden.iter().take(UNTESTED).map(|pair| report.host(pair.host));
    let more = hidden.len().saturating_sub(UNTESTED);
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{rest}", named.collect::<Vec<_>>().join(", "))
}

/// The most taxa without a test, or hosts of others, that are listed.
const UNTESTED: usize = 20;
/// The most hosts of such a taxon.
const HOSTS: usize = 3;

fn of_all(report: &Report) -> String {
    let pairs = || report.hosts.associations.iter();
    let mut shown: Vec<&Association> =
        pairs().filter(|pair| is_tested(pair) && (pair.patches > 0 || declared(pair))).collect();
    shown.sort_by(|a, b| {
        let names = |pair: &Association| report.taxon(pair.taxon).to_owned();
        q_of(a).total_cmp(&q_of(b)).then(names(a).cmp(&names(b))).then(b.patches.cmp(&a.patches))
    });
    let mut text = if shown.is_empty() { String::new() } else { tests_of(report, &shown) };
    let of_few = of_few(report);
    if !of_few.is_empty() {
        let _ = write!(text, "{}{of_few}", if text.is_empty() { "" } else { "\n" });
    }
    let found = pairs().filter(|pair| pair.patches > 0);
    let untested = found.clone().filter(|pair| !is_tested(pair)).count();
    if untested > 0 {
        let _ = write!(
            text,
            "\n{}",
            wrapped(&format!(
                "{untested} of {} that were found together are not tested: no arrangement of so few patches \
                 could give p below 0.05.",
                counted(found.count(), "pair", "pairs")
            ))
        );
    }
    text
}

fn is_tested(pair: &Association) -> bool {
    matches!(pair.verdict, Verdict::Tested { .. })
}

fn declared(pair: &Association) -> bool {
    q_of(pair) <= super::DECLARED
}

fn tests_of(report: &Report, shown: &[&Association]) -> String {
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

/// A line for each taxon of which no pair is tested, those with most patches first.
fn of_few(report: &Report) -> String {
    let mut taxa: BTreeMap<usize, Vec<&Association>> = BTreeMap::new();
    for pair in &report.hosts.associations {
        taxa.entry(pair.taxon).or_default().push(pair);
    }
    let mut few: Vec<(usize, Vec<&Association>)> = taxa
        .into_iter()
        .filter(|(_, pairs)| !pairs.iter().any(|pair| is_tested(pair)))
        .map(|(taxon, pairs)| (taxon, pairs.into_iter().filter(|pair| pair.patches > 0).collect()))
        .collect();
    few.sort_by_key(|(taxon, pairs): &(usize, Vec<&Association>)| {
        let patches = pairs.first().map_or(0, |pair| pair.of_taxon);
        (std::cmp::Reverse(patches), report.taxon(*taxon).to_owned())
    });
    if few.is_empty() {
        return String::new();
    }
    let mut table = Table::new([
        Column::left("taxon, not tested"),
        Column::right("patches"),
        Column::left(report.with.heading()),
    ]);
    for (taxon, pairs) in few.iter().take(UNTESTED) {
        let mut hosts: Vec<String> = pairs
            .iter()
            .take(HOSTS)
            .map(|pair| format!("{} {}", report.host(pair.host), pair.patches))
            .collect();
        if pairs.len() > HOSTS {
            hosts.push(format!("{} more", pairs.len() - HOSTS));
        }
        let patches = pairs.first().map_or(0, |pair| pair.of_taxon);
        table.row([report.taxon(*taxon).to_owned(), patches.to_string(), hosts.join(", ")]);
    }
    let more = few.len().saturating_sub(UNTESTED);
    let rest = match more {
        0 => String::new(),
        _ => format!("{} more in the JSON (--json).\n", counted(more, "taxon", "taxa")),
    };
    format!("{table}{rest}")
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
        Column::right("outings"),
        Column::right("finds there"),
        Column::left("finds per hour searched"),
    ]);
    for (habitat, rate) in &rates.of {
        table.row([
            report.host(*habitat).to_owned(),
            format!("{:.1} h", rate.hours),
            rate.outings.to_string(),
            rate.finds.to_string(),
            within(rate.per_hour, 2),
        ]);
    }
    let how = format!(
        "Hours on ground of known habitat: cells of {:.0} m in which all finds of any taxon that state a \
         habitat state the same; {:.1} h were searched elsewhere. Intervals allow for differences between \
         outings.",
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
