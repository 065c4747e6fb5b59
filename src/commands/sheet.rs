//! Runs `trug sheet --day DATE --out FILE.html`: writes one day as a single page; with `--season`, a
//! year. Layer: `commands`.

use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};
use jiff::Timestamp;
use jiff::civil::Date;
use rayon::prelude::*;

use super::console::Console;
use super::exit::Exit;
use super::ground::GroundArguments;
use super::meant::named;
use super::others::{self, Coordinates};
use super::output;
use super::season_sheet;
use super::store_path::StoreArgument;
use super::taken_in::list_taken_in;
use super::without_effect::needs;
use crate::error::{Error, Result, read_regular};
use crate::model::Day;
use crate::present::map::ground::MapGround;
use crate::present::sheet::{self, Thumbnails};
use crate::present::summary::words::counted;
use crate::present::thumbnail;
use crate::store::{KeptOuting, Store};

/// Make a page of a day or of one or more years.
///
/// A day: map, time line, finds with photographs, order of processing, with exact positions.
/// A year: calendar, curves, maps, taxa, sites, effort, with positions generalised by default.
/// The page is one HTML file. It works offline, on a phone
/// and on paper, and makes no network requests.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("what").args(["day", "season"]).required(true))]
pub(super) struct Arguments {
    /// The day.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    day: Option<Date>,

    /// A year or a range of years instead: 2026, 2017-2026.
    #[arg(
        long,
        value_name = "YEAR",
        conflicts_with_all = ["collector", "outing", "without_photographs"]
    )]
    season: Option<String>,

    /// With --season: how exact positions are. See trug places for sensitivity rules.
    #[arg(long, value_enum, default_value_t = Coordinates::Generalised, conflicts_with = "day")]
    coordinates: Coordinates,

    /// The page to write.
    #[arg(long, value_name = "FILE.html")]
    out: PathBuf,

    #[command(flatten)]
    replacing: output::Overwrite,

    #[command(flatten)]
    store: StoreArgument,

    /// The collector, where several people have an outing on that day.
    #[arg(long, value_name = "NAME")]
    collector: Option<String>,

    /// The outing, by the beginning of its identifier, where several began on that day.
    #[arg(long, value_name = "ID")]
    outing: Option<String>,

    /// Omit the photographs, for a much smaller file.
    #[arg(long)]
    without_photographs: bool,

    #[command(flatten)]
    ground: GroundArguments,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let path = arguments.store.path();
    needs("--elevation or --base", arguments.ground.any(), "--day", arguments.day.is_some())?;
    match (arguments.day, &arguments.season) {
        (Some(date), _) => of_day(date, &path, arguments, console),
        (None, Some(years)) => {
            let out = (&*arguments.out, arguments.replacing);
            season_sheet::run(&path, years, arguments.coordinates, out, console)
        }
        (None, None) => Err(Error::input("no sheet was chosen").hint("use --day or --season")),
    }
}

fn of_day(date: Date, path: &Path, arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut store = Store::open(path)?;
    list_taken_in(&store, console)?;
    let source = arguments.ground.keep(&mut store, console)?;
    let chosen = (arguments.collector.as_deref(), arguments.outing.as_deref());
    let outing = one(candidates(&store, date, chosen)?, date)?;
    let day = store.day(outing.id)?;
    let sensitive = others::sensitive_finds(&store)?;
    let involved = day.finds.iter().filter(|find| sensitive.contains(&find.id)).count();
    let exact = others::exact_words("this page", day.finds.len(), involved);
    // tracks of other days may lead to places that this page does not name
    let ground = match sheet::area(&day) {
        Some(area) => source.without_tracks(&area, Some(&store))?,
        None => MapGround::default(),
    };
    let page = |thumbnails: &Thumbnails| {
        sheet::page_on(&day, thumbnails, Timestamp::now(), &exact, &ground)
    };
    let (mut thumbnails, mut page_text) = (Thumbnails::new(), page(&Thumbnails::new()));
    if !arguments.without_photographs {
        thumbnails = self::thumbnails(&day, page_text.len(), console);
        page_text = page(&thumbnails);
    }
    let page = page_text;
    output::write(&arguments.out, page.as_bytes(), arguments.replacing)?;
    let finds = day.finds.len();
    let kilobytes = page.len().div_ceil(1024);
    let shown = thumbnails.len();
    console.print(&format!(
        "{}: {}, {}, {kilobytes} KB\n",
        arguments.out.display(),
        counted(finds, "find", "finds"),
        counted(shown, "photograph", "photographs")
    ))?;
    console.note(&exact);
    Ok(Exit::Done)
}

/// The outings of that day, of the collector and with the identifier where these are stated.
fn candidates(
    store: &Store,
    date: Date,
    (whose, id): (Option<&str>, Option<&str>),
) -> Result<Vec<KeptOuting>> {
    let mut outings = store.outings()?;
    let days: Vec<String> = outings.iter().map(|outing| outing.date.to_string()).collect();
    outings.retain(|outing| outing.date == date);
    if outings.is_empty() {
        let last = days.iter().rev().take(6).cloned().collect::<Vec<_>>().join(", ");
        return Err(Error::input(format!("there is no outing on {date}"))
            .because(if days.is_empty() {
                "the store has no outings".to_owned()
            } else {
                match days.len() {
                    1 => format!("the only outing in the store was on {last}"),
                    several => format!("the store has {several} outings, the last ones on {last}"),
                }
            })
            .hint("use the local date on which the outing began"));
    }
    if let Some(name) = whose {
        outings.retain(|outing| matches(outing, name));
    }
    if let Some(id) = id {
        outings.retain(|outing| outing.id.to_string().starts_with(&id.to_lowercase()));
    }
    Ok(outings)
}

fn matches(outing: &KeptOuting, name: &str) -> bool {
    let collector = outing.collector.as_deref().unwrap_or_default().to_lowercase();
    collector.contains(&name.to_lowercase())
}

fn one(mut outings: Vec<KeptOuting>, date: Date) -> Result<KeptOuting> {
    match outings.len() {
        1 => Ok(outings.remove(0)),
        0 => Err(Error::input(format!("no such outing on {date}"))
            .because("no outing of that day has that collector or identifier")
            .hint("leave out --collector and --outing to list all outings")),
        several => Err(Error::input(format!("{several} outings began on {date}"))
            .because(outings.iter().map(listed).collect::<Vec<_>>().join("; "))
            .hint("choose one with --outing and the beginning of its identifier, or --collector")),
    }
}

/// An outing in a list of several: its collector, how many finds it has, and its identifier.
fn listed(outing: &KeptOuting) -> String {
    let id = outing.id.to_string();
    format!("{}, {}, {}", named(outing), counted(outing.finds, "find", "finds"), &id[..13])
}

/// The bytes of a page with up to [`MANY`] photographs.
const FEW_WEIGH: f64 = 485_000.0;
/// The bytes that each further photograph adds.
const EACH_MORE: f64 = 3_700.0;
/// The photographs from which a page may weigh more.
const MANY: f64 = 36.0;
/// The bytes of an image element and its caption.
const AROUND_EACH: f64 = 170.0;
/// The fewest bytes of a photograph in which its subject is recognisable.
const LEAST_EACH: f64 = 1_200.0;
/// The most bytes of a photograph, so that a page with few of them is light.
const MOST_EACH: f64 = 39_000.0;
/// The photographs of one page, so that each is recognisable.
const MOST_PHOTOGRAPHS: usize = 300;
/// The photographs of one find.
const OF_A_FIND: usize = 6;

/// The photographs that the page shows: of each find as many as there is room for.
fn chosen(day: &Day) -> Vec<usize> {
    let each = (MOST_PHOTOGRAPHS / day.finds.len().max(1)).clamp(1, OF_A_FIND);
    let mut chosen: Vec<usize> =
        day.finds.iter().flat_map(|find| find.photos.iter().copied().take(each)).collect();
    chosen.sort_unstable();
    chosen.dedup();
    chosen
}

/// The bytes of one photograph of so many, on a page that has this length without them.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few thousand")]
fn bytes_each(count: usize, without: usize) -> usize {
    let count = count.max(1) as f64;
    let page = FEW_WEIGH + EACH_MORE * (count - MANY).max(0.0);
    let room = page - without as f64 - AROUND_EACH * count;
    // base 64 takes four letters for three bytes
    (0.75 * room / count).clamp(LEAST_EACH, MOST_EACH) as usize
}

/// Thumbnails of the photographs of finds. Unreadable files are reported and omitted.
fn thumbnails(day: &Day, without: usize, console: &mut Console) -> Thumbnails {
    let claimed = chosen(day);
    let bytes_each = bytes_each(claimed.len(), without);
    let bar = console.progress("photographs", claimed.len() as u64);
    let made: Vec<(usize, Result<Vec<u8>>)> = claimed
        .into_par_iter()
        .map(|index| {
            let path = &day.photos[index].photo.source.path;
            let bytes = read_regular(path).map_err(|error| Error::file("read", path, &error));
            bar.inc(1);
            (index, bytes.and_then(|bytes| thumbnail::within(&bytes, bytes_each)))
        })
        .collect();
    bar.finish_and_clear();
    let mut thumbnails = Thumbnails::new();
    let mut missing = Vec::new();
    for (index, made) in made {
        match made {
            Ok(jpeg) => drop(thumbnails.insert(index, jpeg)),
            Err(error) => missing.push((day.photos[index].photo.name(), error)),
        }
    }
    if let Some((name, error)) = missing.first() {
        console.warning(
            &Error::input(format!("{} photographs are named but not shown", missing.len()))
                .because(format!(
                    "the first of them, {name}: {}",
                    error.why().unwrap_or(error.what())
                ))
                .hint("run this where the photographs have the paths they were imported from"),
        );
    }
    thumbnails
}

#[cfg(test)]
mod tests {
    use super::bytes_each;

    #[test]
    fn photographs_take_the_room_that_the_rest_of_the_page_leaves() {
        let page = |count: usize, without: usize| {
            without + count * (4 * bytes_each(count, without) / 3 + 170)
        };
        for without in [80_000, 200_000, 300_000] {
            assert!((1..=36).all(|count| page(count, without) < 490_000), "{without}");
        }
        for without in [500_000, 900_000] {
            assert!(page(300, without) < 1_480_000, "{without}: {}", page(300, without));
        }
        assert!(bytes_each(36, 200_000) > bytes_each(36, 300_000));
        assert_eq!(bytes_each(300, 2_000_000), 1_200);
        assert_eq!(bytes_each(1, 80_000), 39_000);
    }
}
