//! What the program makes of a simulated decade.

use trug::analyse::effort::judge::{Judged, judged};
use trug::analyse::effort::manner::Weights;
use trug::analyse::effort::paths::{PathUse, WalkedCells};
use trug::analyse::effort::styles::{Styles, style};
use trug::analyse::season::Stint;
use trug::model::Activity;

use crate::collector::Outing;

/// How the hours of an outing are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    /// Time searching or stationary, time at finds included: as before handling was taken out.
    Stationary,
    /// By manner, per hour.
    Hours,
    /// By manner, per kilometre.
    Km,
    /// As it was.
    Truth,
}

/// The judged outings, each with its weights.
pub struct Measured {
    pub judged: Vec<Judged>,
    pub weights: Vec<Weights>,
}

impl Measured {
    pub fn of(outings: &[Outing]) -> Self {
        let mut paths = PathUse::default();
        for outing in outings {
            paths.add(WalkedCells::of(&outing.walk));
        }
        let paths = paths.finish();
        let mut all = Vec::new();
        let judged = outings
            .iter()
            .map(|outing| {
                let mut finds: Vec<_> = outing.finds.iter().map(|find| find.0).collect();
                finds.sort_unstable();
                let judged = judged(outing.walk.clone(), &finds, &paths);
                all.push(judged.by_manner(&finds));
                judged
            })
            .collect();
        let styles = Styles::estimated(&all);
        let weights = all.iter().map(|by| styles.of(style(by))).collect();
        Self { judged, weights }
    }

    /// The effort of an outing.
    pub fn counted(&self, index: usize, outing: &Outing, counted: Counted) -> f64 {
        let pieces = || self.judged[index].walk.pieces();
        match counted {
            Counted::Truth => outing.searched,
            Counted::Stationary => {
                let any = outing.walk.pieces().any(|p| p.activity() != Activity::Walking);
                outing
                    .walk
                    .pieces()
                    .filter(|p| !any || p.activity() != Activity::Walking)
                    .map(|p| p.time().0 / 3_600.0)
                    .sum()
            }
            Counted::Hours => pieces()
                .filter_map(|p| Some(self.weights[index].of_hour(p.manner?) * p.time().0 / 3_600.0))
                .sum(),
            Counted::Km => pieces()
                .filter_map(|p| Some(self.weights[index].of_km(p.manner?) * p.length.0 / 1e3))
                .sum(),
        }
    }

    pub fn stints(&self, outings: &[Outing], taxon: usize, how: Counted) -> Vec<Stint> {
        outings
            .iter()
            .enumerate()
            .map(|(index, outing)| Stint {
                outing: index,
                date: outing.date,
                elevation: None,
                hours: self.counted(index, outing, how),
                finds: u32::try_from(outing.finds.iter().filter(|f| f.1 == taxon).count()).unwrap(),
            })
            .collect()
    }
}
