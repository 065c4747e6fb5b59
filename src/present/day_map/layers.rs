//! Draws the layers of the day map: fixes, track, gaps, stops, photographs, finds, conflicting
//! positions. Layer: `present`.

use crate::model::{Activity, Anchor, Day, Find, Located, Verdict};
use crate::present::map::MapSheet;
use crate::present::map::ground::outline;
use crate::present::map::names::Obstacles;
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line};
use crate::present::svg::{self, Point, Stroke};
use crate::units::LatLon;

/// The drawn layers and the count of each kind.
pub(in crate::present) struct Layers {
    pub(in crate::present) drawn: Elements,
    /// The photographs, drawn above the finds: most coincide with the find they show.
    pub(in crate::present) photos: Elements,
    /// Kinds for the legend, with a remark on their number.
    pub(in crate::present) kinds: Vec<(Kind, String)>,
    /// Finds whose position is off the map.
    pub(in crate::present) off_the_map: Vec<String>,
}

/// A kind of mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::present) enum Kind {
    Recorded,
    Aside,
    Walk,
    Search,
    Stop,
    Gap,
    Photo,
    Find,
    Conflict,
}

/// The reach of a find's mark, points.
pub(in crate::present) const FIND_REACH: f64 = 3.4;
/// The reach of a stop's mark, points.
const STOP_REACH: f64 = 4.0;
const RECORDED: Stroke = Stroke::new(style::RAW, line::FINE);
const WALK: Stroke = Stroke::new(style::WALK, line::CURVE);
const SEARCH: Stroke = Stroke::new(style::SEARCH, line::STRONG);
const GAP: Stroke = Stroke::new(style::WALK, line::CURVE).dashed(3.2, 2.6);
const CONFLICT: Stroke = Stroke::new(style::ASIDE, line::FINE).dashed(1.6, 1.4);

/// All layers except labels.
pub(super) fn draw(day: &Day, sheet: &MapSheet, obstacles: &mut Obstacles) -> Layers {
    let mut layers = ground(day, sheet, obstacles);
    layers.finds(day, sheet);
    layers.drawn.push(std::mem::take(&mut layers.photos));
    layers
}

/// The layers below the find marks.
pub(in crate::present) fn ground(day: &Day, sheet: &MapSheet, obstacles: &mut Obstacles) -> Layers {
    let mut layers = Layers {
        drawn: Elements::default(),
        photos: Elements::default(),
        kinds: Vec::new(),
        off_the_map: Vec::new(),
    };
    layers.recorded(day, sheet);
    layers.track(day, sheet, obstacles);
    layers.stops(day, sheet, obstacles);
    layers.circles(day, sheet);
    layers.photos(day, sheet, obstacles);
    layers.aside(day, sheet);
    layers
}

impl Layers {
    fn kind(&mut self, kind: Kind, remark: String, drawn: Elements) {
        if !drawn.is_empty() {
            self.kinds.push((kind, remark));
            self.drawn.push(drawn);
        }
    }

    fn recorded(&mut self, day: &Day, sheet: &MapSheet) {
        let kept: Vec<_> = day.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).collect();
        let runs = kept.chunk_by(|a, b| (a.source, a.segment) == (b.source, b.segment));
        let lines: Vec<Vec<Point>> = runs
            .map(|run| thinned(sheet, run.iter().map(|fix| fix.fix.at)))
            .filter(|run| run.len() > 1)
            .collect();
        self.lines(Kind::Recorded, &lines, RECORDED);
    }

    /// All lines of a kind as one element.
    fn lines(&mut self, kind: Kind, lines: &[Vec<Point>], stroke: Stroke) {
        let drawn = (!lines.is_empty()).then(|| svg::long_polylines(lines, stroke));
        self.kind(kind, String::new(), drawn.into_iter().collect());
    }

    fn aside(&mut self, day: &Day, sheet: &MapSheet) {
        let aside: Vec<Point> = day
            .fixes
            .iter()
            .filter(|fix| fix.verdict != Verdict::Kept)
            .map(|fix| sheet.at(fix.fix.at))
            .collect();
        let shown: Vec<Point> =
            aside.iter().copied().filter(|at| sheet.frame.inset(2.0).holds(*at)).collect();
        let remark = match aside.len() - shown.len() {
            0 => format!("{}", aside.len()),
            off => format!("{}, {off} off the map", aside.len()),
        };
        let mut thin: Vec<Point> = Vec::new();
        for at in shown {
            if thin.last().is_none_or(|last| last.distance(at) > 0.8) {
                thin.push(at);
            }
        }
        self.kind(Kind::Aside, remark, thin.into_iter().map(|at| svg::pin(at, cross())).collect());
    }

    fn track(&mut self, day: &Day, sheet: &MapSheet, obstacles: &mut Obstacles) {
        let (mut walks, mut searches, mut gaps) = (Vec::new(), Vec::new(), Vec::new());
        for (activity, run) in runs(day) {
            let points = thinned(sheet, run.iter().copied());
            obstacles.line(&points);
            match activity {
                TrackStyle::Known(Activity::Searching) => searches.push(points),
                TrackStyle::Known(_) => walks.push(points),
                TrackStyle::Gap => gaps.push(points),
            }
        }
        self.lines(Kind::Gap, &gaps, GAP);
        self.lines(Kind::Walk, &walks, WALK);
        self.lines(Kind::Search, &searches, SEARCH);
    }

    fn stops(&mut self, day: &Day, sheet: &MapSheet, obstacles: &mut Obstacles) {
        let places = day.stops.iter().map(|stop| sheet.at(stop.at));
        for at in places.clone() {
            // labels avoid stops but may cover them
            obstacles.line(&[at.plus(-STOP_REACH, 0.0), at.plus(STOP_REACH, 0.0)]);
            obstacles.line(&[at.plus(0.0, -STOP_REACH), at.plus(0.0, STOP_REACH)]);
        }
        let drawn = places.map(|at| svg::pin(at, stop_mark())).collect();
        self.kind(Kind::Stop, format!("{}", day.stops.len()), drawn);
    }

    fn circles(&mut self, day: &Day, sheet: &MapSheet) {
        let circles: Vec<Element> = located(day)
            .map(|(_, place)| {
                let radius = sheet.points(place.radius.metres()).max(1.0);
                svg::circle(sheet.at(place.at), radius)
            })
            .collect();
        if !circles.is_empty() {
            let edge = Stroke::new(style::FIND, line::FINE);
            let all = svg::group().washed(style::FIND, 0.10).stroked(edge);
            self.drawn.push(all.with_all(circles));
        }
    }

    fn photos(&mut self, day: &Day, sheet: &MapSheet, obstacles: &mut Obstacles) {
        let places: Vec<Point> = day
            .photos
            .iter()
            .filter_map(|photo| Some(sheet.at(photo.at?.0)))
            .inspect(|at| obstacles.mark(*at, 1.5))
            .collect();
        if !places.is_empty() {
            let marks = places.iter().map(|at| svg::pin(*at, photo_square()));
            self.photos.push(photo_style(svg::group()).with_all(marks));
            self.kinds.push((Kind::Photo, format!("{}", places.len())));
        }
    }

    fn finds(&mut self, day: &Day, sheet: &MapSheet) {
        let (mut marks, mut readings) = (Elements::default(), Elements::default());
        let mut count = 0;
        for (find, place) in located(day) {
            let at = sheet.at(place.at);
            if !sheet.frame.holds(at) {
                self.off_the_map.push(number(find));
                continue;
            }
            for anchor in find.anchors.iter().filter(|anchor| !anchor.used) {
                readings.push(conflict_mark(at, sheet, anchor));
            }
            marks.push(svg::pin(at, find_mark()));
            count += 1;
        }
        self.kind(Kind::Conflict, String::new(), readings);
        self.kind(Kind::Find, format!("{count}"), marks);
    }
}

pub(in crate::present) fn located(day: &Day) -> impl Iterator<Item = (&Find, &Located)> {
    day.finds.iter().filter_map(|find| Some((find, find.place.as_ref().ok()?)))
}

/// The collector's number, or a placeholder.
pub(in crate::present) fn number(find: &Find) -> String {
    find.record.number.as_ref().map_or_else(|| "no number".to_owned(), |number| number.0.clone())
}

/// The style of a track section.
#[derive(Clone, Copy, PartialEq)]
enum TrackStyle {
    Known(Activity),
    Gap,
}

/// The track in sections of one activity; each begins where the last one ends.
fn runs(day: &Day) -> Vec<(TrackStyle, Vec<LatLon>)> {
    let mut runs: Vec<(TrackStyle, Vec<LatLon>)> = Vec::new();
    for pair in day.track.windows(2) {
        let way =
            if pair[0].gap_after { TrackStyle::Gap } else { TrackStyle::Known(pair[0].activity) };
        match runs.last_mut() {
            Some((last, run)) if *last == way => run.push(pair[1].at),
            _ => runs.push((way, vec![pair[0].at, pair[1].at])),
        }
    }
    runs
}

/// How far a drawn track may be from its points, points of the drawing: a fiftieth of a millimetre on paper.
const FINE: f64 = 0.06;

/// Points on paper, without those that are indistinguishable at print size.
fn thinned(sheet: &MapSheet, places: impl Iterator<Item = LatLon>) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::new();
    let mut skipped = None;
    for place in places {
        let at = sheet.at(place);
        if points.last().is_none_or(|last| last.distance(at) > 0.35) {
            points.push(at);
            skipped = None;
        } else {
            skipped = Some(at);
        }
    }
    points.extend(skipped);
    outline::simplified(&points, FINE)
}

/// A fix that was set aside.
fn cross() -> Element {
    let reach = 2.1;
    let stroke = Stroke::new(style::ASIDE, line::FINE + 0.2);
    let at = Point::new;
    svg::group().with(svg::line(at(-reach, -reach), at(reach, reach), stroke)).with(svg::line(
        at(-reach, reach),
        at(reach, -reach),
        stroke,
    ))
}

/// A stop.
fn stop_mark() -> Element {
    let edge = Stroke::new(style::INK, line::HAIR);
    svg::circle(Point::default(), STOP_REACH).filled(style::STOP).stroked(edge)
}

/// A photograph: small enough that the corners of a find below it stay visible.
fn photo_square() -> Element {
    let side = 2.4;
    svg::rectangle(svg::Frame::new(-side / 2.0, -side / 2.0, side, side))
}

/// The fill and line of photographs, of one or of a group.
fn photo_style(of: Element) -> Element {
    of.filled(style::PAPER).stroked(Stroke::new(style::PHOTO, 0.7)).set("pointer-events", "none")
}

/// A find.
pub(in crate::present) fn find_mark() -> Element {
    let reach = FIND_REACH;
    let corners =
        [(0.0, -reach), (reach, 0.0), (0.0, reach), (-reach, 0.0)].map(|(x, y)| Point::new(x, y));
    svg::polygon(&corners, style::FIND).stroked(Stroke::new(style::PAPER, line::FINE))
}

/// A conflicting position that was not used.
fn conflict_mark(from: Point, sheet: &MapSheet, anchor: &Anchor) -> Element {
    let to = sheet.at(anchor.at);
    svg::group().with(svg::line(from, to, CONFLICT)).with(svg::pin(to, triangle()))
}

/// The other end of a conflict: a triangle, since stops are circles.
fn triangle() -> Element {
    let edge = Stroke::new(style::ASIDE, line::FINE + 0.2);
    let corners = [(0.0, -2.9), (2.6, 1.7), (-2.6, 1.7)].map(|(x, y)| Point::new(x, y));
    svg::polygon(&corners, style::PAPER).stroked(edge)
}

/// The legend symbol of a kind, about 16 points wide, starting at the point.
pub(in crate::present) fn swatch(kind: Kind, at: Point) -> Element {
    let wide = 15.0;
    let middle = at.plus(wide / 2.0, 0.0);
    let stroke = |stroke| svg::line(at, at.plus(wide, 0.0), stroke);
    match kind {
        Kind::Recorded => stroke(RECORDED),
        Kind::Walk => stroke(WALK),
        Kind::Search => stroke(SEARCH),
        Kind::Gap => stroke(GAP),
        Kind::Aside => svg::pin(middle, cross()),
        Kind::Photo => svg::pin(middle, photo_style(photo_square())),
        Kind::Stop => svg::pin(middle, stop_mark()),
        Kind::Find => svg::group()
            .with(
                svg::circle(middle, 6.5)
                    .washed(style::FIND, 0.10)
                    .stroked(Stroke::new(style::FIND, line::FINE)),
            )
            .with(svg::pin(middle, find_mark())),
        Kind::Conflict => {
            svg::group().with(stroke(CONFLICT)).with(svg::pin(at.plus(wide, 0.0), triangle()))
        }
    }
}
