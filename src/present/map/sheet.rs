//! Chooses the scale of a map and converts positions to paper coordinates. Works across 180 degrees,
//! since it measures on the ground. Layer: `present`.
//!
//! Scales are round numbers, so that a ruler can be laid on the paper.

use crate::earth::height_grid::GroundArea;
use crate::earth::local::Plane;
use crate::present::svg::{Frame, Point};
use crate::units::{LatLon, Metres};

/// Points on paper for a metre on paper.
const POINTS_PER_METRE: f64 = 72.0 / 0.0254;
/// Scale denominators, times a power of ten.
const SCALES: [f64; 9] = [1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5];
/// The largest scale is 1 to this.
const LARGEST: f64 = 250.0;

/// An area of ground on paper, true north up.
#[derive(Clone, Copy, Debug)]
pub struct MapSheet {
    /// Its frame on paper.
    pub frame: Frame,
    /// The scale denominator.
    pub denominator: f64,
    plane: Plane,
}

impl MapSheet {
    /// The largest scale at which all circles (place and radius) fit into the frame; the frame is then
    /// made lower, but not below `lowest` points. `None` where there is nothing to show.
    ///
    /// # Units
    /// Points on paper, metres on the ground.
    #[must_use]
    pub fn fit(
        circles: &[(LatLon, Metres)],
        frame: Frame,
        margin: f64,
        lowest: f64,
    ) -> Option<Self> {
        let plane = Plane::about(circles.first()?.0);
        let mut low = (f64::INFINITY, f64::INFINITY);
        let mut high = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (place, radius) in circles {
            let (east, north) = plane.to_plane(*place);
            low = (low.0.min(east - radius.0), low.1.min(north - radius.0));
            high = (high.0.max(east + radius.0), high.1.max(north + radius.0));
        }
        let (wide, high_m) = (high.0 - low.0, high.1 - low.1);
        let room = frame.inset(margin);
        let metres_per_point = (wide / room.wide).max(high_m / room.high);
        let denominator = round_scale(metres_per_point * POINTS_PER_METRE);
        let needed = high_m * POINTS_PER_METRE / denominator + 2.0 * margin;
        let frame = Frame { high: needed.clamp(lowest.min(frame.high), frame.high), ..frame };
        let middle = (f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1));
        let plane = Plane::about(plane.from_plane(middle.0, middle.1));
        Some(Self { frame, denominator, plane })
    }

    /// The same area at the same scale in another frame.
    #[must_use]
    pub fn moved(self, frame: Frame) -> Self {
        Self { frame, ..self }
    }

    /// The paper coordinates of a position, inside the frame or not.
    #[must_use]
    pub fn at(&self, place: LatLon) -> Point {
        let (east, north) = self.plane.to_plane(place);
        self.frame.middle().plus(self.points(Metres(east)), -self.points(Metres(north)))
    }

    /// The position at paper coordinates.
    #[must_use]
    pub fn place(&self, at: Point) -> LatLon {
        let middle = self.frame.middle();
        self.plane.from_plane(self.metres(at.x - middle.x).0, self.metres(middle.y - at.y).0)
    }

    /// The ground within the frame.
    #[must_use]
    pub fn area(&self) -> GroundArea {
        GroundArea {
            middle: self.middle(),
            half_wide: self.metres(self.frame.wide / 2.0),
            half_high: self.metres(self.frame.high / 2.0),
            finest: self.metres(2.0),
        }
    }

    /// The paper coordinates of a point of the plane about the middle.
    #[must_use]
    pub fn on_paper(&self, east: Metres, north: Metres) -> Point {
        self.frame.middle().plus(self.points(east), -self.points(north))
    }

    /// A length on the ground in points.
    #[must_use]
    pub fn points(&self, length: Metres) -> f64 {
        length.0 * POINTS_PER_METRE / self.denominator
    }

    /// A length on paper in metres on the ground.
    #[must_use]
    pub fn metres(&self, points: f64) -> Metres {
        Metres(points * self.denominator / POINTS_PER_METRE)
    }

    /// The position at the centre.
    #[must_use]
    pub fn middle(&self) -> LatLon {
        self.plane.origin()
    }

    /// The scale in words: `1 : 5 000`.
    #[must_use]
    pub fn scale(&self) -> String {
        let digits = format!("{:.0}", self.denominator);
        let mut grouped = String::new();
        for (place, digit) in digits.chars().enumerate() {
            if place > 0 && (digits.len() - place) % 3 == 0 {
                grouped.push('\u{202f}');
            }
            grouped.push(digit);
        }
        format!("1 : {grouped}")
    }
}

fn round_scale(at_least: f64) -> f64 {
    if !at_least.is_finite() || at_least <= LARGEST {
        return LARGEST;
    }
    let power = 10_f64.powf(at_least.log10().floor());
    SCALES
        .into_iter()
        .map(|factor| factor * power)
        .find(|scale| *scale >= at_least)
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::earth::geodesic;
    use crate::units::{Degrees, TrueBearing};

    fn ground(from: LatLon) -> Vec<(LatLon, Metres)> {
        [0.0, 90.0, 200.0]
            .map(|bearing| {
                let bearing = TrueBearing::new(Degrees(bearing));
                (geodesic::destination(from, bearing, Metres(400.0)), Metres(20.0))
            })
            .to_vec()
    }

    #[test]
    fn map_fits_the_frame_at_true_scale() {
        for from in [LatLon::new(-42.6, 146.1), LatLon::new(10.0, 180.0), LatLon::new(89.9, 0.0)] {
            let from = from.unwrap();
            let circles = ground(from);
            let sheet =
                MapSheet::fit(&circles, Frame::new(5.0, 5.0, 500.0, 400.0), 10.0, 100.0).unwrap();
            for (place, radius) in &circles {
                let at = sheet.at(*place);
                let reach = sheet.points(*radius);
                assert!(sheet.frame.inset(reach).holds(at), "{place}: {at:?} in {:?}", sheet.frame);
            }
            let paper = sheet.at(circles[0].0).distance(sheet.at(circles[1].0));
            let truth = geodesic::distance(circles[0].0, circles[1].0);
            assert!((sheet.metres(paper).0 - truth.0).abs() < 0.01, "{paper} {truth}");
        }
    }

    #[test]
    fn scales_are_round() {
        assert_eq!(round_scale(10.0), 250.0);
        assert_eq!(round_scale(2_600.0), 3_000.0);
        assert_eq!(round_scale(8_000.0), 10_000.0);
        assert_eq!(round_scale(f64::NAN), 250.0);
    }

    #[test]
    fn empty_input_gives_no_map() {
        assert!(MapSheet::fit(&[], Frame::default(), 0.0, 0.0).is_none());
    }
}
