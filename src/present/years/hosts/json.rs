//! Formats hosts as JSON. Layer: `present`.

use serde_json::{Map, Value, json};

use super::Report;
use super::text::answer;
use crate::analyse::hosts::{Association, Verdict};
use crate::analyse::intervals::Interval;
use crate::present::years::sites::rounded;

/// All that is reported.
#[must_use]
pub fn properties(report: &Report) -> Value {
    let mut map = Map::new();
    let mut put = |name: &str, value: Value| map.insert(name.to_owned(), value);
    put("answer", json!(answer(report)));
    put("taxon", json!(report.taxon));
    put("by", json!(report.with.heading()));
    put("finds", json!(report.hosts.finds));
    put("finds_without", json!(report.hosts.without));
    put("pairs_tested", json!(report.hosts.tested));
    let pairs = report.hosts.associations.iter().map(|pair| association(report, pair));
    put("associations", pairs.collect());
    if let Some(rates) = &report.rates {
        let rates_of = rates.of.iter().map(|(habitat, rate)| {
            json!({
                "habitat": report.host(*habitat),
                "searched_hours": rounded(rate.hours, 2),
                "outings": rate.outings,
                "finds": rate.finds,
                "finds_per_hour": interval(rate.per_hour),
            })
        });
        put("rates", rates_of.collect());
        put("hours_on_ground_of_unknown_habitat", json!(rounded(rates.unknown_hours, 2)));
    }
    Value::Object(map)
}

fn association(report: &Report, pair: &Association) -> Value {
    let written = report.shown.get(pair.host).map(|(_, written)| {
        written.iter().map(|(text, count)| (text.clone(), json!(count))).collect::<Map<_, _>>()
    });
    let (odds, p_value, q_value, method) = match pair.verdict {
        Verdict::Tested { odds, p_value, q_value, method } => (
            Some(interval(odds)),
            Some(rounded(p_value, 6)),
            Some(rounded(q_value, 6)),
            Some(method),
        ),
        Verdict::TooLittle => (None, None, None, None),
    };
    json!({
        "taxon": report.taxon.as_deref().unwrap_or_else(|| report.taxon(pair.taxon)),
        "with": report.host(pair.host),
        "written": written,
        "finds": pair.finds,
        "outings": pair.outings,
        "patches": pair.patches,
        "patches_of_taxon": pair.of_taxon,
        "share": interval(pair.share),
        "share_of_others": pair.of_others.map(interval),
        "enough_data": odds.is_some(),
        "odds_ratio": odds,
        "p_value": p_value,
        "false_discovery_rate": q_value,
        "method": method,
    })
}

/// An end without a limit is `null`.
fn interval(interval: Interval) -> Value {
    let of = |value: f64| value.is_finite().then(|| rounded(value, 4));
    json!({"value": of(interval.value), "low95": of(interval.low95), "high95": of(interval.high95)})
}
