//! Runs `trug sheet --season YEAR --out FILE.html`: collects the data of a page about one or more
//! years. Layer: `commands`.

mod drawings;
mod ground;

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::path::Path;

use jiff::Timestamp;
use jiff::civil::Date;
use rayon::prelude::*;
use uuid::Uuid;

use super::console::Console;
use super::exit::Exit;
use super::others::{self, Coordinates, Prepared};
use super::output;
use super::taken_in::list_taken_in;
use super::years::{Hours, Years};
use crate::analyse::effort::{EffortRule, Heading, Ledger, Tally};
use crate::analyse::season::{self, LEAST_OUTINGS, Season, Stint};
use crate::analyse::sites::{SiteRule, Sites};
use crate::analyse::spotted::belongs;
use crate::analyse::visits::VisitRule;
use crate::analyse::walk::Walk;
use crate::earth::equal_area::EqualArea;
use crate::error::{Error, Result};
use crate::model::{KeptFind, Sensitivity, Visit, identification};
use crate::present::scientific_name::without_authors;
use crate::present::sensitive::{Audit, Care, readback};
use crate::present::sheet::season::{
    OutingLine, SeasonSheet, SitePlace, Span, TaxonLine, maps, page,
};
use crate::present::summary::words::counted;
use crate::present::years::calendar;
use crate::present::years::effort::{self as view, EffortLine};
use crate::present::years::season_figure::ALL_TAXA;
use crate::present::years::sites;
use crate::store::{FindQuery, KeptOuting};
use crate::units::{Metres, Seconds};

/// The number of taxa with a curve of their own.
const CURVES: usize = 3;

pub(super) fn run(
    store: &Path,
    years_asked: &str,
    coordinates: Coordinates,
    out: (&Path, output::Overwrite),
    console: &mut Console,
) -> Result<Exit> {
    let span = read_span(years_asked)?;
    let mut years = Years::open(store)?;
    list_taken_in(&years.store, console)?;
    if !years.outings.iter().any(|outing| span.holds(outing.date)) {
        return Err(nothing_in(span, &years.outings));
    }
    let prepared = others::prepare_query(&years.store, &FindQuery::default(), coordinates.care())?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let sheet = gather(&years, &prepared, &sites, span, coordinates.care(), console)?;
    let page = page(&sheet);
    read_back(&prepared, &sheet, &page)?;
    let published = prepared.published_within(|find| span.holds(find.date));
    years.store.record_published(&published, Timestamp::now())?;
    let (out, replacing) = out;
    output::write(out, page.as_bytes(), replacing)?;
    others::print_notices(&prepared.shown.notices, console);
    let finds: usize = sheet.taxa.iter().map(|taxon| taxon.finds).sum();
    console.print(&format!(
        "{}: {}, {}, {}, {}, {} KB\n",
        out.display(),
        counted(sheet.outings.len(), "outing", "outings"),
        counted(finds, "find", "finds"),
        counted(sheet.taxa.iter().filter(|taxon| taxon.name.is_some()).count(), "taxon", "taxa"),
        counted(sheet.sites.len(), "site", "sites"),
        page.len().div_ceil(1024)
    ))?;
    console.note(&sheet.care);
    Ok(Exit::Done)
}

/// Reads the finished page back and refuses it where a sensitive place could be recovered.
fn read_back(prepared: &Prepared, sheet: &SeasonSheet, page: &str) -> Result<()> {
    let span = sheet.span;
    let places: HashMap<Uuid, usize> =
        prepared.originals.iter().enumerate().map(|(index, find)| (find.id, index)).collect();
    let mut audit = Audit::new(prepared.shown.decisions(), &places);
    for (original, shown) in prepared.originals.iter().zip(&prepared.shown.finds) {
        if span.holds(original.date) {
            audit.add(original, shown, prepared.earlier(original.id));
        }
    }
    audit.judge(&readback::page(page));
    drawings::judge(page, &maps(sheet), &mut audit);
    others::refuse_leaks("the sheet", &audit.leaks())
}

/// `2026`, or `2017-2026`.
fn read_span(text: &str) -> Result<Span> {
    let (from, to) = text.split_once('-').unwrap_or((text, text));
    let year =
        |text: &str| text.trim().parse::<i16>().ok().filter(|year| (1..=9999).contains(year));
    match year(from).zip(year(to)) {
        Some((from, to)) if from <= to => Ok(Span { from, to }),
        _ => Err(Error::input(format!("--season {text} is not a year"))
            .hint("write a year, such as 2026, or a range, such as 2017-2026")),
    }
}

fn nothing_in(span: Span, outings: &[KeptOuting]) -> Error {
    let of: BTreeSet<i16> = outings.iter().map(|outing| outing.date.year()).collect();
    let of: Vec<String> = of.into_iter().map(|year| year.to_string()).collect();
    let asked = if span.from == span.to {
        span.from.to_string()
    } else {
        format!("{} to {}", span.from, span.to)
    };
    Error::input(format!("there is no outing of {asked}"))
        .because(if of.is_empty() {
            "the store has no outings".to_owned()
        } else {
            format!("the store has outings of {}", of.join(", "))
        })
        .hint("choose a year with outings, or import the days first")
}

fn gather(
    years: &Years,
    prepared: &Prepared,
    sites: &Sites,
    span: Span,
    care: Care,
    console: &mut Console,
) -> Result<SeasonSheet> {
    let hours = years.hours(console)?;
    let visits: Vec<Visit> = years
        .visits(sites, VisitRule::default(), console)?
        .into_iter()
        .filter(|visit| years.date_of(visit.outing).is_some_and(|date| span.holds(date)))
        .collect();
    let finds: Vec<&KeptFind> =
        prepared.originals.iter().filter(|find| span.holds(find.date)).collect();
    let (effort, bars) = effort(years, span, console)?;
    let named = finds.iter().filter_map(|find| Some((taxon_of(find)?, find.date)));
    let (rows, first) = calendar::rows(named);
    let mut by_week = vec![0.0; 53];
    for (_, date, hours) in hours.each().filter(|(_, date, _)| span.holds(*date)) {
        by_week[calendar::week_of(date)] += hours;
    }
    let taxa = taxa(&finds, prepared, sites, years, span);
    Ok(SeasonSheet {
        span,
        care: care_in_words(care),
        outings: outings(years, &finds, span, &years.searched(console)?),
        effort,
        bars,
        curves: curves(years, &hours, &taxa, span),
        taxa,
        sites: places(years, prepared, sites, &visits),
        calendar: (rows, by_week, first),
        ground: ground::of(years, prepared, span, care, console)?,
    })
}

fn care_in_words(care: Care) -> String {
    match care {
        Care::Generalised => {
            "Positions are generalised to 0.001 degree (about 100 m); sensitive ones to a coarser grid, or withheld."
        }
        Care::ExactUnlessSensitive => {
            "Positions are exact, except sensitive ones. Check who may see them before you share this sheet."
        }
        Care::ExactThroughout => {
            "All positions are exact, sensitive ones included: share only with people you would take there."
        }
    }
    .to_owned()
}

/// The taxon of a find as the sheet calls it: the accepted name of a synonym.
fn taxon_of(find: &KeptFind) -> Option<String> {
    let name = find.record.name.as_deref().map(str::trim).filter(|name| !name.is_empty())?;
    let certain = identification(name).qualifier.is_none();
    match find.other_accepted().filter(|_| certain) {
        Some(accepted) => Some(accepted.name.clone()),
        None => Some(without_authors(name)),
    }
}

fn outings(
    years: &Years,
    finds: &[&KeptFind],
    span: Span,
    searched: &HashMap<Uuid, Seconds>,
) -> Vec<OutingLine> {
    let mut taxa: HashMap<Uuid, BTreeSet<String>> = HashMap::new();
    for find in finds {
        taxa.entry(find.outing).or_default().extend(taxon_of(find));
    }
    let within = years.outings.iter().filter(|outing| span.holds(outing.date));
    within
        .map(|outing| OutingLine {
            date: outing.date,
            collector: outing.collector.clone(),
            spent: outing.start.zip(outing.end).map(|(from, to)| Seconds::between(from, to)),
            searched: searched.get(&outing.id).copied(),
            length: outing.length,
            finds: outing.finds,
            taxa: taxa.get(&outing.id).map_or(0, BTreeSet::len),
        })
        .collect()
}

/// All effort of the years, and by week or by year.
fn effort(
    years: &Years,
    span: Span,
    console: &mut Console,
) -> Result<(EffortLine, (&'static str, Vec<EffortLine>))> {
    let began = years.outings.iter().filter(|outing| span.holds(outing.date));
    let plane = EqualArea::about_all(began.filter_map(|outing| outing.began));
    let by = if span.from < span.to { Vec::new() } else { vec![Heading::Week] };
    let rule = EffortRule { by, ..EffortRule::default() };
    let mut all = Ledger::new(plane, rule.clone());
    let mut each: BTreeMap<i16, Ledger> = BTreeMap::new();
    let look = |walk: Walk| {
        (span.holds(walk.date) && !walk.points.is_empty())
            .then(|| (walk.date.year(), Tally::of(&walk, &plane, &rule, |_| None)))
    };
    years.map_searches(console, "Computing effort", look, |seen| {
        let Some((year, tally)) = seen else { return };
        if span.from < span.to {
            let year = each.entry(year).or_insert_with(|| Ledger::new(plane, rule.clone()));
            year.add(tally.clone());
        }
        all.add(tally);
    })?;
    let report = all.report();
    let total = view::line("all".to_owned(), &report.total);
    let bars = if span.from < span.to {
        let line =
            |(year, ledger): (i16, Ledger)| view::line(year.to_string(), &ledger.report().total);
        ("year", each.into_iter().map(line).collect())
    } else {
        let line = |(week, effort): &(Date, _)| view::line(week.to_string(), effort);
        ("week of", report.weeks.iter().map(line).collect())
    };
    Ok((total, bars))
}

/// The taxa of the years, most frequent first, undetermined finds last.
fn taxa(
    finds: &[&KeptFind],
    prepared: &Prepared,
    sites: &Sites,
    years: &Years,
    span: Span,
) -> Vec<TaxonLine> {
    let mut before: HashMap<Option<String>, usize> = HashMap::new();
    for find in prepared.originals.iter().filter(|find| find.date.year() < span.from) {
        *before.entry(taxon_of(find)).or_default() += 1;
    }
    let site: HashMap<Uuid, usize> = years
        .finds
        .iter()
        .zip(&sites.of_find)
        .filter_map(|(find, site)| Some((find.id, (*site)?)))
        .collect();
    let mut of_taxon: BTreeMap<Option<String>, Vec<&KeptFind>> = BTreeMap::new();
    for find in finds {
        of_taxon.entry(taxon_of(find)).or_default().push(find);
    }
    let mut lines: Vec<TaxonLine> = of_taxon
        .into_iter()
        .filter_map(|(name, finds)| {
            Some(TaxonLine {
                finds: finds.len(),
                before: before.get(&name).copied().unwrap_or(0),
                outings: finds.iter().map(|find| find.outing).collect::<HashSet<_>>().len(),
                sites: finds.iter().filter_map(|f| site.get(&f.id)).collect::<HashSet<_>>().len(),
                first: finds.iter().map(|find| find.date).min()?,
                last: finds.iter().map(|find| find.date).max()?,
                name,
            })
        })
        .collect();
    lines.sort_by_key(|line| (line.name.is_none(), std::cmp::Reverse(line.finds)));
    lines
}

/// The season of all taxa within these years, and of the most frequent taxa from all years up
/// to them.
fn curves(
    years: &Years,
    hours: &Hours,
    taxa: &[TaxonLine],
    span: Span,
) -> Vec<(String, std::result::Result<Season, String>)> {
    let first = years.outings.iter().map(|outing| outing.date.year()).min().unwrap_or(span.from);
    let until = |since: i16| {
        if since < span.to { format!("{since} to {}", span.to) } else { span.to.to_string() }
    };
    let within = |mut stints: Vec<Stint>, from: i16| {
        stints.retain(|stint| (from..=span.to).contains(&stint.date.year()));
        stints
    };
    let mut wanted = vec![(
        format!("{ALL_TAXA}, {}", until(span.from)),
        within(hours.stints(&years.seen, |_| true), span.from),
    )];
    for name in taxa.iter().filter_map(|taxon| taxon.name.as_deref()) {
        let stints = within(hours.stints(&years.seen, |found| belongs(found, name)), first);
        let with_find: HashSet<usize> =
            stints.iter().filter(|stint| stint.finds > 0).map(|stint| stint.outing).collect();
        if with_find.len() >= LEAST_OUTINGS {
            wanted.push((format!("{name}, {}", until(first)), stints));
        }
        if wanted.len() > CURVES {
            break;
        }
    }
    wanted
        .into_par_iter()
        .map(|(heading, stints)| {
            (heading, season::estimate(&stints).map_err(|little| little.why.to_string()))
        })
        .collect()
}

/// The sites visited, as exactly as they may be published.
fn places(years: &Years, prepared: &Prepared, sites: &Sites, visits: &[Visit]) -> Vec<SitePlace> {
    let shown: HashMap<Uuid, &KeptFind> =
        prepared.shown.finds.iter().map(|find| (find.id, find)).collect();
    let lines = sites::lines(sites, &years.finds, visits);
    sites
        .sites
        .iter()
        .zip(lines)
        .filter(|(_, line)| line.visits > 0)
        .map(|(site, line)| {
            let members = || site.finds.iter().filter_map(|find| shown.get(&years.finds[*find].id));
            // the coarsest level of its finds applies to the site
            let coarsest = members()
                .filter(|find| find.generalised.is_some())
                .max_by_key(|find| find.generalised.as_ref().map(|generalised| generalised.level));
            let Some(find) = coarsest else {
                let place = Some((site.at, site.radius.metres()));
                return SitePlace { line, place, decimals: 5, nameless: false };
            };
            let level = find.generalised.as_ref().map(|generalised| generalised.level);
            let radius = members()
                .filter_map(|find| Some(find.place.as_ref()?.radius.metres()))
                .fold(Metres(0.0), Metres::max);
            SitePlace {
                place: find.place.as_ref().map(|place| (place.at, radius)),
                decimals: level.and_then(Sensitivity::decimals).map_or(0, usize::from),
                nameless: members().any(|find| decided(find)),
                line,
            }
        })
        .collect()
}

fn decided(find: &KeptFind) -> bool {
    find.generalised.as_ref().is_some_and(|generalised| generalised.decided)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_is_a_year_or_two() {
        assert_eq!(read_span("2026").unwrap(), Span { from: 2026, to: 2026 });
        assert_eq!(read_span("2017-2026").unwrap(), Span { from: 2017, to: 2026 });
        for broken in ["", "autumn", "2026-2017", "2026-", "0", "20260101"] {
            assert!(read_span(broken).is_err(), "{broken}");
        }
    }
}
