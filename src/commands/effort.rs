//! Runs `trug effort`: reports search time, distance and searched area. Layer: `commands`.

use std::collections::{BTreeSet, HashMap};
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use uuid::Uuid;

use super::console::Console;
use super::exit::Exit;
use super::output;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::{Years, json, length};
use crate::analyse::effort::styles::StyleWeights;
use crate::analyse::effort::{Effort, EffortReport, EffortRule, Heading, Ledger, Tally, monday};
use crate::analyse::sites::SiteRule;
use crate::analyse::visits::VisitRule;
use crate::earth::equal_area::EqualArea;
use crate::error::Result;
use crate::model::{Site, SiteId};
use crate::present::years::answers;
use crate::present::years::effort::{self as view, EffortLine};
use crate::present::years::effort_chart;
use crate::units::Metres;

/// Report search effort: time, distance and searched area (overlaps count once).
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Group by.
    #[arg(long, value_enum, default_value_t = By::Week)]
    by: By,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,

    /// Draw a bar chart: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,

    /// Search half-width on each side of the track.
    #[arg(long, value_name = "METRES", default_value_t = 5.0, value_parser = crate::commands::numbers::finite)]
    sight: f64,

    /// The cell size.
    #[arg(long, value_name = "METRES", default_value_t = CELL, value_parser = crate::commands::numbers::finite)]
    cell: f64,
}

/// The usual side of a cell, metres.
const CELL: f64 = 100.0;

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum By {
    /// Local date.
    Day,
    /// Week, named by its Monday.
    Week,
    /// Month.
    Month,
    /// Year.
    Year,
    /// Site, within 15 m of its centre.
    Site,
    /// Square cell, named by its centre.
    Cell,
    /// Elevation band of 100 m, from GPS heights.
    Elevation,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A table.
    Table,
    /// Lines and total.
    Json,
}

#[derive(Serialize)]
struct Reported {
    sight_m: f64,
    /// How much each manner of moving counts as search, for outings of each style.
    weights: Vec<StyleWeights>,
    lines: Vec<EffortLine>,
    total: EffortLine,
    #[serde(skip_serializing_if = "Option::is_none")]
    effort_notes: Option<serde_json::Value>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let by_cell = arguments.by == By::Cell || arguments.cell == CELL;
    needs("--cell", !by_cell, "--by cell", false)?;
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    let mut rule = EffortRule {
        half_width: length("--sight", arguments.sight)?,
        cell: length("--cell", arguments.cell)?,
        by: arguments.by.computed(),
        ..EffortRule::default()
    };
    let mut years = arguments.store.years(console)?;
    let drawn =
        if arguments.figure.is_some() { drawn_by(arguments.by, &years) } else { arguments.by };
    if drawn != arguments.by {
        rule.by.extend(drawn.computed());
    }
    years.say_effort(false, console)?;
    let places = years.outings.iter().filter_map(|outing| outing.began);
    let plane = EqualArea::about_all(places);
    let mut ledger = Ledger::new(plane, rule.clone());
    let look = |walk| Tally::of(&walk, &plane, &rule, |_| None);
    years.map_searches(console, "Computing effort", look, |tally| ledger.add(tally))?;
    let by_site = if arguments.by == By::Site {
        Some(at_sites(&mut years, &mut ledger, console)?)
    } else {
        None
    };
    let weights: Vec<StyleWeights> = years.search(console)?.styles.each().copied().collect();
    let report = ledger.report();
    let total = view::line("all".to_owned(), &report.total);
    let lines = by_site.unwrap_or_else(|| lines(arguments.by, &report));
    if let Some(path) = &arguments.figure {
        let reported = (drawn != arguments.by).then(|| self::lines(drawn, &report));
        let bars = reported.as_ref().unwrap_or(&lines);
        output::picture(path, &effort_chart::figure(drawn.heading(), bars)?, arguments.replacing)?;
        if drawn != arguments.by {
            console.note(&format!(
                "More than {BARS} bars do not fit: the figure has one bar for each {}.",
                drawn.heading()
            ));
        }
    }
    if arguments.format == Form::Json {
        let effort_notes = years.effort_notes(false);
        let sight_m = rule.half_width.0;
        console.print(&json(&Reported { sight_m, weights, lines, total, effort_notes })?)?;
    } else if report.total.outings == 0 {
        console.note("No outing in the store has a track.");
    } else {
        console.print(&answers::effort(&total))?;
        console.print(&view::table(arguments.by.heading(), &lines, &total))?;
        console.print(&view::weights(&weights))?;
    }
    Ok(Exit::Done)
}

/// The largest number of bars; above it a figure uses longer periods.
const BARS: usize = 60;

/// Replaces days and weeks by months or years where they are too many for a figure.
fn drawn_by(by: By, years: &Years) -> By {
    type Key = fn(Date) -> Date;
    let dates = || years.outings.iter().map(|outing| outing.date);
    let count = |key: fn(Date) -> Date| dates().map(key).collect::<BTreeSet<Date>>().len();
    let keys: [(By, Key); 3] =
        [(By::Day, |date| date), (By::Week, monday), (By::Month, Date::first_of_month)];
    match keys.iter().position(|(of, _)| *of == by) {
        None => by,
        Some(place) if count(keys[place].1) <= BARS => by,
        Some(_) if by != By::Month && count(Date::first_of_month) <= BARS => By::Month,
        Some(_) => By::Year,
    }
}

impl By {
    fn computed(self) -> Vec<Heading> {
        match self {
            Self::Day => vec![Heading::Day],
            Self::Week => vec![Heading::Week],
            Self::Month => vec![Heading::Month],
            Self::Year => vec![Heading::Year],
            Self::Site => Vec::new(),
            Self::Cell => vec![Heading::Cell],
            Self::Elevation => vec![Heading::Band],
        }
    }

    fn heading(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Week => "week of",
            Self::Month => "month",
            Self::Year => "year",
            Self::Site => "site",
            Self::Cell => "cell centre",
            Self::Elevation => "elevation",
        }
    }
}

fn lines(by: By, report: &EffortReport) -> Vec<EffortLine> {
    match by {
        By::Day => report.days.iter().map(|(day, e)| view::line(day.to_string(), e)).collect(),
        By::Week => report.weeks.iter().map(|(week, e)| view::line(week.to_string(), e)).collect(),
        By::Month => named_by(&report.months, "%Y-%m"),
        By::Year => named_by(&report.years, "%Y"),
        By::Cell => report.cells.iter().map(|(at, e)| view::line(at.to_string(), e)).collect(),
        By::Site => Vec::new(),
        By::Elevation => {
            let band = |low: &Metres| format!("{:.0} to {:.0} m", low.0, low.0 + 100.0);
            let mut lines: Vec<EffortLine> =
                report.bands.iter().map(|(low, e)| view::line(band(low), e)).collect();
            if report.no_height.outings > 0 {
                lines.push(view::line("unknown".to_owned(), &report.no_height));
            }
            lines
        }
    }
}

fn named_by(result: &[(Date, Effort)], form: &str) -> Vec<EffortLine> {
    result.iter().map(|(first, e)| view::line(first.strftime(form).to_string(), e)).collect()
}

fn at_sites(years: &mut Years, ledger: &mut Ledger, console: &Console) -> Result<Vec<EffortLine>> {
    let rule = VisitRule::default();
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let visits = years.visits_of_persons(&sites, rule, console)?;
    let areas = ledger.area_at(&sites.sites, rule.within);
    let mut of_site: HashMap<SiteId, (Effort, BTreeSet<Uuid>)> = HashMap::new();
    for visit in &visits {
        let (effort, outings) = of_site.entry(visit.site).or_default();
        effort.time = effort.time + visit.spent;
        effort.searched = effort.searched + visit.searched;
        effort.at_finds = effort.at_finds + visit.handled;
        effort.length = effort.length + visit.length;
        effort.searched_length = effort.searched_length + visit.searched_length;
        outings.insert(visit.outing);
    }
    let line = |(site, area): (&Site, f64)| {
        let (effort, outings) = of_site.remove(&site.id).unwrap_or_default();
        let name = site
            .name
            .as_ref()
            .map_or_else(|| site.id.0.to_string(), |name| format!("{} {name}", site.id.0));
        view::line(name, &Effort { area, outings: outings.len(), ..effort })
    };
    Ok(sites.sites.iter().zip(areas).map(line).collect())
}
