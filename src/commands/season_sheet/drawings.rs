//! Reads the maps of a finished season page back and judges what they show. Layer: `commands`.

use crate::earth::geodesic;
use crate::present::sensitive::Audit;
use crate::present::sensitive::readback::{Marks, marks};
use crate::present::sheet::season::DrawnMap;
use crate::present::svg::Point;
use crate::present::years::density::is_class;
use crate::units::{LatLon, Metres};

/// Beyond so many bandwidths a find adds less than a millionth of its peak to a density map.
const REACH: f64 = 6.0;
/// The accuracy of a drawing: coordinates have two decimals, points.
const DRAWN: f64 = 0.03;

/// Judges every map of the page.
pub(super) fn judge(page: &str, maps: &[DrawnMap], audit: &mut Audit<'_>) {
    for map in maps {
        let Some(marks) = marks(page, &map.clip()) else {
            audit.report("a map cannot be read back");
            continue;
        };
        match map.bandwidth {
            Some(bandwidth) => density(map, bandwidth, &marks, audit),
            None => cells(map, &marks, audit),
        }
    }
}

/// The points of a density map must lie outside of sensitive places, and its surface must follow from these
/// points alone. Lines are contours of that surface and the edge of the searched area.
fn density(map: &DrawnMap, bandwidth: f64, marks: &Marks, audit: &mut Audit<'_>) {
    let dots: Vec<LatLon> = marks.points.iter().map(|at| map.paper.place(*at)).collect();
    if dots.len() != map.finds {
        audit.report("a density map was made from other finds than it shows");
    }
    let reach = REACH * bandwidth + map.paper.metres(1.0).0;
    let follows = |at: &LatLon| dots.iter().any(|dot| geodesic::distance(*dot, *at).0 <= reach);
    let coloured = marks.shapes.iter().filter(|(colour, _)| is_class(colour));
    let mut corners = coloured.flat_map(|(_, corners)| corners).map(|at| map.paper.place(*at));
    // over little searched ground a surface spreads far; inside a sensitive place it needs a shown find
    let unfounded = corners.any(|at| audit.is_sensitive(at) && !follows(&at));
    if unfounded {
        audit.report("a density map has a surface where it shows no find");
    }
    audit.judge_points(dots);
}

/// A map of cells shows published cells only.
fn cells(map: &DrawnMap, marks: &Marks, audit: &mut Audit<'_>) {
    if marks.rectangles.is_empty() || !marks.points.is_empty() || !marks.shapes.is_empty() {
        audit.report("a map of cells shows something other than cells");
    }
    let cell = |[west, north, wide, high]: &[f64; 4]| {
        let middle = Point::new(west + wide / 2.0, north + high / 2.0);
        (map.paper.place(middle), map.paper.metres(wide.min(*high)))
    };
    audit.judge_cells(marks.rectangles.iter().map(cell), map.paper.metres(DRAWN) + Metres(0.1));
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use super::*;
    use crate::model::{RuleSubject, Sensitivity, SensitivityRule};
    use crate::present::map::MapSheet;
    use crate::present::sensitive::{Care, FindSummary, Policy, decide};
    use crate::present::svg::Frame;
    use crate::units::Radius95;

    fn at(east: f64) -> LatLon {
        LatLon::new(-42.6, 146.0 + east / 82_000.0).unwrap()
    }

    /// The leaks of a map with these marks; a sensitive find is 400 m east of an exact one.
    fn leaks(map: &DrawnMap, marks: &str) -> Vec<String> {
        let find = |name: &str, east: f64| FindSummary {
            id: uuid::Uuid::new_v4(),
            outing: uuid::Uuid::new_v4(),
            name: Some(name.to_owned()),
            place: Some((at(east), Radius95::new(Metres(8.0)).unwrap())),
            other_names: Vec::new(),
            place_before: None,
        };
        let finds = [find("Mycena epipterygia", 0.0), find("Hygrocybe graminicolor", 400.0)];
        let rule = SensitivityRule::new(
            RuleSubject::Taxon("Hygrocybe graminicolor".to_owned()),
            Sensitivity::High,
            "2026-05-02T12:00:00Z".parse().unwrap(),
        );
        let care =
            if map.bandwidth.is_some() { Care::ExactUnlessSensitive } else { Care::Generalised };
        let decisions = decide(&finds, &[], &Policy::new(&[rule], care, |_, _| Vec::new()));
        let places = HashMap::new();
        let mut audit = Audit::new(&decisions, &places);
        let page = format!("<g clip-path=\"url(#{})\">{marks}</g>", map.clip());
        judge(&page, &[*map], &mut audit);
        audit.leaks().iter().map(ToString::to_string).collect()
    }

    fn map(bandwidth: Option<f64>) -> DrawnMap {
        let circles = [(at(0.0), Metres(700.0))];
        let paper = MapSheet::fit(&circles, Frame::new(0.0, 0.0, 400.0, 400.0), 6.0, 60.0).unwrap();
        DrawnMap { area: 0, map: 0, paper, bandwidth, finds: 1 }
    }

    fn mark(map: &DrawnMap, east: f64) -> (f64, f64) {
        let point = map.paper.at(at(east));
        (point.x, point.y)
    }

    #[test]
    fn a_density_map_must_follow_from_the_finds_it_shows() {
        let map = map(Some(20.0));
        let dot = |east: f64| {
            let (x, y) = mark(&map, east);
            format!("<circle cx=\"{x:.2}\" cy=\"{y:.2}\"/>")
        };
        let surface = |east: f64| {
            let (x, y) = mark(&map, east);
            format!("<path d=\"M{x:.2},{y:.2}L{x:.2},{y:.2}Z\" fill=\"#fee391\"/>")
        };
        assert!(leaks(&map, &(dot(0.0) + &surface(30.0))).is_empty());
        assert!(leaks(&map, &dot(400.0))[0].contains("it shows a sensitive place"));
        assert!(leaks(&map, &(dot(0.0) + &surface(400.0)))[0].contains("shows no find"));
        assert!(leaks(&map, &(dot(0.0) + &dot(30.0)))[0].contains("other finds"));
        assert!(leaks(&map, "")[0].contains("other finds"));
        // the edge of the searched area is a line, and lies where no find is
        let line = surface(400.0).replace("path d", "polyline points");
        assert!(leaks(&map, &(dot(0.0) + &line)).is_empty());
    }

    #[test]
    fn a_map_of_cells_must_show_published_cells() {
        let map = map(None);
        let square = |place: LatLon, side: f64| {
            let point = map.paper.at(place);
            let side = map.paper.points(Metres(side));
            let (west, north) = (point.x - side / 2.0, point.y - side / 2.0);
            format!(
                "<rect x=\"{west:.2}\" y=\"{north:.2}\" width=\"{side:.2}\" height=\"{side:.2}\"/>"
            )
        };
        let centre = LatLon::new(-42.6, 146.0).unwrap();
        let cell = [0.0, 0.0005, -0.0005]
            .into_iter()
            .flat_map(|north| [0.0, 0.0005, -0.0005, 0.001, -0.001].map(|east| (north, east)))
            .map(|(north, east)| {
                LatLon::clamped(centre.latitude() + north, centre.longitude() + east)
            })
            .find(|at| leaks(&map, &square(*at, 111.0)).is_empty());
        let cell = cell.expect("the cell of the exact find");
        assert!(!leaks(&map, &square(cell, 60.0)).is_empty(), "finer than published");
        assert!(!leaks(&map, &square(at(400.0), 111.0)).is_empty(), "another place");
        let dot = "<circle cx=\"1\" cy=\"1\"/>";
        assert!(!leaks(&map, &(square(cell, 111.0) + dot)).is_empty(), "a point");
    }
}
