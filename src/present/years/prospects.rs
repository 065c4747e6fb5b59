//! The sites of `trug next` in a sentence and a table, with what the weather changed. Layer: `present`.

use jiff::civil::Date;

use super::estimates::wrapped;
use super::sites::rounded;
use crate::analyse::next::rank::{Prospect, Weathered};
use crate::analyse::next::weather::Recent;
use crate::analyse::weather::effect::{Factor, Verdict};
use crate::model::SiteId;
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};
use crate::present::weather::effect::too_little;
use crate::units::Seconds;

/// The most sites in a table.
const SHOWN: usize = 25;

/// A probability below this is printed as 0.
const NOTHING: f64 = 5e-4;

/// Where a find is most probable, and how many other sites are hardly less so.
#[must_use]
pub fn answer(
    (taxon, date): (Option<&str>, Date),
    listed: &[Prospect],
    name: impl Fn(SiteId) -> String,
) -> String {
    let what = taxon.unwrap_or("A find");
    let Some(top) = listed.iter().find(|own| own.determined) else {
        return wrapped(&format!(
            "Where {what} is most probable on {date} cannot be determined: too few searches near that \
             time of year.",
            what = taxon.unwrap_or("a find")
        )) + "\n";
    };
    if top.chance < NOTHING {
        let known = || listed.iter().filter(|own| own.determined);
        let most = known().map(|own| own.chance_high95).fold(0.0, f64::max);
        return wrapped(&format!(
            "{what} is not to be expected on {date} at any of {}: no earlier visit that counts for that date \
             found one. The upper end of the 95 % interval is at most {} %.",
            counted(known().count(), "site", "sites"),
            percent(most)
        )) + "\n";
    }
    let others = listed.iter().filter(|own| own.determined && own.site != top.site);
    let (mut all, mut alike) = (0, 0);
    for own in others {
        all += 1;
        alike += usize::from(own.chance >= top.chance_low95);
    }
    let rank = match (all, alike) {
        (0, _) => String::new(),
        (_, 0) => " All other sites are below that interval.".to_owned(),
        _ => format!(
            " {alike} of {} {} within that interval.",
            counted(all, "other site", "other sites"),
            if alike == 1 { "is" } else { "are" }
        ),
    };
    wrapped(&format!(
        "{what} is most probable at site {} on {date}: {} for a visit like the earlier ones.{rank}",
        name(top.site),
        interval(top)
    )) + "\n"
}

/// Whether the weather before the date is used, what it changed, or why not.
#[must_use]
pub fn weather(
    state: &Recent,
    listed: &[Prospect],
    (date, name): (Date, &dyn Fn(SiteId) -> String),
) -> String {
    let words = match state {
        Recent::NoStation => {
            "the store has none; add some with `trug weather add FILE...`".to_owned()
        }
        Recent::TooLittle(little) => too_little(little),
        Recent::NotEarned { verdict } => not_earned(*verdict).to_owned(),
        Recent::NotForNew => {
            "its effect is estimated for all finds, not for new species".to_owned()
        }
        Recent::Missing { known_days, needed_days, of_days } => format!(
            "{known_days} of the {of_days} days up to {date} are known and {needed_days} are needed; add \
             the latest with `trug weather add FILE...`"
        ),
        Recent::Applied { known_days, of_days, sites_without, .. } => {
            return applied((*known_days, *of_days, *sites_without), listed, name);
        }
    };
    wrapped(&format!("Weather before the date is not used: {words}.")) + "\n"
}

fn not_earned(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::AddsNothing => "it adds nothing to the season that these data can show",
        Verdict::NotPredictive => {
            "it belongs to the finds of earlier years but does not predict a year left out better"
        }
        Verdict::TooFewYears => "whether it matters cannot be determined from so few years",
        Verdict::Earned => "no site has a station near enough",
    }
}

fn applied(
    (known, of, without): (usize, usize, usize),
    listed: &[Prospect],
    name: &dyn Fn(SiteId) -> String,
) -> String {
    let Some((top, changed)) = listed.iter().find_map(|own| Some((own, own.weather?))) else {
        return String::new();
    };
    let (now, usual) = (percent(top.chance), percent(changed.chance_at_usual_weather));
    let Factor { factor, low95, high95 } = changed.factor;
    let gap = if known < of {
        format!(" {} without a value counted as usual.", counted(of - known, "day", "days"))
    } else {
        String::new()
    };
    let left = match without {
        0 => String::new(),
        _ => format!(
            " {} without weather {} the season alone.",
            counted(without, "site", "sites"),
            if without == 1 { "has" } else { "have" }
        ),
    };
    wrapped(&format!(
        "Weather of the last {of} days: {now} % instead of {usual} % at site {}; it multiplies the rate of \
         finds by {factor:.2} (95 %: {low95:.2} to {high95:.2}).{gap}{left}",
        name(top.site)
    )) + "\n"
}

/// Which visits the probabilities of a round are those of.
#[must_use]
pub fn of_usual_visits(usual: Option<Seconds>, stay: f64) -> String {
    let Some(usual) = usual else { return String::new() };
    wrapped(&format!(
        "Probabilities are those of a visit like the earlier ones (median search {:.1} min), whatever --stay is \
         ({stay} min).",
        usual.0 / 60.0
    )) + "\n"
}

/// Which hemisphere is not ranked.
#[must_use]
pub fn other_side(sentence: &str) -> String {
    wrapped(&format!("{sentence} With --hours, --from decides on the hemisphere.")) + "\n"
}

/// How the probability of a new species is computed.
#[must_use]
pub fn how_new() -> String {
    wrapped(
        "New to the list: a visit counts as one with a find where it found a species that no other outing \
         found. So often would one more visit like the earlier ones add a species (Good 1953). docs/next.md",
    ) + "\n"
}

/// Sites with their names and positions as a table.
#[must_use]
pub fn table<'a>(rows: impl Iterator<Item = (&'a Prospect, String, String)>) -> String {
    let rows: Vec<_> = rows.take(SHOWN).collect();
    let weather = rows.iter().any(|(own, ..)| own.weather.is_some());
    let mut columns = vec![Column::left("site"), Column::right("probability (95 %)")];
    if weather {
        columns.push(Column::right("at usual weather"));
    }
    columns.extend([
        Column::left("within three weeks of the date"),
        Column::left("last found"),
        Column::right("visits"),
        Column::left("where"),
    ]);
    let mut table = Table::new(columns);
    for (own, name, at) in rows {
        let mut cells = vec![name, cell(own)];
        if weather {
            let usual = |of: Weathered| format!("{} %", percent(of.chance_at_usual_weather));
            cells.push(own.weather.filter(|_| own.determined).map_or_else(String::new, usual));
        }
        let last = own.last_found.map_or_else(|| "never".to_owned(), |date| date.to_string());
        cells.extend([in_season(own), last, own.visits.to_string(), at]);
        table.row(cells);
    }
    table.to_string()
}

fn in_season(own: &Prospect) -> String {
    match own.visits_in_season {
        0 => "never searched at that time of year".to_owned(),
        visits => {
            format!("found on {} of {}", own.found_in_season, counted(visits, "visit", "visits"))
        }
    }
}

/// The estimate of the season, below the table.
#[must_use]
pub fn season_alone(listed: &[Prospect]) -> String {
    if !listed.iter().any(|own| own.determined) {
        return "Not enough data for a probability: no search near that time of year, in any year.\n"
            .to_owned();
    }
    let alone = listed.first().map_or(0.0, |own| own.season_alone);
    format!(
        "The season alone, pooled over all sites, gives {} %. Places never searched are not ranked; \
         --unsearched looks for areas by their elevation.\n",
        percent(alone)
    )
}

/// For JSON.
#[must_use]
pub fn rounded_weather(of: Weathered) -> Weathered {
    let Factor { factor, low95, high95 } = of.factor;
    Weathered {
        chance_at_usual_weather: rounded(of.chance_at_usual_weather, 4),
        factor: Factor {
            factor: rounded(factor, 4),
            low95: rounded(low95, 4),
            high95: rounded(high95, 4),
        },
    }
}

fn percent(chance: f64) -> String {
    format!("{:.0}", 100.0 * chance)
}

fn interval(own: &Prospect) -> String {
    let (low, high) = (percent(own.chance_low95), percent(own.chance_high95));
    format!("{} % (95 %: {low} to {high} %)", percent(own.chance))
}

fn cell(own: &Prospect) -> String {
    if !own.determined {
        return "not determined".to_owned();
    }
    let (low, high) = (percent(own.chance_low95), percent(own.chance_high95));
    format!("{} % ({low} to {high})", percent(own.chance))
}

#[cfg(test)]
mod tests;
