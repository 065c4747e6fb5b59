//! Sums the time, length and area that one outing searched. Layer: `analyse`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::manner::Manner;
use super::{Effort, EffortRule, Heading};
use crate::analyse::searched_area::{PlanePoint, SearchedArea};
use crate::analyse::walk::{Piece, Walk};
use crate::earth::equal_area::EqualArea;
use crate::model::TrackPoint;
use crate::units::{LatLon, Seconds};

/// The effort of one outing, with the area that it searched.
#[derive(Clone, Debug)]
pub struct Tally {
    pub(super) date: Date,
    pub(super) total: Effort,
    pub(super) searched_area: SearchedArea,
    pub(super) cells: BTreeMap<(i64, i64), Effort>,
    pub(super) bands: BTreeMap<Option<i64>, (Effort, SearchedArea)>,
}

/// Segments are split to at most this length, so that each belongs to one cell and band.
const PART: f64 = 10.0;

/// An unbroken searched part of the track: points, and the same on the plane.
type Run<'a> = Vec<(PlanePoint, &'a TrackPoint)>;

impl Tally {
    /// Tallies a walk. `height` gives the elevation of a place from tiles; without it the
    /// receiver's height is used.
    #[must_use]
    pub fn of(
        walk: &Walk,
        plane: &EqualArea,
        rule: &EffortRule,
        height: impl Fn(LatLon) -> Option<f64>,
    ) -> Self {
        let mut tally = Self {
            date: walk.date,
            total: Effort::default(),
            searched_area: SearchedArea::new(rule.half_width.0),
            cells: BTreeMap::new(),
            bands: BTreeMap::new(),
        };
        let (cells, bands) = (rule.by.contains(&Heading::Cell), rule.by.contains(&Heading::Band));
        for piece in walk.pieces() {
            tally.total += spent(&piece, 1.0);
            if cells || bands {
                tally.enter_parts(&piece, plane, rule, &height);
            }
        }
        for run in searched_runs(walk, plane) {
            let points: Vec<PlanePoint> = run.iter().map(|(point, _)| *point).collect();
            tally.searched_area.add(&points);
            if bands {
                tally.sweep_bands(&run, rule, &height);
            }
        }
        tally.settle();
        tally
    }

    /// The searched area, hectares.
    #[must_use]
    pub fn hectares(mut self) -> f64 {
        self.searched_area.area() / 1e4
    }

    fn enter_parts(
        &mut self,
        piece: &Piece<'_>,
        plane: &EqualArea,
        rule: &EffortRule,
        height: &impl Fn(LatLon) -> Option<f64>,
    ) {
        let count = (piece.length.0 / PART).ceil().clamp(1.0, 1e4);
        let own = spent(piece, 1.0 / count);
        let cell = rule.cell.0.max(1.0);
        for part in 0..floor(count) {
            let share = (part as f64 + 0.5) / count;
            let at = piece.at(share);
            if rule.by.contains(&Heading::Cell) {
                let (x, y) = plane.to_plane(at);
                *self.cells.entry((floor(x / cell), floor(y / cell))).or_default() += own;
            }
            if rule.by.contains(&Heading::Band) {
                let band = height(at).or_else(|| piece.height(share)).map(|h| band_of(h, rule));
                self.band(band, rule).0 += own;
            }
        }
    }

    fn band(&mut self, band: Option<i64>, rule: &EffortRule) -> &mut (Effort, SearchedArea) {
        self.bands
            .entry(band)
            .or_insert_with(|| (Effort::default(), SearchedArea::new(rule.half_width.0)))
    }

    fn sweep_bands(
        &mut self,
        run: &[(PlanePoint, &TrackPoint)],
        rule: &EffortRule,
        height: &impl Fn(LatLon) -> Option<f64>,
    ) {
        let mut open: Option<(Option<i64>, Vec<PlanePoint>)> = None;
        for (point, own) in run {
            let known = height(own.at).or_else(|| own.height.map(|height| height.0.0));
            let band = known.map(|h| band_of(h, rule));
            match &mut open {
                Some((now, points)) if *now == band => points.push(*point),
                _ => {
                    if let Some((band, mut points)) = open.take() {
                        points.push(*point);
                        self.band(band, rule).1.add(&points);
                    }
                    open = Some((band, vec![*point]));
                }
            }
        }
        if let Some((band, points)) = open {
            self.band(band, rule).1.add(&points);
        }
    }

    /// Every group that the outing contributes to counts it once.
    fn settle(&mut self) {
        self.searched_area.settle();
        self.total.outings = usize::from(self.total.time.0 > 0.0 || self.total.length.0 > 0.0);
        self.cells.values_mut().for_each(|effort| effort.outings = 1);
        for (effort, searched_area) in self.bands.values_mut() {
            effort.outings = 1;
            searched_area.settle();
        }
    }
}

fn spent(piece: &Piece<'_>, share: f64) -> Effort {
    let time = |counts: bool| Seconds(if counts { piece.time().0 * share } else { 0.0 });
    Effort {
        time: time(true),
        searched: Seconds(piece.searched().0 * share),
        at_finds: time(piece.manner == Some(Manner::Handling)),
        rests: time(piece.manner == Some(Manner::Rest)),
        on_paths: time(piece.manner == Some(Manner::Path)),
        length: piece.length * share,
        searched_length: piece.searched_length() * share,
        ..Effort::default()
    }
}

fn band_of(height: f64, rule: &EffortRule) -> i64 {
    floor(height / rule.band.0.max(1.0))
}

fn searched_runs<'a>(walk: &'a Walk, plane: &EqualArea) -> Vec<Run<'a>> {
    let mut runs: Vec<Run<'_>> = Vec::new();
    let mut last_time = None;
    for piece in walk.pieces().filter(Piece::is_search) {
        let own = |point: &'a TrackPoint| (plane.to_plane(point.at), point);
        if last_time != Some(piece.from.time) {
            runs.push(vec![own(piece.from)]);
        }
        if let Some(run) = runs.last_mut() {
            run.push(own(piece.to));
        }
        last_time = Some(piece.to.time);
    }
    runs
}

#[allow(clippy::cast_possible_truncation, reason = "within the Earth's size")]
fn floor(number: f64) -> i64 {
    number.floor() as i64
}
