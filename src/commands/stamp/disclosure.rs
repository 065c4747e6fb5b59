//! Decides how exactly the position of each photograph may be published. Layer: `commands`.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use uuid::Uuid;

use super::readback;
use crate::commands::others;
use crate::commands::output::Staged;
use crate::earth::geodesic;
use crate::error::{Error, Result, read_regular};
use crate::ingest::photo::texts;
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

/// The rounding of written coordinates, metres.
const ROUNDING: f64 = 0.1;
/// Characters of a text that a refusal repeats.
const SHOWN: usize = 60;

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
        let refused = |why: String| refused(&photo.photo.source.path, why);
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

    /// Refuses a copy of a photograph with metadata that say more of a place than the stamp: judged as the texts of
    /// a find in an export are.
    ///
    /// # Errors
    /// When they do, or cannot be read.
    pub(super) fn check_metadata(
        &self,
        day: &Day,
        photo: &PlacedPhoto,
        stamp: &Stamp,
    ) -> Result<()> {
        let (Some(_), Some((at, _))) = (&self.decisions, photo.at) else { return Ok(()) };
        let path = &photo.photo.source.path;
        let texts = texts(&read_regular(path).map_err(|error| Error::file("read", path, &error))?);
        let finds = self.originals_of(day, photo);
        let shown: Vec<&KeptFind> =
            finds.iter().filter_map(|find| self.shown.get(&find.id)).collect();
        let level = stamp.generalised.max(level_of(&shown));
        let Some(text) = texts.iter().find(|text| self.discloses(&finds, at, level, text)) else {
            return Ok(());
        };
        let begin: String = text.trim().chars().take(SHOWN).collect();
        Err(refused(
            path,
            format!(
                "a text in it says more of a place, or of a time of day, than the copy may: \"{begin}\""
            ),
        ))
    }

    fn discloses(
        &self,
        finds: &[&KeptFind],
        at: LatLon,
        level: Option<Sensitivity>,
        text: &str,
    ) -> bool {
        let Some(decisions) = &self.decisions else { return false };
        // with a known track the time is the position
        let time = level.is_some() && !finds.is_empty() && sensitive::metadata_state_a_time(text);
        time || decisions.text_discloses(finds, at, level, text)
    }

    /// The finds of a photograph as they are.
    fn originals_of(&self, day: &Day, photo: &PlacedPhoto) -> Vec<&KeptFind> {
        let ids = photo.finds.iter().filter_map(|index| day.finds.get(*index).map(|find| find.id));
        ids.filter_map(|id| self.originals.get(*self.places.get(&id)?)).collect()
    }

    fn name_discloses(
        &self,
        day: &Day,
        photo: &PlacedPhoto,
        at: LatLon,
        shown: &[&KeptFind],
    ) -> bool {
        let general = (self.care == Care::Generalised).then_some(Sensitivity::Low);
        let name = name_of_a_person(&photo.photo.source.path);
        let finds = self.originals_of(day, photo);
        self.discloses(&finds, at, general.max(level_of(shown)), &name)
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
        // the copy keeps the name of the file
        if self.name_discloses(day, photo, at, &shown) {
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

/// The name of a file without its ending; empty where a camera chose it: four characters and four digits (DCF, JEITA
/// CP-3461B), unless the first letter is one of a hemisphere or of a grid.
fn name_of_a_person(path: &Path) -> String {
    let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let letters = name.trim_end_matches(|letter: char| letter.is_ascii_digit());
    let by_camera = name.len() == 8
        && (1..=4).contains(&letters.len())
        && letters.bytes().all(|byte| byte.is_ascii_uppercase() || byte == b'_')
        && !matches!(letters, "N" | "E" | "S" | "W" | "O" | "R" | "H" | "X" | "Y");
    if by_camera { String::new() } else { name }
}

/// The coarsest level at which finds are shown; `None` where all are exact.
fn level_of(shown: &[&KeptFind]) -> Option<Sensitivity> {
    let levels = shown.iter().filter_map(|find| find.generalised.as_ref());
    levels.map(|generalised| generalised.level).max()
}

fn refused(photograph: &Path, why: String) -> Error {
    Error::input(format!("{} was not copied", photograph.display()))
        .because(why)
        .hint("remove that from the photograph with another program first, or leave it out")
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_a_camera_chose_are_no_texts_of_a_person() {
        for name in ["P5240123.JPG", "IMG_2041.jpg", "_MG_2041.CR3", "DSC04567.JPG"] {
            assert_eq!(name_of_a_person(Path::new(name)), "", "{name}");
        }
        for name in ["N5240123", "E0682468", "beech 11.41444", "47307320"] {
            let with_ending = format!("{name}.jpg");
            assert_eq!(name_of_a_person(Path::new(&with_ending)), name);
        }
    }
}
