//! Learns from all tracks together which paths are regular and how much each manner of moving counts
//! as search. Layer: `commands`.

use std::collections::{BTreeMap, HashMap};

use jiff::Timestamp;
use uuid::Uuid;

use super::Years;
use crate::analyse::effort::judge::{Judgement, judged};
use crate::analyse::effort::manner::{Manner, Weights};
use crate::analyse::effort::paths::{PathUse, RegularPaths, WalkedCells};
use crate::analyse::effort::styles::{Styles, style};
use crate::analyse::effort::weights::ByManner;
use crate::analyse::walk::Walk;
use crate::commands::console::Console;
use crate::error::Result;
use crate::store::BriefFind;

/// A band of 100 m of elevation; `None` where it is not known.
pub(super) type Band = Option<i64>;

/// What all tracks together show of the search.
pub(in crate::commands) struct Search {
    /// How much each manner counts, by the style of an outing.
    pub(in crate::commands) styles: Styles,
    /// The style of each outing.
    style: HashMap<Uuid, Manner>,
    /// The judgement of each track: each is judged once.
    judgements: HashMap<Uuid, Judgement>,
    /// The hours and kilometres of each outing by manner, by band of elevation; without finds.
    pub(super) outings: Vec<(Uuid, BTreeMap<Band, ByManner>)>,
}

/// The times of the finds of each outing, in order.
#[derive(Default)]
pub(super) struct Moments(HashMap<Uuid, Vec<Timestamp>>);

impl Moments {
    pub(super) fn new(finds: &[BriefFind]) -> Self {
        let mut moments: HashMap<Uuid, Vec<Timestamp>> = HashMap::new();
        for find in finds {
            if let Some(when) = find.when {
                moments.entry(find.outing).or_default().push(when);
            }
        }
        for moments in moments.values_mut() {
            moments.sort_unstable();
        }
        Self(moments)
    }

    pub(super) fn of(&self, outing: Uuid) -> &[Timestamp] {
        self.0.get(&outing).map_or(&[], Vec::as_slice)
    }
}

/// What one outing shows of the search.
struct Look {
    outing: Uuid,
    judgement: Judgement,
    bands: BTreeMap<Band, ByManner>,
    all: ByManner,
}

impl Years {
    /// What all tracks show of the search.
    pub(in crate::commands) fn search(&self, console: &Console) -> Result<&Search> {
        if let Some(search) = self.search.get() {
            return Ok(search);
        }
        let mut paths = PathUse::default();
        self.map_walks(
            console,
            "Finding regular paths",
            |walk| WalkedCells::of(&walk),
            |cells| paths.add(cells),
        )?;
        let paths = paths.finish();
        let (mut outings, mut all, mut judgements) = (Vec::new(), Vec::new(), HashMap::new());
        let moments = &self.moments;
        let look = |walk| Look::of(walk, moments, &paths);
        self.map_walks(console, "Reading the search", look, |look| {
            outings.push((look.outing, look.bands));
            all.push(look.all);
            judgements.insert(look.outing, look.judgement);
        })?;
        let styles = Styles::estimated(&all);
        let own = outings.iter().zip(&all);
        let style = own.filter_map(|((id, _), by)| Some((*id, style(by)?))).collect();
        Ok(self.search.get_or_init(|| Search { styles, style, judgements, outings }))
    }
}

/// Shares of styles that differ from those of all years by more than this are another habit, not chance (project
/// choice: with eight outings half of each style, one year in fifty).
const OTHER_HABIT: f64 = 0.4;
/// The fewest outings of a year that show its habit (project choice).
const LEAST_OF_YEAR: f64 = 3.0;

impl Years {
    /// Whether outings of some year were walked in other styles than those of all years.
    pub(in crate::commands) fn style_changes(&self, console: &Console) -> Result<bool> {
        let search = self.search(console)?;
        let (mut all, mut years) = ([0.0; 4], BTreeMap::<i16, [f64; 4]>::new());
        for outing in &self.outings {
            let style = search.style.get(&outing.id).and_then(|style| style.class());
            if let Some(class) = style {
                all[class] += 1.0;
                years.entry(outing.date.year()).or_default()[class] += 1.0;
            }
        }
        let whole: f64 = all.iter().sum();
        let differs = |of: &[f64; 4]| {
            let own: f64 = of.iter().sum();
            let apart = of.iter().zip(all).map(|(of, all)| (of / own - all / whole).abs());
            own >= LEAST_OF_YEAR && 0.5 * apart.sum::<f64>() > OTHER_HABIT
        };
        Ok(search.styles.differing().is_some() && years.values().any(differs))
    }
}

impl Search {
    /// A track, judged and weighted as search.
    pub(super) fn applied(&self, walk: Walk) -> Walk {
        let walk = match self.judgements.get(&walk.outing) {
            Some(judgement) => judgement.applied(walk),
            None => walk,
        };
        Walk { weights: self.weights(walk.outing), ..walk }
    }

    /// How much each manner counts on an outing.
    pub(super) fn weights(&self, outing: Uuid) -> Weights {
        self.styles.of(self.style.get(&outing).copied())
    }
}

impl Look {
    fn of(walk: Walk, moments: &Moments, paths: &RegularPaths) -> Self {
        let moments = moments.of(walk.outing);
        let judged = judged(walk, moments, paths);
        let mut bands: BTreeMap<Band, ByManner> = BTreeMap::new();
        for piece in judged.walk.pieces() {
            let hours = piece.time().0 / 3600.0;
            if let Some(class) = piece.manner.and_then(Manner::class) {
                let sums = bands.entry(band(piece.height(0.5))).or_default();
                sums.hours[class] += hours;
                sums.km[class] += piece.length.0 / 1e3;
            }
        }
        let (outing, all) = (judged.walk.outing, judged.by_manner(moments));
        Self { outing, judgement: judged.into(), bands, all }
    }
}

/// The band of an elevation in metres.
pub(super) fn band(height: Option<f64>) -> Band {
    #[allow(clippy::cast_possible_truncation, reason = "heights of the Earth")]
    height.filter(|height| height.is_finite()).map(|height| (height / 100.0).floor() as i64)
}
