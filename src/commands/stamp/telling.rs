//! Decides what may be published about where a photograph was taken. Layer: `commands`.

use std::collections::{HashMap, HashSet};

use uuid::Uuid;

use crate::commands::others;
use crate::error::Result;
use crate::model::{Combination, Day, KeptFind, Located, PlacedPhoto, Sensitivity};
use crate::present::quiet::{self, Care};
use crate::present::xmp::Stamp;
use crate::store::{FindQuery, Store};
use crate::units::{LatLon, Radius95};

/// How carefully each photograph is published.
pub(super) struct Disclosure {
    care: Care,
    /// The finds as others may see them.
    shown: HashMap<Uuid, KeptFind>,
    /// Outings with a find that somebody decided to keep quiet.
    quiet: HashSet<Uuid>,
}

/// What is published of a photograph.
pub(super) enum Decision {
    Stamp(Stamp),
    NoPosition,
    Quiet,
}

impl Disclosure {
    pub(super) fn of(store: &Store, care: Care) -> Result<Self> {
        let mut disclosure = Self { care, shown: HashMap::new(), quiet: HashSet::new() };
        if care == Care::ExactThroughout {
            return Ok(disclosure);
        }
        let prepared = others::prepare_query(store, &FindQuery::default(), care)?;
        for find in prepared.shown.finds {
            if find.generalised.as_ref().is_some_and(|generalised| generalised.decided) {
                disclosure.quiet.insert(find.outing);
            }
            disclosure.shown.insert(find.id, find);
        }
        Ok(disclosure)
    }

    pub(super) fn stamp(&self, day: &Day, photo: &PlacedPhoto) -> Decision {
        let Some((at, radius)) = photo.at else { return Decision::NoPosition };
        let shown: Vec<&KeptFind> = photo
            .finds
            .iter()
            .filter_map(|index| self.shown.get(&day.finds.get(*index)?.id))
            .collect();
        let decided = |find: &&KeptFind| find.generalised.as_ref().is_some_and(|g| g.decided);
        // a picture that shows no find was taken on the way to one
        let on_the_way = shown.is_empty() && self.quiet.contains(&day.outing.id);
        if on_the_way || shown.iter().any(decided) {
            return Decision::Quiet;
        }
        let exact = placed(at, radius);
        let coarse = match shown.iter().find(|find| find.generalised.is_some()) {
            Some(find) => quiet::along_with(find, &exact),
            None if self.care == Care::Generalised => quiet::coarse(&exact, Sensitivity::Low),
            None => return Decision::Stamp(exactly(day, photo, at, radius)),
        };
        let Some(coarse) = coarse else { return Decision::Quiet };
        Decision::Stamp(Stamp {
            at: coarse.at,
            radius: coarse.radius,
            when: None,
            direction: None,
            numbers: numbers(day, photo),
            generalised: Some(Sensitivity::Low),
        })
    }
}

fn placed(at: LatLon, radius: Radius95) -> Located {
    Located { at, radius, parts: Vec::new(), height: None, combination: Combination::Single }
}

fn exactly(day: &Day, photo: &PlacedPhoto, at: LatLon, radius: Radius95) -> Stamp {
    Stamp {
        at,
        radius,
        when: photo.when,
        direction: photo.photo.gps.direction,
        numbers: numbers(day, photo),
        generalised: None,
    }
}

fn numbers(day: &Day, photo: &PlacedPhoto) -> Vec<String> {
    let number = |index: &usize| Some(day.finds.get(*index)?.record.number.as_ref()?.0.clone());
    photo.finds.iter().filter_map(number).collect()
}
