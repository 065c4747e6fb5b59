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
