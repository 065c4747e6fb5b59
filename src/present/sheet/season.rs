//! A year to look at: one HTML file with the calendar, the season's curves, maps, sites, taxa, outings
//! and effort. Works without a network, on a phone and on paper, like the sheet of a day.
//!
//! Shows places only as exactly as its data allows: who gathers the data decides how careful. Layer:
//! `present`.

mod cells;
mod parts;
mod tables;

use jiff::civil::Date;

use super::{PROGRAM, STYLE, footer, head, part, policy};
use crate::analyse::season::Season;
use crate::model::GridCell;
use crate::present::markup::Element;
use crate::present::years::calendar::CalendarRow;
use crate::present::years::density;
use crate::present::years::effort::EffortLine;
use crate::present::years::sites::SiteLine;
use crate::units::{LatLon, Metres, Seconds};

/// The first and the last year that a sheet states of.
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

/// Everything that the sheet shows.
#[derive(Clone, Debug)]
pub struct SeasonSheet {
    /// Which years.
    pub span: Span,
    /// How carefully places are given, in a sentence.
    pub care: String,
    /// The outings in order of time.
    pub outings: Vec<OutingLine>,
    /// The effort of all of them.
    pub effort: EffortLine,
    /// Effort by week, or by year where there are several, under this heading.
    pub bars: (&'static str, Vec<EffortLine>),
    /// The taxa, the most frequent first.
    pub taxa: Vec<TaxonLine>,
    /// The sites that were searched or bore a find.
    pub sites: Vec<SitePlace>,
    /// Taxa by week with the hours searched in each and the week at the left.
    pub calendar: (Vec<CalendarRow>, Vec<f64>, usize),
    /// Curves of seasons with their headings, or why there is none.
    pub curves: Vec<(String, Result<Season, String>)>,
    /// Where things were found.
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
    /// Time spent searching or standing, where there is a track.
    pub searched: Option<Seconds>,
    /// The length of the way, where there is a track.
    pub length: Option<Metres>,
    /// How many finds.
    pub finds: usize,
    /// How many taxa.
    pub taxa: usize,
}

/// A taxon in a line.
#[derive(Clone, Debug)]
pub struct TaxonLine {
    /// Its name without authors; `None` for what was not determined.
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

/// A site with its position as it may be given.
#[derive(Clone, Debug)]
pub struct SitePlace {
    /// What is reported of it; its own position is not looked at.
    pub line: SiteLine,
    /// The position with its 95 % radius; `None` where none is given.
    pub place: Option<(LatLon, Metres)>,
    /// Figures after the point of the position.
    pub decimals: usize,
    /// Whether its name is withheld.
    pub nameless: bool,
}

/// Where things were found.
#[derive(Clone, Debug, Default)]
pub struct Ground {
    /// A map of each ground, the one with the most finds first.
    pub maps: Vec<GroundMap>,
    /// Finds on no map: why, and how many.
    pub left_out: Vec<(&'static str, usize)>,
}

/// One ground, as exactly as it may be shown.
#[derive(Clone, Debug)]
pub enum GroundMap {
    /// Finds for each cell of the decimal grid: the middle of the cell and how many.
    Cells {
        /// The cells.
        cells: Vec<(GridCell, usize)>,
    },
    /// Densities, one map or one for each year, all on one scale.
    Density(Vec<density::Sheet>),
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
    let head = head(&title, policy::of(&[STYLE], &[PROGRAM]));
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
    .map(|(target, words)| Element::new("a").set("href", target).say(words));
    Element::new("header")
        .with(Element::new("h1").say(title))
        .with(Element::new("p").set("class", "soft").say(&sheet.care))
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
