//! Runs `trug years`: compares the seasons of taxa from year to year. Layer: `commands`.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::{Hours, Tallied, Weathers, json};
use super::{names, output};
use crate::analyse::season::Stint;
use crate::analyse::spotted::belongs;
use crate::analyse::taxon_name::{NameRule, Named};
use crate::analyse::weather::effect::{LEAST_WITH_FIND, Verdict};
use crate::analyse::years::{
    Adjust, LEAST_FINDS, LEAST_FOR_TREND, TooFew, YearsOf, compare, name_years,
};
use crate::error::{Error, Result};
use crate::model::YearsWeatherNote;
use crate::present::summary::words::counted;
use crate::present::years::compared as view;

/// Compare the seasons of taxa from year to year: onset, peak, end and amount, and their change by decade.
///
/// Without --taxon: all finds together and each species with enough finds.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The taxon: a name or the beginning of one; a genus includes its species.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// Also state the change by decade with the weather allowed for, where it has earned its place.
    #[arg(long)]
    weather: bool,

    /// Print the numbers as JSON.
    #[arg(long)]
    json: bool,

    /// Draw a figure: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,
}

/// The most taxa of a table and figure: those with most finds.
const MOST: usize = 24;

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    let years = arguments.store.years(console)?;
    let asked = years.meant(arguments.taxon.as_deref(), console)?;
    names::known_taxon(&years, asked.as_deref())?;
    let weathers = if arguments.weather { Some(years.weathers()?) } else { None };
    let hours = years.hours(console)?;
    years.say_effort(true, console)?;
    let tallied = hours.tallied(&years.seen);
    let groups = groups(&tallied, asked.as_deref());
    let results: Vec<std::result::Result<YearsOf, TooFew>> = groups
        .par_iter()
        .map(|group| compared(&tallied, &hours, weathers.as_ref(), group))
        .collect();
    let few = results.iter().filter(|of| of.is_err()).count();
    let mut all: Vec<YearsOf> = Vec::new();
    let mut last = None;
    for result in results {
        match result {
            Ok(of) => all.push(of),
            Err(too_few) => last = Some(too_few),
        }
    }
    if all.is_empty() {
        return Err(nothing(asked.as_deref(), last));
    }
    name_years(&mut all);
    if years.style_changes(console)? {
        all.iter_mut().for_each(YearsOf::leave_amounts_unnamed);
    }
    if let Some(path) = &arguments.figure {
        output::pictures(path, &view::pages(&all), arguments.replacing)?;
    }
    if arguments.json {
        let mut properties = view::properties(&all);
        if let Some(notes) = years.effort_notes(true) {
            properties["effort_notes"] = notes;
        }
        console.print(&json(&properties)?)?;
    } else {
        console.print(&view::text(&all))?;
    }
    if few > 0 {
        console.note(&format!(
            "{} not compared: fewer than {LEAST_FINDS} finds or 3 seasons with a find.",
            counted(few, "taxon", "taxa")
        ));
    }
    Ok(Exit::Done)
}

/// The name of all finds together.
const ALL: &str = view::ALL_FINDS;

/// The finds that are compared together.
struct Group {
    title: String,
    /// Their names as written.
    names: Vec<String>,
}

/// The taxa of the table: the one asked for, or all finds and the species with most. A species has its finds
/// under every spelling of its name, and no find counts for two species.
fn groups(tallied: &Tallied, asked: Option<&str>) -> Vec<Group> {
    let group = |title: &str, wanted: &dyn Fn(&str) -> bool| Group {
        title: title.to_owned(),
        names: tallied
            .names()
            .map(|(name, _)| name)
            .filter(|n| wanted(n))
            .map(str::to_owned)
            .collect(),
    };
    if let Some(taxon) = asked {
        return vec![group(taxon, &|name| belongs(name, taxon))];
    }
    let rule = NameRule::of(tallied.names().map(|(name, _)| name));
    let mut species: BTreeMap<String, (u32, Vec<String>)> = BTreeMap::new();
    for (name, finds) in tallied.names() {
        if let Named::Species(title) = rule.read(name) {
            let own = species.entry(title).or_default();
            own.0 += finds;
            own.1.push(name.to_owned());
        }
    }
    let mut ranked: Vec<(String, (u32, Vec<String>))> = species.into_iter().collect();
    ranked.sort_by(|a, b| b.1.0.cmp(&a.1.0).then_with(|| a.0.cmp(&b.0)));
    ranked.truncate(MOST);
    ranked.sort_by(|a, b| a.0.cmp(&b.0));
    let species = ranked.into_iter().map(|(title, (_, names))| Group { title, names });
    std::iter::once(group(ALL, &|_| true)).chain(species).collect()
}

fn compared(
    tallied: &Tallied,
    hours: &Hours,
    weathers: Option<&Weathers>,
    group: &Group,
) -> std::result::Result<YearsOf, TooFew> {
    let names: std::collections::HashSet<&str> = group.names.iter().map(String::as_str).collect();
    let stints: Vec<Stint> = hours.stints_of(tallied, |name| names.contains(name));
    let Some(weathers) = weathers else { return compare(&group.title, &stints, None) };
    let (adjust, why_not) = adjusted(weathers, &stints);
    let of = compare(&group.title, &stints, adjust.as_ref())?;
    let seasons = of.years.len();
    let why = match (why_not, &of.with_weather) {
        (Some(why), _) => why,
        (None, Some(_)) => YearsWeatherNote::YearsWeatherUsed,
        (None, None) => {
            YearsWeatherNote::YearsWeatherFewSeasons { seasons, least: LEAST_FOR_TREND }
        }
    };
    Ok(YearsOf { weather: Some(why), ..of })
}

/// What the weather did to each outing, or why it is not used.
fn adjusted(weathers: &Weathers, stints: &[Stint]) -> (Option<Adjust>, Option<YearsWeatherNote>) {
    if weathers.areas.iter().all(|(_, local)| local.first.is_none()) {
        return (None, Some(YearsWeatherNote::YearsWeatherNone));
    }
    let effect = match weathers.series_effect(stints) {
        Ok(effect) => effect,
        Err(little) => {
            let why = YearsWeatherNote::YearsWeatherTooLittle {
                with_find: little.with_find,
                least: LEAST_WITH_FIND,
                without_rain: little.without_rain,
                without_temperature: little.without_temperature,
            };
            return (None, Some(why));
        }
    };
    let why = match effect.verdict {
        Verdict::Earned => None,
        Verdict::AddsNothing => Some(YearsWeatherNote::YearsWeatherAddsNothing),
        Verdict::NotPredictive => Some(YearsWeatherNote::YearsWeatherNotPredictive),
        Verdict::TooFewYears => Some(YearsWeatherNote::YearsWeatherTooFewYears {
            years: effect.years,
            weather_years: effect.weather_years,
        }),
    };
    (weathers.adjust(&effect, stints), why)
}

fn nothing(asked: Option<&str>, last: Option<TooFew>) -> Error {
    let of = asked.map_or_else(|| "the finds".to_owned(), |taxon| format!("{taxon:?}"));
    let TooFew { finds, years } = last.unwrap_or(TooFew { finds: 0, years: 0 });
    Error::input(format!("not enough data to compare the years of {of}"))
        .because(format!(
            "{} on searched outings in {}; {LEAST_FINDS} finds in 3 seasons are needed",
            counted(finds as usize, "find", "finds"),
            counted(years, "season", "seasons")
        ))
        .hint(match asked.and_then(|taxon| taxon.split_once(' ')) {
            Some((genus, _)) => {
                format!("import the tracks of earlier years, or try the genus {genus}")
            }
            None => "import the tracks of earlier years".to_owned(),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_genus_is_only_proposed_for_a_species() {
        let hint = |asked| nothing(asked, None).to_string();
        assert!(hint(Some("Mycena interrupta")).contains("try the genus Mycena"));
        assert!(!hint(Some("Mycena")).contains("genus") && !hint(None).contains("genus"));
    }

    #[test]
    fn years_without_a_station_say_why_weather_is_not_used() {
        let none = Weathers { areas: Vec::new() };
        assert_eq!(adjusted(&none, &[]), (None, Some(YearsWeatherNote::YearsWeatherNone)));
        let why = YearsWeatherNote::YearsWeatherTooLittle {
            with_find: 4,
            least: 10,
            without_rain: 3,
            without_temperature: 12,
        };
        assert!(why.to_string().contains("4 outings with a find"), "{why}");
        assert_eq!(serde_json::json!(why)["code"], "years-weather-too-little");
    }

    #[test]
    fn an_amended_name_is_in_one_group() {
        let tallied = Tallied::of_names(&[
            ("Mycena interrupta (Berk.) Sacc.", 20),
            ("mycena interrupta", 3),
            ("MYCENA INTERRUPTA", 2),
            ("Mycena", 5),
            ("Mycena cf. interrupta", 4),
            ("Russula lenkunya", 7),
        ]);
        let groups = groups(&tallied, None);
        let titles: Vec<&str> = groups.iter().map(|group| group.title.as_str()).collect();
        assert_eq!(titles, [ALL, "Mycena interrupta", "Russula lenkunya"]);
        let mut names: Vec<&str> = groups[1].names.iter().map(String::as_str).collect();
        names.sort_unstable();
        assert_eq!(
            names,
            ["MYCENA INTERRUPTA", "Mycena interrupta (Berk.) Sacc.", "mycena interrupta"]
        );
        assert_eq!(groups[0].names.len(), 6);
    }
}
