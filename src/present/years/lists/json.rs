//! Formats lists as JSON. Layer: `present`.

use serde_json::{Map, Value, json};

use super::text::answer;
use super::{GroupedBy, Report, of_group};
use crate::analyse::intervals::Interval;
use crate::analyse::lists::{Accumulated, Apart, List, Pair, Richness, SpeciesLine};
use crate::present::years::sites::rounded;

/// All that is reported.
#[must_use]
pub fn properties(report: &Report) -> Value {
    let mut map = Map::new();
    let mut put = |name: &str, value: Value| map.insert(name.to_owned(), value);
    put("answer", json!(answer(report)));
    put("of", json!(report.of));
    put("from", json!(report.dates.map(|dates| dates.0)));
    put("to", json!(report.dates.map(|dates| dates.1)));
    put("whole_outings", json!(report.whole_outings));
    put("searched_hours", json!(report.hours.map(|hours| rounded(hours, 2))));
    put("list", list(&report.lists.all, true));
    put("completeness", report.richness.as_ref().map_or(Value::Null, richness));
    put("not_in_the_checklist", json!(report.not_in_checklist));
    let alike = report.alike.iter().map(|pair| json!([pair.rarer, pair.other]));
    put("names_alike", alike.collect());
    put("accumulation", report.curve.iter().map(point).collect());
    if let Some(by) = report.by {
        put("by", json!(by.heading()));
        put("groups", report.lists.groups.iter().map(|group| of_one(group, by)).collect());
        put("pairs", report.pairs.iter().map(pair).collect());
    }
    Value::Object(map)
}

fn of_one(group: &List, by: GroupedBy) -> Value {
    let mut value = list(group, false);
    if let Value::Object(map) = &mut value {
        map.insert(by.heading().to_owned(), json!(group.label));
        map.insert("chao2_at_least".to_owned(), of_group(group).map_or(Value::Null, interval));
    }
    value
}

fn list(list: &List, whole: bool) -> Value {
    json!({
        "outings": list.outings,
        "finds": list.finds,
        "species_count": list.species.len(),
        "species": list.species.iter().map(|line| species(line, whole)).collect::<Vec<_>>(),
        "counted_apart": apart(&list.apart),
    })
}

fn species(line: &SpeciesLine, whole: bool) -> Value {
    let mut value = json!({
        "scientificName": line.name,
        "finds": line.finds,
        "outings": line.outings,
        "first": line.first.date,
        "first_recordNumber": line.first.number.as_deref(),
        "last": line.last,
        "new_at_sites": line.new_for_sites,
        "new_in_years": line.new_for_years,
    });
    if let (false, Value::Object(map)) = (whole, &mut value) {
        map.insert("new_to_the_list".to_owned(), json!(line.new_for_list));
    }
    value
}

fn apart(apart: &Apart) -> Value {
    json!({
        "finds": apart.finds(),
        "genus_only": apart.genus_only,
        "doubtful": apart.doubtful,
        "undetermined": apart.undetermined,
        "genera_without_a_species": apart.genera,
    })
}

fn richness(richness: &Richness) -> Value {
    json!({
        "observed": richness.observed,
        "share_of_chao2": interval(richness.share_of_chao2()),
        "outings": richness.outings,
        "uniques": richness.uniques,
        "duplicates": richness.duplicates,
        "chao2_at_least": interval(richness.chao2),
        "chao2_classic_at_least": interval(richness.chao2_classic),
        "jackknife1": interval(richness.jackknife1),
        "jackknife2": interval(richness.jackknife2),
        "ice": richness.ice.map(interval),
        "coverage": interval(richness.coverage),
        "new_species_on_next_outing": interval(richness.new_in_next),
    })
}

fn interval(interval: Interval) -> Value {
    let of = |value: f64| value.is_finite().then(|| rounded(value, 4));
    json!({"value": of(interval.value), "low95": of(interval.low95), "high95": of(interval.high95)})
}

fn point(point: &Accumulated) -> Value {
    json!({
        "outings": point.outings,
        "hours": point.hours.map(|hours| rounded(hours, 2)),
        "species": rounded(point.species, 3),
        "low95": rounded(point.low95, 3),
        "high95": rounded(point.high95, 3),
    })
}

fn pair(pair: &Pair) -> Value {
    json!({
        "first": pair.first,
        "second": pair.second,
        "shared": pair.shared.observed,
        "shared_at_least": pair.shared.at_least.map(|n| rounded(n, 2)),
        "sorensen": rounded(pair.shared.sorensen, 4),
        "jaccard": rounded(pair.shared.jaccard, 4),
    })
}
