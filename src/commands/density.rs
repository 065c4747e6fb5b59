//! Runs `trug density`: maps the density of finds per searched distance. Layer: `commands`.

mod areas;

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::civil::Date;

use areas::{Options, Survey};

use super::console::Console;
use super::exit::Exit;
use super::ground::{GroundArguments, GroundSource};
use super::output;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::{Years, length};
use super::{names, others};
use crate::analyse::density::DensityMap;
use crate::analyse::density::bandwidth::Choice;
use crate::analyse::spotted::{SpottedFind, belongs};
use crate::analyse::walk::Walk;
use crate::earth::elevation::{Bounds, Relief};
use crate::error::{Error, Result};
use crate::present::map::ground::MapGround;
use crate::present::raster;
use crate::present::summary::words::counted;
use crate::present::years::density::{self as view, Area, Measure};
use crate::present::years::shade::Shade;
use crate::store::Store;
use crate::units::{LatLon, Metres};

/// Map the density of finds per searched kilometre or per hectare, or the search effort.
///
/// Unsearched ground stays white, since unsearched does not mean empty. These maps show exact
/// positions: do not publish them.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Only this taxon: a name or the beginning of one.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// Only these months, such as 4-6; 12-2 crosses the new year.
    #[arg(long, value_name = "M-M")]
    months: Option<String>,

    /// The quantity to map.
    #[arg(long, value_enum, default_value_t = MeasureChoice::PerKm)]
    measure: MeasureChoice,

    /// Map the share of the taxon among all finds, relative to its share on the whole map.
    #[arg(long, value_enum, value_name = "WHAT", requires = "taxon", conflicts_with = "measure")]
    against: Option<Against>,

    /// The kernel's bandwidth: `rule`, `cross-validation`, `best` (cross-validation where there are
    /// 20 finds on 5 outings, else the rule), or metres. Never below the positions' own uncertainty.
    #[arg(long, value_name = "HOW", default_value = "best")]
    bandwidth: String,

    /// Number of cells on the longer side.
    #[arg(long, value_name = "N", default_value_t = 256, value_parser = clap::value_parser!(u16).range(16..=4096))]
    cells: u16,

    /// Only this study area, by its number in the list that the command prints.
    #[arg(long, value_name = "N")]
    area: Option<usize>,

    /// One small map per year, all on one scale.
    #[arg(long)]
    by_year: bool,

    /// Draw a figure: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    ground: GroundArguments,

    /// Write the values: a GeoTIFF (.tif) or an ASCII grid (.asc, with its .prj).
    #[arg(long, value_name = "FILE")]
    grid: Option<PathBuf>,

    /// Write the contours of 50 % and 95 % of the finds as GeoJSON.
    #[arg(long, value_name = "FILE")]
    contours: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum MeasureChoice {
    /// Finds per searched kilometre.
    PerKm,
    /// Finds per hectare.
    Finds,
    /// Searched kilometres per hectare.
    Effort,
    /// The standard error of finds per searched kilometre.
    Error,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Against {
    /// Finds of all taxa, named or not.
    All,
}

impl Arguments {
    /// # Errors
    /// When an option is for an output that is not written.
    fn take_effect(&self) -> Result<()> {
        let (figure, grid) = (self.figure.is_some(), self.grid.is_some());
        needs("--elevation or --base", self.ground.any(), "--figure", figure)?;
        let measured = self.measure != MeasureChoice::PerKm || self.against.is_some();
        needs("--measure or --against", measured, "--figure or --grid", figure || grid)?;
        let any = figure || grid || self.contours.is_some();
        self.replacing.needs_output("--figure, --grid or --contours", any)
    }

    fn mapped(&self) -> Measure {
        if self.against.is_some() { Measure::Relative } else { self.measure.into() }
    }
}

impl From<MeasureChoice> for Measure {
    fn from(choice: MeasureChoice) -> Self {
        match choice {
            MeasureChoice::PerKm => Self::PerKm,
            MeasureChoice::Finds => Self::Finds,
            MeasureChoice::Effort => Self::Effort,
            MeasureChoice::Error => Self::Error,
        }
    }
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    arguments.take_effect()?;
    let months = arguments.months.as_deref().map(read_months).transpose()?;
    let choice = read_bandwidth(&arguments.bandwidth)?;
    let mut years = arguments.store.years(console)?;
    let taxon = years.meant(arguments.taxon.as_deref(), console)?;
    names::known_taxon(&years, taxon.as_deref())?;
    let wanted = |date: Date| months.is_none_or(|(from, to)| holds(from, to, date.month()));
    let of_taxon = |find: &SpottedFind| match &taxon {
        None => true,
        Some(taxon) => find.taxon.as_deref().is_some_and(|name| belongs(name, taxon)),
    };
    years.units(console)?;
    years.say_effort(false, console)?;
    let named = |name: &str| taxon.as_deref().is_none_or(|taxon| belongs(name, taxon));
    let unlocated = years.unlocated_days(|find| wanted(find.date) && named(&find.taxon));
    if let Some(note) = unlocated.note() {
        console.note(&note.to_string());
    }
    let counts =
        |find: &SpottedFind| wanted(find.date) && !unlocated.outings.contains(&find.outing);
    let chosen: Vec<usize> = (0..years.finds.len())
        .filter(|index| counts(&years.finds[*index]) && of_taxon(&years.finds[*index]))
        .collect();
    if chosen.len() < 3 {
        return Err(Error::input("not enough finds for a density map")
            .because(format!(
                "{} the selection",
                counted(chosen.len(), "located find matches", "located finds match")
            ))
            .hint("choose a genus or more months, or import more days"));
    }
    let all: Vec<usize> = if arguments.against.is_some() {
        (0..years.finds.len()).filter(|index| counts(&years.finds[*index])).collect()
    } else {
        Vec::new()
    };
    let searched = |walk: &Walk| wanted(walk.date) && !unlocated.outings.contains(&walk.outing);
    let survey = Survey::of(&years, chosen.clone(), all, &searched, console)?;
    let options = Options {
        bandwidth: choice,
        cells: usize::from(arguments.cells),
        by_year: arguments.by_year,
        relative: arguments.against.is_some(),
    };
    let (areas, left_out) = survey.areas(&years, &options)?;
    let areas = picked(areas, arguments.area)?;
    write(arguments, &areas, &mut years.store, console)?;
    print_summary(&areas, left_out, &years, &chosen, console)
}

/// The area asked for, or all.
fn picked(areas: Vec<Area>, asked: Option<usize>) -> Result<Vec<Area>> {
    let Some(asked) = asked else { return Ok(areas) };
    let count = areas.len();
    let found = asked.checked_sub(1).and_then(|place| areas.into_iter().nth(place));
    found.map(|area| vec![area]).ok_or_else(|| {
        Error::input(format!("there is no area {asked}"))
            .because(format!("the finds lie in {}", counted(count, "study area", "study areas")))
            .hint("omit --area to list them")
    })
}

fn write(
    arguments: &Arguments,
    areas: &[Area],
    store: &mut Store,
    console: &mut Console,
) -> Result<()> {
    let measure = arguments.mapped();
    let mut outputs = output::Outputs::new(arguments.replacing);
    if let Some(path) = &arguments.figure {
        let of = arguments.taxon.as_deref().unwrap_or("All taxa");
        let title = arguments
            .months
            .as_ref()
            .map_or_else(|| of.to_owned(), |months| format!("{of}, months {months}"));
        let source = arguments.ground.keep(store, console)?;
        let shades: Vec<Option<Shade>> = shades(&source, arguments.ground.has_tiles(), areas)?;
        let grounds = areas
            .iter()
            .map(|area| ground(&source, store, area, measure))
            .collect::<Result<Vec<MapGround>>>()?;
        let title = format!("{title}: exact positions");
        let figure = view::figure(&title, areas, measure, (&shades, &grounds));
        outputs.picture(path, &figure)?;
    }
    let Some(sheet) = areas.first().and_then(|area| area.sheets.first()) else {
        return outputs.place();
    };
    let maps: usize = areas.iter().map(|area| area.sheets.len()).sum();
    if maps > 1 && (arguments.grid.is_some() || arguments.contours.is_some()) {
        let refused = Error::input("a grid or contours need exactly one map");
        return Err(if areas.len() > 1 {
            refused
                .because(format!("the finds lie in {} study areas", areas.len()))
                .hint("choose one, as --area 1; without --grid and --contours they are listed")
        } else {
            refused
                .because(format!("--by-year makes {maps} maps"))
                .hint("omit --by-year, or write only the figure")
        });
    }
    if let Some(path) = &arguments.grid {
        let values = measure.values(&sheet.map);
        match path.extension().unwrap_or_default().to_string_lossy().to_lowercase().as_str() {
            "tif" | "tiff" => {
                outputs.write(
                    path,
                    &raster::geotiff(&values, &sheet.map.grid, &sheet.map.plane, measure.band())?,
                )?;
            }
            "asc" => {
                outputs.write(path, raster::ascii(&values, &sheet.map.grid).as_bytes())?;
                outputs.write(
                    &path.with_extension("prj"),
                    raster::well_known_text(&sheet.map.plane).as_bytes(),
                )?;
            }
            other => {
                return Err(Error::input(format!("cannot write a grid into {}", path.display()))
                    .because(format!("the grid format \"{other}\" is not supported"))
                    .hint("end the name with .tif or .asc"));
            }
        }
    }
    if let Some(path) = &arguments.contours {
        outputs.write(path, view::contours(&sheet.map, &[0.5, 0.95]).as_bytes())?;
    }
    outputs.place()
}

/// The ground of an area's maps, without tracks: the searched area is outlined already.
fn ground(
    source: &GroundSource,
    store: &Store,
    area: &Area,
    measure: Measure,
) -> Result<MapGround> {
    let paper = view::grounds(area, measure).into_iter().next();
    paper.map_or_else(
        || Ok(MapGround::default()),
        |paper| source.without_tracks(&paper.area(), Some(store)),
    )
}

/// The hill shading of each area that the tiles cover; given tiles must cover one of them.
fn shades(source: &GroundSource, given: bool, areas: &[Area]) -> Result<Vec<Option<Shade>>> {
    let maps = areas.iter().map(|area| area.sheets.first());
    let shades: Vec<Option<Shade>> = maps
        .map(|sheet| sheet.map_or(Ok(None), |sheet| shade(source.relief(), &sheet.map)))
        .collect::<Result<_>>()?;
    if given && shades.iter().all(Option::is_none) {
        return Err(Error::input("the elevation tiles do not cover this map")
            .because("no tile has a height within it")
            .hint("give the tile that contains the finds, or omit --elevation"));
    }
    Ok(shades)
}

fn shade(relief: &Relief, map: &DensityMap) -> Result<Option<Shade>> {
    let grid = &map.grid;
    let places: Vec<LatLon> = (0..grid.columns * grid.rows)
        .map(|index| map.place(grid.x(index % grid.columns), grid.y(index / grid.columns)))
        .collect();
    let Some(bounds) = Bounds::about(&places, Metres(grid.cell)) else { return Ok(None) };
    let ground = relief.read(&bounds)?;
    if ground.is_empty() {
        return Ok(None);
    }
    let height = |place: &LatLon| ground.height(*place).map_or(f64::NAN, |height| height.0.0);
    let heights: Vec<f64> = places.iter().map(height).collect();
    Ok(Some(Shade::of(&heights, grid)))
}

fn print_summary(
    areas: &[Area],
    left_out: usize,
    years: &Years,
    chosen: &[usize],
    console: &mut Console,
) -> Result<Exit> {
    let sensitive = others::sensitive_finds(&years.store)?;
    let involved = chosen.iter().filter(|find| sensitive.contains(&years.finds[**find].id)).count();
    let exact = others::exact_words("this map", chosen.len(), involved);
    let mut lines = Vec::new();
    for area in areas {
        if areas.len() > 1 {
            lines.push(format!("Area {}: {}", area.number, area.name));
        }
        lines.extend(area.sheets.iter().map(view::summary));
        lines.extend(area.sheets.first().map(|sheet| view::bandwidth(&sheet.map.bandwidth)));
    }
    if left_out > 0 {
        lines.push(format!(
            "{} within 3 km of no find: not drawn",
            counted(left_out, "searched area lies", "searched areas lie")
        ));
    }
    lines.push(view::how_kilometres().to_owned());
    lines.push(exact.clone());
    console.print(&(lines.join("\n") + "\n"))?;
    if involved > 0 {
        console.note(&exact);
    }
    Ok(Exit::Done)
}

fn holds(from: i8, to: i8, month: i8) -> bool {
    if from <= to { (from..=to).contains(&month) } else { month >= from || month <= to }
}

fn read_months(text: &str) -> Result<(i8, i8)> {
    let (from, to) = text.split_once('-').unwrap_or((text, text));
    let month =
        |text: &str| text.trim().parse::<i8>().ok().filter(|month| (1..=12).contains(month));
    month(from).zip(month(to)).ok_or_else(|| {
        Error::input(format!("--months {text} is not a range of months"))
            .hint("write two months by number, such as 4-6 or 12-2")
    })
}

fn read_bandwidth(text: &str) -> Result<Choice> {
    match text.trim() {
        "best" => Ok(Choice::Best),
        "rule" => Ok(Choice::Rule),
        "cross-validation" => Ok(Choice::CrossValidation),
        other => {
            let metres = other.parse::<f64>().map_err(|_| {
                Error::input(format!("--bandwidth {other} is not a bandwidth"))
                    .hint("expected best, rule, cross-validation or metres")
            })?;
            Ok(Choice::Stated(length("--bandwidth", metres)?.0))
        }
    }
}
