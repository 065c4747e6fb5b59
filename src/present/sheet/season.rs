//! Writes one or more years as a single HTML file: calendar, season curves, maps, sites, taxa, outings
//! and effort. Works offline, on a phone and on paper, like the page of a day.
//!
//! Positions are shown as exactly as the input data gives them; the caller generalises them. Layer:
//! `present`.

mod cells;
mod parts;
mod tables;

use jiff::civil::Date;

use super::{EARLY, PROGRAM, STYLE, footer, head, part, policy};
use crate::analyse::season::Season;
use crate::model::GridCell;
use crate::present::map::MapSheet;
use crate::present::markup::Element;
use crate::present::years::calendar::CalendarRow;
use crate::present::years::density;
use crate::present::years::effort::EffortLine;
use crate::present::years::sites::SiteLine;
use crate::units::{LatLon, Metres, Seconds};

/// The first and the last year of a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// The first.
    pub from: i16,
    /// The last; the same for a single year.
    pub to: i16,
}

impl Span {
    /// Whether the date is within it.
    #[must_use]
    pub fn holds(self, date: Date) -> bool {
        (self.from..=self.to).contains(&date.year())
    }

    fn words(self) -> String {
        if self.from == self.to {
            self.from.to_string()
        } else {
            format!("{} to {}", self.from, self.to)
        }
    }
}

/// The data of a season page.
#[derive(Clone, Debug)]
pub struct SeasonSheet {
    /// Which years.
    pub span: Span,
    /// A sentence on the exactness of positions.
    pub care: String,
    /// The outings in order of time.
    pub outings: Vec<OutingLine>,
    /// The effort of all of them.
    pub effort: EffortLine,
    /// Effort by week, or by year where there are several, under this heading.
    pub bars: (&'static str, Vec<EffortLine>),
    /// The taxa, most frequent first.
    pub taxa: Vec<TaxonLine>,
    /// The sites that were searched or have a find.
    pub sites: Vec<SitePlace>,
    /// Taxa by week, the hours searched per week, and the first week of the chart.
    pub calendar: (Vec<CalendarRow>, Vec<f64>, usize),
    /// Season curves with their headings, or the reason why there is none.
    pub curves: Vec<(String, Result<Season, String>)>,
    /// The maps of finds.
    pub ground: Ground,
}

/// An outing in a line.
#[derive(Clone, Debug)]
pub struct OutingLine {
    /// The local date.
    pub date: Date,
    /// Who collected.
    pub collector: Option<String>,
    /// Time from first to last, where known.
    pub spent: Option<Seconds>,
    /// Time searching or stationary, where there is a track.
    pub searched: Option<Seconds>,
    /// The track length, where there is a track.
    pub length: Option<Metres>,
    /// The number of finds.
    pub finds: usize,
    /// The number of taxa.
    pub taxa: usize,
}

/// A taxon in a line.
#[derive(Clone, Debug)]
pub struct TaxonLine {
    /// Its name without authors; `None` for undetermined finds.
    pub name: Option<String>,
    /// Finds.
    pub finds: usize,
    /// Finds in earlier years.
    pub before: usize,
    /// Outings with a find.
    pub outings: usize,
    /// Sites with a find.
    pub sites: usize,
    /// The first date.
    pub first: Date,
    /// The last date.
    pub last: Date,
}

/// A site with its published position.
#[derive(Clone, Debug)]
pub struct SitePlace {
    /// Its data; the position in it is ignored.
    pub line: SiteLine,
    /// The position with its 95 % radius; `None` where none is given.
    pub place: Option<(LatLon, Metres)>,
    /// Decimals of the position.
    pub decimals: usize,
    /// Whether its name is withheld.
    pub nameless: bool,
}

/// The maps of finds.
#[derive(Clone, Debug, Default)]
pub struct Ground {
    /// A map of each area, the one with the most finds first.
    pub maps: Vec<GroundMap>,
    /// Finds without a map: reason and number.
    pub left_out: Vec<(&'static str, usize)>,
}

/// The map of one area, generalised or exact.
#[derive(Clone, Debug)]
pub enum GroundMap {
    /// Number of finds in each cell of the decimal grid.
    Cells {
        /// The cells.
        cells: Vec<(GridCell, usize)>,
    },
    /// Densities, one map or one for each year, all on one scale.
    Density(density::Area),
}

/// A map on the page, for reading it back.
#[derive(Clone, Copy, Debug)]
pub struct DrawnMap {
    /// The area, as in the identifiers of the page.
    pub area: usize,
    /// The map of that area.
    pub map: usize,
    /// The ground that it shows.
    pub paper: MapSheet,
    /// The bandwidth of a density map, metres; `None` for a map of cells.
    pub bandwidth: Option<f64>,
    /// The number of finds that it was made from.
    pub finds: usize,
}

impl DrawnMap {
    /// The identifier of the part of the page that has the marks.
    #[must_use]
    pub fn clip(&self) -> String {
        match self.bandwidth {
            Some(_) => format!("ground{}-density-{}", self.area, self.map),
            None => format!("ground{}-cells", self.area),
        }
    }
}

/// All maps on the page.
#[must_use]
pub fn maps(sheet: &SeasonSheet) -> Vec<DrawnMap> {
    let mut drawn = Vec::new();
    for (area, ground) in sheet.ground.maps.iter().enumerate() {
        match ground {
            GroundMap::Cells { cells } => {
                let finds = cells.iter().map(|(_, finds)| finds).sum();
                drawn.extend(cells::paper(cells).map(|paper| DrawnMap {
                    area,
                    map: 0,
                    paper,
                    bandwidth: None,
                    finds,
                }));
            }
            GroundMap::Density(of) => {
                let sheets = density::grounds(of, density::Measure::PerKm).into_iter();
                drawn.extend(sheets.zip(&of.sheets).enumerate().map(|(map, (paper, sheet))| {
                    DrawnMap {
                        area,
                        map,
                        paper,
                        bandwidth: Some(sheet.map.bandwidth.metres),
                        finds: sheet.map.count,
                    }
                }));
            }
        }
    }
    drawn
}

/// The sheet as the text of an HTML file.
#[must_use]
pub fn page(sheet: &SeasonSheet) -> String {
    let title = format!("Finds of {}", sheet.span.words());
    let body = Element::new("body")
        .with(header(sheet, &title))
        .with(main(sheet))
        .with(footer())
        .with(Element::new("script").with_verbatim(PROGRAM));
    let head = head(&title, policy::of(&[STYLE], &[EARLY, PROGRAM]));
    let html = Element::new("html").set("lang", "en").with(head).with(body);
    format!("<!doctype html>\n{html}\n")
}

fn header(sheet: &SeasonSheet, title: &str) -> Element {
    let links = [
        ("#calendar-part", "Calendar"),
        ("#curves-part", "Seasons"),
        ("#ground-part", "Maps"),
        ("#taxa-part", "Taxa"),
        ("#sites-part", "Sites"),
        ("#effort-part", "Effort"),
        ("#outings-part", "Outings"),
    ]
    .map(|(target, words)| Element::new("a").set("href", target).with_text(words));
    Element::new("header")
        .with(Element::new("h1").with_text(title))
        .with(Element::new("p").set("class", "soft").with_text(&sheet.care))
        .with(Element::new("nav").set("aria-label", "Parts of this sheet").with_all(links))
}

fn main(sheet: &SeasonSheet) -> Element {
    Element::new("main")
        .with(part("overview-part", "Overview", parts::overview(sheet)))
        .with(part("calendar-part", "Calendar", parts::calendar(sheet)))
        .with(part("curves-part", "Seasons", parts::curves(sheet)))
        .with(part("ground-part", "Maps", parts::ground(sheet)))
        .with(part("taxa-part", "Taxa", tables::taxa(sheet)))
        .with(part("sites-part", "Sites", tables::sites(sheet)))
        .with(part("effort-part", "Effort", parts::effort(sheet)))
        .with(part("outings-part", "Outings", tables::outings(sheet)))
}
