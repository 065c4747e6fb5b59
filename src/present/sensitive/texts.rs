//! Withholds texts that state a position of a protected place. Layer: `present`.
//!
//! Habitat, substrate and host say something about the fungus and stay with a generalised find, unless a
//! position, a time of day or the locality can be read from them. A text is withheld whole: what surrounds a position
//! describes it.

use super::Decisions;
use super::levels::Level;
use super::times::{LocalityWords, has_time_of_day};
use crate::earth::geodesic;
use crate::model::{Field, KeptFind, Mentioned, MentionedForm, Sensitivity};
use crate::units::{LatLon, Metres};

/// What stands in place of a withheld text that states a position.
pub const TEXT_WITHHELD: &str = "[withheld: it states a position]";
/// The same for one coordinate alone.
pub const COORDINATE_WITHHELD: &str = "[withheld: a number in it can be a coordinate]";
/// The same for a code or words that stand for a position.
pub const CODE_WITHHELD: &str = "[withheld: it holds a code of a position]";

/// The shift between the datums of maps and receivers, metres (common practice; Tokyo datum 450 m).
const DATUMS: f64 = 500.0;
/// Coordinates of other finds are no coarser than this, metres (chosen).
const COARSE: f64 = 2_000.0;
/// How near to an exact find a text may name its own position, metres: the distance at which a collector may
/// stand and a datum shift (common practice).
const OWN: f64 = 200.0;
/// The level that gives no coordinates has no cell; a text may not say within this distance where it was, metres
/// (chosen).
const WITHOUT_CELL: f64 = 50_000.0;

/// The same for a time of day: with a known track it is the position.
pub const TIME_WITHHELD: &str = "[withheld: it states a time of day]";
/// The same for words of the withheld locality.
pub const LOCALITY_WITHHELD: &str = "[withheld: it names the locality]";

/// Why a text is withheld.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WithheldFor {
    /// It states both coordinates.
    Position,
    /// It holds a number that can be one coordinate.
    Coordinate,
    /// It holds a code or words that stand for a position.
    Code,
    /// It holds a time of day.
    Time,
    /// It holds words of the withheld locality.
    Locality,
}

impl WithheldFor {
    const ALL: [Self; 5] =
        [Self::Position, Self::Coordinate, Self::Code, Self::Time, Self::Locality];

    /// What stands in place of the text.
    fn replacement(self) -> &'static str {
        match self {
            Self::Position => TEXT_WITHHELD,
            Self::Coordinate => COORDINATE_WITHHELD,
            Self::Code => CODE_WITHHELD,
            Self::Time => TIME_WITHHELD,
            Self::Locality => LOCALITY_WITHHELD,
        }
    }
}

impl From<MentionedForm> for WithheldFor {
    fn from(form: MentionedForm) -> Self {
        match form {
            MentionedForm::Position => Self::Position,
            MentionedForm::Coordinate => Self::Coordinate,
            MentionedForm::Code | MentionedForm::Words => Self::Code,
        }
    }
}

/// A text that was withheld, by its field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WithheldText {
    /// The field, as people call it.
    pub field: String,
    /// What it states.
    pub reason: WithheldFor,
}

/// The texts of a find that were withheld because they state where it, or another protected place, is.
#[must_use]
pub fn withheld_texts(shown: &KeptFind) -> Vec<WithheldText> {
    let record = &shown.record;
    let own = [
        ("place", &record.place),
        ("substrate", &record.substrate),
        ("host", &record.host),
        ("habitat", &record.habitat),
        ("container", &record.container),
        ("collector", &record.collector),
        ("collector", &shown.collector),
    ];
    let named = shown.determinations.iter().flat_map(|named| {
        [
            ("determiner", &named.determiner),
            ("method of determination", &named.method),
            ("remarks on the determination", &named.remarks),
        ]
    });
    let own = own.into_iter().chain(named);
    let own = own.filter_map(|(field, text)| Some((field, text.as_ref()?)));
    let others = record.fields.iter().map(|(field, text)| (field.heading(), text));
    let conflicts = shown.conflicts.iter().map(|text| ("conflict", text));
    let mut found: Vec<WithheldText> = Vec::new();
    for (field, text) in own.chain(others).chain(conflicts) {
        let reason = WithheldFor::ALL.into_iter().find(|reason| text == reason.replacement());
        let Some(reason) = reason else { continue };
        let withheld = WithheldText { field: field.to_owned(), reason };
        if !found.contains(&withheld) {
            found.push(withheld);
        }
    }
    found
}

impl Decisions {
    /// Replaces the texts of a find that state where it, or another protected place, is.
    pub(super) fn withhold_texts(
        &self,
        original: &KeptFind,
        level: Option<Level>,
        shown: &mut KeptFind,
    ) {
        if level.is_none() && self.footprints.is_empty() {
            return;
        }
        let localities = shown_without_locality(level).then(|| localities(original));
        let words = LocalityWords::of(localities.into_iter().flatten());
        let says = |text: &str| {
            let position = self.discloses(original, level, text).map(WithheldFor::from);
            let time = || (level.is_some() && has_time_of_day(text)).then_some(WithheldFor::Time);
            let locality = || words.is_in(text).then_some(WithheldFor::Locality);
            position.or_else(time).or_else(locality)
        };
        let mut changed = false;
        let mut withhold = |text: &mut String| {
            if let Some(reason) = says(text) {
                reason.replacement().clone_into(text);
                changed = true;
            }
        };
        let record = &mut shown.record;
        let own = [
            &mut record.place,
            &mut record.substrate,
            &mut record.host,
            &mut record.habitat,
            &mut record.container,
            &mut record.collector,
            &mut shown.collector,
        ];
        own.into_iter().flatten().for_each(&mut withhold);
        record.fields.values_mut().for_each(&mut withhold);
        for named in &mut shown.determinations {
            let texts = [&mut named.determiner, &mut named.method, &mut named.remarks];
            texts.into_iter().flatten().for_each(&mut withhold);
        }
        shown.conflicts.iter_mut().for_each(&mut withhold);
        // headings of a table can be written by hand as well
        record
            .fields
            .retain(|field, _| !matches!(field, Field::Other(heading) if says(heading).is_some()));
        record.photos.retain(|photo| says(&photo.0).is_none());
        record.waypoint = record.waypoint.take().filter(|name| says(name).is_none());
        shown.photos.retain(|photo| says(&photo.path).is_none());
        if changed {
            // they repeat texts
            shown.amended.clear();
        }
    }

    /// Whether a text beside a photograph says more of a protected place than the copy may: of these finds, which it
    /// shows, of where it was taken, or of another place. `level` is that of the copy; `None` where it is exact.
    #[must_use]
    pub fn text_discloses(
        &self,
        finds: &[&KeptFind],
        taken: LatLon,
        level: Option<Sensitivity>,
        text: &str,
    ) -> bool {
        let own = finds.iter().flat_map(|find| own_places(find));
        let own: Vec<(LatLon, f64)> = own.chain([(taken, 0.0)]).collect();
        let level = level.map(|step| Level { step, rule: None });
        self.discloses_of(&own, level, text).is_some()
    }

    /// How a text of the find says more of a protected place than its output may; `None` where it does not.
    fn discloses(
        &self,
        original: &KeptFind,
        level: Option<Level>,
        text: &str,
    ) -> Option<MentionedForm> {
        self.discloses_of(&own_places(original), level, text)
    }

    fn discloses_of(
        &self,
        own: &[(LatLon, f64)],
        level: Option<Level>,
        text: &str,
    ) -> Option<MentionedForm> {
        if !text.contains(char::is_numeric) && !text.contains("///") {
            return None;
        }
        let places = apart(own);
        let mentioned = places.iter().flat_map(|near| (self.positions)(text, *near));
        let disclosing = mentioned.filter(|one| {
            level.is_some_and(|level| states_own(own, level, one))
                || self.states_other(own, level, one)
        });
        disclosing.map(|one| one.form).min()
    }

    fn states_other(&self, own: &[(LatLon, f64)], level: Option<Level>, one: &Mentioned) -> bool {
        let is_own = |(at, _): &(LatLon, f64)| geodesic::distance(*at, one.at).0 < OWN;
        one.form.is_whole()
            && one.precision.0 <= COARSE
            && self.footprints.reach_from(one.at, Metres(one.precision.0.min(DATUMS) + DATUMS))
            && !(level.is_none() && own.iter().any(is_own))
    }
}

/// Whether the locality of a find at this level is withheld.
pub(super) fn shown_without_locality(level: Option<Level>) -> bool {
    level.is_some_and(|level| level.rule.is_some() || level.step > Sensitivity::Low)
}

/// The localities of a find; wider areas, such as its county, are none.
fn localities(find: &KeptFind) -> Vec<&str> {
    let other = |heading: &str| find.record.fields.get(&Field::Other(heading.to_owned()));
    let other = ["verbatimLocality", "locationRemarks"].into_iter().filter_map(other);
    find.record.place.iter().chain(other).map(String::as_str).collect()
}

/// The positions of a find with their radii: as stored, before a correction, and as written.
fn own_places(find: &KeptFind) -> Vec<(LatLon, f64)> {
    let stored = find.place.as_ref().map(|place| (place.at, place.radius.metres().0));
    let before = find.as_imported.as_ref().and_then(|imported| imported.place);
    let before = before.map(|(at, radius)| (at, radius.metres().0));
    let written = find.record.coordinates.iter().flat_map(|written| &written.readings);
    stored.into_iter().chain(before).chain(written.map(|reading| (reading.at, 0.0))).collect()
}

/// Places that are so far from each other that one coordinate near one is not near the other; `None` alone where
/// there is no place.
fn apart(own: &[(LatLon, f64)]) -> Vec<Option<LatLon>> {
    let mut places: Vec<Option<LatLon>> = Vec::new();
    for (at, _) in own {
        let far = |other: &Option<LatLon>| {
            other.is_none_or(|other| geodesic::distance(other, *at).0 > DATUMS)
        };
        if places.iter().all(far) {
            places.push(Some(*at));
        }
    }
    if places.is_empty() { vec![None] } else { places }
}

fn states_own(own: &[(LatLon, f64)], level: Level, one: &Mentioned) -> bool {
    let side = level.step.least_side().unwrap_or(WITHOUT_CELL);
    if one.precision.0 > 2.0 * side {
        return false;
    }
    if own.is_empty() {
        return !one.bare;
    }
    own.iter().any(|(at, radius)| {
        let within = side.max(1_000.0) + one.precision.0 + radius + DATUMS;
        geodesic::distance(*at, one.at).0 <= within
    })
}
