//! Decides how exactly the position of each photograph may be published. Layer: `commands`.

use std::collections::{HashMap, HashSet};

use uuid::Uuid;

use crate::commands::others;
use crate::error::Result;
use crate::model::{Combination, Day, KeptFind, Located, PlacedPhoto, Published, Sensitivity};
use crate::present::sensitive::{self, Care, Decisions};
use crate::present::xmp::Stamp;
use crate::store::{FindQuery, Store};
use crate::units::{LatLon, Radius95};

/// The exactness of each photograph's position.
pub(super) struct PhotoDisclosure {
    care: Care,
    /// The generalised finds.
    shown: HashMap<Uuid, KeptFind>,
    /// The decisions for all finds; `None` where everything is exact.
    decisions: Option<Decisions>,
    /// The states to be published of them.
    pub(super) published: Vec<(Uuid, Published)>,
    /// Outings with a find that a rule makes sensitive.
    sensitive: HashSet<Uuid>,
}

/// The published position of a photograph.
pub(super) enum Decision {
    Stamp(Stamp),
    NoPosition,
    Withheld,
}

impl PhotoDisclosure {
    pub(super) fn of(store: &Store, care: Care) -> Result<Self> {
        let mut disclosure = Self {
            care,
            shown: HashMap::new(),
            decisions: None,
            published: Vec::new(),
            sensitive: HashSet::new(),
        };
        if care == Care::ExactThroughout {
            return Ok(disclosure);
        }
        let prepared = others::prepare_query(store, &FindQuery::default(), care)?;
        disclosure.decisions = Some(prepared.shown.decisions().clone());
        let outings = prepared.shown.finds.iter().map(|find| find.outing);
        disclosure.published = outings.zip(prepared.shown.published).collect();
        for find in prepared.shown.finds {
            if find.generalised.as_ref().is_some_and(|generalised| generalised.decided) {
                disclosure.sensitive.insert(find.outing);
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
        // a photograph without a find may show the approach to one
        let on_the_way = shown.is_empty() && self.sensitive.contains(&day.outing.id);
        if on_the_way || shown.iter().any(decided) {
            return Decision::Withheld;
        }
        let leads = |decisions: &Decisions| decisions.leads_to_sensitive(at, others::NEAR);
        if self.decisions.as_ref().is_some_and(leads) {
            return Decision::Withheld;
        }
        let exact = placed(at, radius);
        let coarse = match shown.iter().find(|find| find.generalised.is_some()) {
            Some(find) => sensitive::along_with(find, &exact),
            None if self.care == Care::Generalised => sensitive::coarse(&exact, Sensitivity::Low),
            None => return Decision::Stamp(exactly(day, photo, at, radius)),
        };
        let Some(coarse) = coarse else { return Decision::Withheld };
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
