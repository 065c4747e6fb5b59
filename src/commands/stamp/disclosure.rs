//! Decides how exactly the position of each photograph may be published. Layer: `commands`.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use uuid::Uuid;

use super::readback;
use crate::commands::others;
use crate::commands::output::Staged;
use crate::earth::geodesic;
use crate::error::{Error, Result};
use crate::ingest::position::mentioned;
use crate::model::{
    Combination, Day, KeptFind, Located, Mentioned, PlacedPhoto, Published, Sensitivity,
};
use crate::present::sensitive::readback::Statement;
use crate::present::sensitive::{self, Audit, Care, Decisions};
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
    /// All finds as they are, and the place of each among the decisions.
    originals: Vec<KeptFind>,
    places: HashMap<Uuid, usize>,
    /// Earlier published states of each find.
    earlier: HashMap<Uuid, Vec<Published>>,
}

/// Coordinates in a text nearer to the camera than this say more than the grid of 100 m, metres.
const NEARER: f64 = 50.0;

/// Coordinates in the name of a file that lie so near to the camera are those of its place, metres: a cell and the
/// shift between datums.
const WITHIN: f64 = 1_000.0;
/// The rounding of written coordinates, metres.
const ROUNDING: f64 = 0.1;

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
            originals: Vec::new(),
            places: HashMap::new(),
            earlier: HashMap::new(),
        };
        if care == Care::ExactThroughout {
            return Ok(disclosure);
        }
        let prepared = others::prepare_query(store, &FindQuery::default(), care)?;
        disclosure.decisions = Some(prepared.shown.decisions().clone());
        let ids = prepared.originals.iter().map(|find| find.id);
        disclosure.places = ids.enumerate().map(|(place, id)| (id, place)).collect();
        disclosure.originals = prepared.originals;
        disclosure.earlier = prepared.published;
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

    /// Reads the finished files of a photograph back and refuses them where they reveal more than the stamp.
    ///
    /// # Errors
    /// When they do, or cannot be read.
    pub(super) fn read_back(
        &self,
        day: &Day,
        photo: &PlacedPhoto,
        stamp: &Stamp,
        files: &[Staged],
    ) -> Result<()> {
        let Some(decisions) = &self.decisions else { return Ok(()) };
        let refused = |why: String| {
            Error::input(format!("{} was not copied", photo.photo.source.path.display()))
                .because(why)
                .hint("remove that from the photograph with another program first, or leave it out")
        };
        let finds: Vec<Uuid> = photo
            .finds
            .iter()
            .filter_map(|index| day.finds.get(*index).map(|find| find.id))
            .collect();
        for file in files {
            let said =
                readback::statement(file, stamp).map_err(|error| refused(error.to_string()))?;
            let mut audit = Audit::new(decisions, &self.places);
            for place in finds.iter().filter_map(|find| self.places.get(find)) {
                let original = &self.originals[*place];
                let earlier = self.earlier.get(&original.id).map_or(&[][..], Vec::as_slice);
                audit.add(original, self.shown.get(&original.id).unwrap_or(original), earlier);
            }
            // the position of a generalised copy is the stamp's; it may lie in another find's circle
            let positions =
                if stamp.generalised.is_some() { Vec::new() } else { said.positions.clone() };
            audit.judge(&Statement { positions, ..said.clone() });
            for find in &finds {
                audit.judge(&Statement {
                    find: Some(*find),
                    positions: Vec::new(),
                    ..said.clone()
                });
            }
            let exact = photo.at.filter(|_| stamp.generalised.is_some());
            let close = exact.is_some_and(|(at, _)| {
                let says = |one: &Mentioned| {
                    let own = geodesic::distance(one.at, stamp.at).0 <= one.precision.0 + ROUNDING;
                    !one.bare
                        && one.form.is_whole()
                        && !own
                        && one.precision.0 < NEARER
                        && geodesic::distance(one.at, at).0 < NEARER
                };
                mentioned(&said.text, None).iter().any(says)
            });
            if let Some(leak) = audit.leaks().into_iter().next() {
                return Err(refused(format!("it would reveal a sensitive place: {leak}")));
            }
            if close {
                return Err(refused("a text in it contains its exact coordinates".to_owned()));
            }
        }
        Ok(())
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
        // the copy keeps the name of the file
        if names_a_place_near(&photo.photo.source.path, at) {
            return Decision::Withheld;
        }
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

/// Whether the name of a file states a position so near to this one that a grid would hide less than the name
/// says.
fn names_a_place_near(path: &Path, at: LatLon) -> bool {
    let Some(name) = path.file_stem() else { return false };
    let near = |one: &Mentioned| {
        one.form.is_whole()
            && one.precision.0 < WITHIN
            && geodesic::distance(one.at, at).0 < WITHIN + one.precision.0
    };
    mentioned(&name.to_string_lossy(), Some(at)).iter().any(near)
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
