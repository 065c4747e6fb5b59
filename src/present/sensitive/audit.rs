//! Checks whether a sensitive place can be recovered from an output. Judges statements read back from
//! the output together with earlier outputs. Layer: `present`.

use std::collections::{BTreeSet, HashMap};

use uuid::Uuid;

use super::grid;
use super::leak::{called, withheld_words};
use super::readback::Statement;
use super::{Decisions, levels};
use crate::earth::geodesic;
use crate::model::{GridCell, KeptFind, Leak, LeakKind, Mentioned, Published, Sensitivity};
use crate::units::{LatLon, Metres};

/// Shorter texts match by coincidence (chosen).
const LEAST_LETTERS: usize = 6;
/// The largest distance between written coordinates and their find, metres: the distance at which a
/// collector may stand, plus a datum shift of up to 200 m (common practice).
const OWN: f64 = 200.0;
/// The largest number of leaks reported.
const MOST: usize = 20;

/// The leak check of one output.
#[derive(Debug)]
pub struct Audit<'a> {
    decisions: &'a Decisions,
    /// The finds by their identities, as indices of what was decided.
    places: &'a HashMap<Uuid, usize>,
    /// Labels of sensitive finds, and their withheld texts.
    words: HashMap<usize, (String, Vec<String>)>,
    /// The finds by number, for formats that identify finds by number only.
    by_number: Option<HashMap<String, Vec<usize>>>,
    leaks: BTreeSet<Leak>,
}

/// The data of one find that an output must not contain.
#[derive(Clone, Copy)]
struct Secret {
    index: usize,
    at: Option<LatLon>,
    level: Sensitivity,
    cell: Option<GridCell>,
}

impl<'a> Audit<'a> {
    /// A check of an output under these decisions; `places` says which find is which of them.
    #[must_use]
    pub fn new(decisions: &'a Decisions, places: &'a HashMap<Uuid, usize>) -> Self {
        let (words, leaks) = (HashMap::new(), BTreeSet::new());
        Self { decisions, places, words, by_number: None, leaks }
    }

    /// The same for a format that identifies finds by number only.
    #[must_use]
    pub fn by_number(self) -> Self {
        Self { by_number: Some(HashMap::new()), ..self }
    }

    /// Adds a find of the output: original, generalised, and its earlier published states.
    pub fn add(&mut self, original: &KeptFind, shown: &KeptFind, earlier: &[Published]) {
        let Some(index) = self.places.get(&original.id).copied() else { return };
        if let (Some(number), Some(by_number)) = (&original.record.number, &mut self.by_number) {
            by_number.entry(number.0.clone()).or_default().push(index);
        }
        let Some(generalised) = &shown.generalised else { return };
        if let Some(reported) = together(generalised.level, generalised.cell, earlier) {
            self.add_leak(&called(original), reported);
        }
        if generalised.decided {
            let words = withheld_words(original, shown);
            let words = words.filter(|text| text.chars().count() >= LEAST_LETTERS);
            self.words.insert(index, (called(original), words.cloned().collect()));
        }
    }

    /// Judges one statement.
    pub fn judge(&mut self, statement: &Statement) {
        let of: Vec<usize> = match (statement.find, &statement.number) {
            (Some(find), _) => self.places.get(&find).copied().into_iter().collect(),
            (None, Some(number)) => {
                self.by_number.as_ref().and_then(|all| all.get(number)).cloned().unwrap_or_default()
            }
            (None, None) => Vec::new(),
        };
        let secrets: Vec<Secret> = of.iter().filter_map(|index| self.secret(*index)).collect();
        if of.is_empty() {
            self.judge_track(statement);
        } else if let Some(first) = secrets.first() {
            // some of several finds with one number may be exact
            self.judge_positions(&secrets, *first, statement, of.len() > 1);
            self.judge_words(&secrets, statement);
        }
        self.judge_numbers(statement, &secrets);
    }

    /// Judges the points that a drawing shows.
    pub fn judge_points(&mut self, places: impl IntoIterator<Item = LatLon>) {
        let leads = |at: LatLon| self.decisions.leads_to_sensitive(at, Metres(0.0));
        if places.into_iter().any(leads) {
            self.add_leak("a drawing", LeakKind::Drawn);
        }
    }

    /// Judges the cells that a drawing shows: centre, and the shorter side. `slack` is the accuracy of the
    /// drawing.
    pub fn judge_cells(
        &mut self,
        cells: impl IntoIterator<Item = (LatLon, Metres)>,
        slack: Metres,
    ) {
        let published: Vec<LatLon> = self
            .decisions
            .placed
            .iter()
            .flatten()
            .filter_map(|placed| placed.cell.map(|cell| cell.at))
            .collect();
        let least = Sensitivity::Low.least_side().unwrap_or(0.0);
        let is_cell = |(at, side): (LatLon, Metres)| {
            let near = |cell: &LatLon| geodesic::distance(*cell, at).0 <= slack.0;
            side.0 + slack.0 >= least && published.iter().any(near)
        };
        if !cells.into_iter().all(is_cell) {
            self.add_leak("a drawing", LeakKind::DrawnBesideCells);
        }
    }

    /// Whether a position is inside a sensitive place.
    #[must_use]
    pub fn is_sensitive(&self, at: LatLon) -> bool {
        self.decisions.leads_to_sensitive(at, Metres(0.0))
    }

    /// Adds a leak that a reader of the output found.
    pub fn report(&mut self, what: &'static str) {
        self.add_leak("a drawing", LeakKind::Unchecked(what));
    }

    /// The leaks; empty when there are none.
    #[must_use]
    pub fn leaks(&self) -> Vec<Leak> {
        self.leaks.iter().cloned().collect()
    }

    fn secret(&self, index: usize) -> Option<Secret> {
        let levels::Level { step, .. } = self.decisions.levels.get(index).copied().flatten()?;
        let placed = self.decisions.placed.get(index).copied().flatten();
        Some(Secret {
            index,
            at: self.decisions.true_places.get(index).copied().flatten(),
            level: step,
            cell: placed.and_then(|placed| placed.cell),
        })
    }

    fn called(&self, secret: Secret) -> String {
        let sensitive = self.words.get(&secret.index).map(|(called, _)| called.clone());
        sensitive.unwrap_or_else(|| "a find".to_owned())
    }

    fn add_leak(&mut self, of: &str, kind: LeakKind) {
        if self.leaks.len() < MOST {
            self.leaks.insert(Leak { of: of.to_owned(), kind });
        }
    }

    /// Positions of a find must be the centre of its cell.
    fn judge_positions(
        &mut self,
        secrets: &[Secret],
        first: Secret,
        statement: &Statement,
        namesakes: bool,
    ) {
        let allowed = |at: &LatLon| {
            if namesakes {
                !secrets.iter().any(|secret| secret.is_revealed_by(*at))
            } else {
                secrets.iter().any(|secret| secret.is_cell(*at))
            }
        };
        if !statement.positions.iter().all(allowed) {
            let called = self.called(first);
            self.add_leak(&called, LeakKind::NotTheCentre);
        }
    }

    /// Withheld texts of a find must not appear with it.
    fn judge_words(&mut self, secrets: &[Secret], statement: &Statement) {
        let mut leaks = Vec::new();
        for (called, words) in secrets.iter().filter_map(|secret| self.words.get(&secret.index)) {
            for word in words.iter().filter(|word| statement.text.contains(word.as_str())) {
                leaks.push((called.clone(), word.clone()));
            }
        }
        for (called, word) in leaks {
            self.add_leak(&called, LeakKind::WithheldText(word));
        }
    }

    /// A track must not pass a sensitive place.
    fn judge_track(&mut self, statement: &Statement) {
        let leads = |at: &LatLon| self.decisions.leads_to_sensitive(*at, Metres(0.0));
        if statement.positions.iter().any(leads) {
            self.add_leak("a track", LeakKind::Track);
        }
    }

    /// Positions in texts, in any notation.
    fn judge_numbers(&mut self, statement: &Statement, secrets: &[Secret]) {
        // an exact find may repeat its own position in a text
        let own_position = |at: LatLon| {
            let near = |own: &LatLon| geodesic::distance(*own, at).0 < OWN;
            secrets.is_empty() && statement.find.is_some() && statement.positions.iter().any(near)
        };
        let mentioned = (self.decisions.positions)(&statement.text, None).into_iter();
        for Mentioned { at, precision, bare, .. } in mentioned.filter(|one| one.form.is_whole()) {
            if bare {
                continue;
            }
            let own = secrets.iter().find(|secret| secret.is_revealed_in_text(at, precision));
            if let Some(secret) = own.copied() {
                let called = self.called(secret);
                self.add_leak(&called, LeakKind::CoordinatesInText);
            } else if precision.0 <= FINE
                && self.decisions.leads_to_sensitive(at, Metres(0.0))
                && !self.is_published(at, precision)
                && !own_position(at)
            {
                self.add_leak("words", LeakKind::PlaceInText);
            }
        }
    }

    fn is_published(&self, at: LatLon, precision: Metres) -> bool {
        let cells = self.decisions.placed.iter().flatten().filter_map(|placed| placed.cell);
        cells.into_iter().any(|cell| geodesic::distance(cell.at, at).0 <= precision.0 + POINT)
    }
}

impl Secret {
    fn is_cell(&self, at: LatLon) -> bool {
        self.cell.is_some_and(|cell| same_point(cell.at, at))
    }

    /// Whether a position reveals more of the true one than the cell does.
    fn is_revealed_by(&self, at: LatLon) -> bool {
        let least = self.level.least_side().unwrap_or(10_000.0);
        !self.is_cell(at)
            && self.at.is_some_and(|place| geodesic::distance(place, at).0 < least / 2.0)
    }

    /// The same for a position written with this precision.
    fn is_revealed_in_text(&self, at: LatLon, precision: Metres) -> bool {
        let least = self.level.least_side().unwrap_or(10_000.0);
        let middle = |cell: GridCell| geodesic::distance(cell.at, at).0 <= precision.0 + POINT;
        precision.0 <= 2.0 * least && !self.cell.is_some_and(middle) && self.is_revealed_by(at)
    }
}

/// Coarser positions in texts single out no place, metres (chosen).
const FINE: f64 = 100.0;
/// The resolution of written positions, metres.
const POINT: f64 = 0.03;

/// Equal to a centimetre.
fn same_point(one: LatLon, other: LatLon) -> bool {
    geodesic::distance(one, other).0 < POINT
}

/// Whether the cell, together with those published before, reveals more than the finest of them: their
/// common part must not be narrower than the finest level allows.
fn together(level: Sensitivity, cell: Option<GridCell>, earlier: &[Published]) -> Option<LeakKind> {
    let cell = cell?;
    let before = earlier.iter().filter_map(|one| one.level.zip(one.cell));
    let all: Vec<(Sensitivity, GridCell)> = before.chain([(level, cell)]).collect();
    let finest = all.iter().map(|(level, _)| *level).min()?;
    // a cell derived from a finer published one adds nothing, though its edge may cut it
    let follows = |level: Sensitivity, cell: &GridCell| {
        all.iter().any(|(finer, other)| {
            *finer < level && grid::cell(other.at, level).as_ref() == Some(cell)
        })
    };
    let telling = all.iter().filter(|(level, cell)| !follows(*level, cell));
    let common = telling.map(|(_, cell)| *cell).reduce(|a, b| common(&a, &b).unwrap_or(b))?;
    let (north, east) = grid::sides(&common);
    let whole = common.longitude_step >= 360.0;
    // tolerance of 1 % of a side for rounding
    let least = finest.least_side()? * 0.99;
    (!whole && north.min(east).0 < least).then_some(LeakKind::NarrowOverlap)
}

/// The intersection of two cells; `None` where there is none, as after a correction of the position.
fn common(one: &GridCell, other: &GridCell) -> Option<GridCell> {
    let shift = (other.at.longitude() - one.at.longitude() + 540.0).rem_euclid(360.0) - 180.0;
    let (south, north) = overlap(
        (one.at.latitude(), one.latitude_step),
        (other.at.latitude(), other.latitude_step),
    )?;
    let (west, east) = overlap((0.0, one.longitude_step), (shift, other.longitude_step))?;
    let at = LatLon::clamped(
        f64::midpoint(south, north),
        one.at.longitude() + f64::midpoint(west, east),
    );
    Some(GridCell { at, latitude_step: north - south, longitude_step: east - west })
}

fn overlap(one: (f64, f64), other: (f64, f64)) -> Option<(f64, f64)> {
    let low = (one.0 - one.1 / 2.0).max(other.0 - other.1 / 2.0);
    let high = (one.0 + one.1 / 2.0).min(other.0 + other.1 / 2.0);
    (high - low > 1e-9).then_some((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(latitude: f64, level: Sensitivity) -> GridCell {
        grid::cell(LatLon::new(latitude, 20.0).unwrap(), level).unwrap()
    }

    #[test]
    fn partially_overlapping_cells_leak_and_nested_cells_do_not() {
        let find = Uuid::nil();
        let (low, medium) = (Sensitivity::Low, Sensitivity::Medium);
        let published =
            |level, cell| Published { find, level: Some(level), cell: Some(cell), rule: None };
        let judged = |level, latitude, before: &Published| {
            together(level, Some(cell(latitude, level)), std::slice::from_ref(before)).is_some()
        };
        let fine = published(low, cell(10.005, low));
        assert!(judged(medium, 10.004, &fine), "the edge of the coarse cell cuts the fine one");
        assert!(!judged(medium, 10.006, &fine), "it follows from the fine one, and adds nothing");
        assert!(!judged(medium, 10.001, &published(low, cell(10.001, low))));
        assert!(!judged(low, 10.005, &fine));
        assert!(!judged(medium, 10.5, &fine), "another place after a correction");
    }
}
