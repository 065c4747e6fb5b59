//! Draws sites on their ground: a circle for each, its area by the number of finds, its edge by whether a
//! search of it found something. Layer: `present`.

use super::sites::SiteLine;
use crate::earth::geodesic;
use crate::earth::height_grid::GroundArea;
use crate::present::fonts::{self, Face};
use crate::present::map::MapSheet;
use crate::present::map::frame::{self, MapBase};
use crate::present::map::ground::MapGround;
use crate::present::map::names::{self, Obstacles, Wish};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::summary::words::counted;
use crate::present::svg::{self, Frame, Letters, Point, Stroke};
use crate::units::{LatLon, Metres};

const MARGIN: f64 = 14.0;
const WIDE: f64 = 510.24 - 2.0 * MARGIN;
const HEAD: f64 = 35.0;
const FRAME: Frame = Frame::new(16.0, HEAD, WIDE - 16.5, 400.0);
const LOWEST: f64 = 190.0;
/// Sites farther from each other than this are of different areas.
const ONE_AREA: f64 = 5_000.0;

fn place(site: &SiteLine) -> LatLon {
    LatLon::clamped(site.latitude, site.longitude)
}

/// The sites of the area with the most, found from one to the next within 5 km.
fn shown(sites: &[SiteLine]) -> Vec<&SiteLine> {
    let mut left: Vec<&SiteLine> = sites.iter().collect();
    let mut best: Vec<&SiteLine> = Vec::new();
    while let Some(first) = left.pop() {
        let mut area = vec![first];
        let mut next = 0;
        while let Some(from) = area.get(next).map(|site| place(site)) {
            let near = |site: &&SiteLine| geodesic::distance(place(site), from).0 < ONE_AREA;
            let (found, rest): (Vec<_>, Vec<_>) = left.into_iter().partition(near);
            area.extend(found);
            left = rest;
            next += 1;
        }
        if area.len() > best.len() {
            best = area;
        }
    }
    best.sort_by_key(|site| site.site);
    best
}

fn fit(sites: &[&SiteLine]) -> Option<MapSheet> {
    let circles: Vec<(LatLon, Metres)> =
        sites.iter().map(|site| (place(site), Metres(site.radius.max(25.0)))).collect();
    MapSheet::fit(&circles, FRAME, 22.0, LOWEST)
}

/// The ground within the frame; `None` without a site.
#[must_use]
pub fn area(sites: &[SiteLine]) -> Option<GroundArea> {
    fit(&shown(sites)).map(|sheet| sheet.area())
}

/// The figure as SVG; `None` without a site.
#[must_use]
pub fn figure(sites: &[SiteLine], positions: &str, ground: &MapGround) -> Option<String> {
    let drawn_sites = shown(sites);
    let sheet = fit(&drawn_sites)?;
    let base = MapBase::new(ground, &sheet);
    let mut drawn = Elements::default();
    let title = format!("{} with finds", counted(drawn_sites.len(), "site", "sites"));
    let bold = Letters::new(size::TITLE).face(Face::Bold);
    drawn.push(svg::text(Point::new(0.0, 13.0), &title, bold));
    let soft = Letters::new(size::BODY).colour(style::SOFT_INK);
    let finds: usize = drawn_sites.iter().map(|site| site.finds).sum();
    let elsewhere = sites.len() - drawn_sites.len();
    let mut words = vec![counted(finds, "find", "finds")];
    if elsewhere > 0 {
        words.push(format!(
            "{} farther away not drawn",
            counted(elsewhere, "site lies", "sites lie")
        ));
    }
    words.push(positions.to_owned());
    drawn.push(svg::text(Point::new(0.0, 26.0), &words.join("  \u{b7}  "), soft));
    drawn.push(inside(&drawn_sites, &sheet, &base));
    let mut foot = base.around(&sheet, WIDE, &mut drawn);
    foot = key(foot + 14.0, &mut drawn);
    foot = base.legend(Point::new(0.0, foot + 8.0), WIDE, &mut drawn);
    let (wide, high) = (WIDE + 2.0 * MARGIN, foot + 2.0 * MARGIN);
    let paper = svg::rectangle(Frame::new(0.0, 0.0, wide, high)).filled(style::PAPER);
    let placed =
        svg::group().set("transform", format_args!("translate({MARGIN} {MARGIN})")).with(drawn);
    let description = description(&drawn_sites, &title, &words);
    Some(svg::described(wide, high, &title, &description).with(paper).with(placed).to_string())
}

/// What the map shows: how many finds, and where most are.
fn description(sites: &[&SiteLine], title: &str, words: &[String]) -> String {
    let mut order = sites.to_vec();
    order.sort_by_key(|site| std::cmp::Reverse(site.finds));
    let most: Vec<String> = order
        .iter()
        .take(3)
        .map(|site| {
            let name = site.name.as_ref().map_or_else(String::new, |name| format!(" {name}"));
            format!("site {}{name} ({})", site.site, counted(site.finds, "find", "finds"))
        })
        .collect();
    format!("{title}: {}. Most finds: {}.", words.join("; "), most.join(", "))
}

fn inside(sites: &[&SiteLine], sheet: &MapSheet, base: &MapBase) -> Elements {
    let mut obstacles = Obstacles::default();
    let mut order = sites.to_vec();
    // large ones below
    order.sort_by_key(|site| std::cmp::Reverse(site.finds));
    let marks: Elements = order
        .iter()
        .map(|site| svg::pin(sheet.at(place(site)), mark(site.finds, site.success_rate)))
        .collect();
    let wishes: Vec<Wish> = sites
        .iter()
        .map(|site| Wish {
            mark: sheet.at(place(site)),
            reach: radius(site.finds),
            words: site
                .name
                .as_ref()
                .map_or_else(|| site.site.to_string(), |name| format!("{} {name}", site.site)),
        })
        .collect();
    let placed = names::place(&wishes, &mut obstacles, sheet.frame.inset(1.5), size::SMALL);
    let mut words = Elements::default();
    for (wish, placed) in wishes.iter().zip(placed) {
        let Some(placed) = placed else { continue };
        if placed.leader {
            let fine = Stroke::new(style::SOFT_INK, line::HAIR);
            words.push(svg::line(wish.mark, placed.frame.middle(), fine));
        }
        let long = fonts::width(&wish.words, Face::Bold, size::SMALL);
        let letters = Letters::new(size::SMALL).face(Face::Bold).long(long).rimmed();
        words.push(svg::text(placed.at, &wish.words, letters));
    }
    let (arrow, _) =
        frame::arrow(sheet, sites.iter().filter_map(|site| site.last).max(), &mut obstacles);
    let locator = base.locator(sheet, &mut obstacles);
    let inside = svg::group()
        .set("clip-path", "url(#map)")
        .with(base.below(sheet, &mut obstacles))
        .with(marks)
        .with(arrow)
        .with(words)
        .with(locator);
    let mut drawn = Elements::default();
    drawn.push(svg::clip("map", sheet.frame));
    drawn.push(inside);
    drawn
}

/// The area of a mark follows the number of finds.
fn radius(finds: usize) -> f64 {
    (1.7 * (finds as f64).sqrt()).clamp(2.0, 11.0)
}

fn mark(finds: usize, success: Option<f64>) -> Element {
    let edge = Stroke::new(style::FIND, line::CURVE);
    // never found again on a later search
    let edge = if success.is_some_and(|share| share < 0.25) { edge.dashed(2.0, 1.4) } else { edge };
    svg::circle(Point::default(), radius(finds)).washed(style::FIND, 0.28).stroked(edge)
}

/// The key of sizes and edges; returns its lower edge.
fn key(top: f64, drawn: &mut Elements) -> f64 {
    let letters = Letters::new(size::SMALL);
    let mut x = 8.0;
    let items = [
        (1, None, "1 find"),
        (10, None, "10 finds"),
        (40, None, "40 finds"),
        (4, Some(0.0), "found on fewer than a quarter of its searched visits"),
    ];
    for (finds, success, words) in items {
        let reach = radius(finds);
        drawn.push(svg::pin(Point::new(x + reach, top), mark(finds, success)));
        let at = Point::new(x + 2.0 * reach + 5.0, top + 2.4);
        drawn.push(svg::text(at, words, letters));
        x = at.x + fonts::width(words, Face::Regular, size::SMALL) + 14.0;
    }
    top + 9.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(number: i64, latitude: f64, finds: usize) -> SiteLine {
        SiteLine {
            site: number,
            name: None,
            latitude,
            longitude: 11.0,
            radius: 8.0,
            finds,
            record_numbers: Vec::new(),
            taxa: Vec::new(),
            first: None,
            last: None,
            visits: 3,
            visits_searched: 3,
            visits_with_find: 1,
            visits_in_passing: 0,
            success_rate: Some(0.33),
        }
    }

    #[test]
    fn the_area_with_most_sites_is_drawn_and_the_rest_is_said() {
        let sites = [site(1, 47.0, 3), site(2, 47.01, 40), site(3, 48.0, 1), site(4, 47.02, 1)];
        let drawn = figure(&sites, "Positions are exact.", &MapGround::default()).unwrap();
        assert!(drawn.contains("3 sites with finds") && drawn.contains("1 site lies farther away"));
        for number in [">1<", ">2<", ">4<"] {
            assert!(drawn.contains(number), "{number}");
        }
        let description = crate::present::markup::text_of(&drawn, "desc").unwrap();
        assert!(description.contains("44 finds") && description.contains("site 2 (40 finds)"));
        assert!(figure(&[], "", &MapGround::default()).is_none());
    }

    #[test]
    fn area_of_a_mark_follows_the_number_of_finds() {
        let ratio = (radius(20) / radius(5)).powi(2);
        assert!((ratio - 4.0).abs() < 1e-9);
    }
}
