//! Twelve days that are hard to label, and the count of collisions on their maps. Layer: `present`.

use super::*;
use crate::earth::local::Plane;
use crate::model::RecordNumber;
use crate::present::map::names::crosses;
use crate::present::{day_map, fixture};
use crate::units::LatLon;

const FRAME: Frame = Frame::new(16.0, 35.0, 466.0, 400.0);

/// A day about a place whose finds have these numbers and lie at these metres east and north.
fn day(middle: LatLon, finds: impl IntoIterator<Item = (String, (f64, f64))>, track: f64) -> Day {
    let mut day = fixture::day_about(middle);
    let plane = Plane::about(middle);
    let pattern = day.finds[0].clone();
    day.finds.clear();
    for (number, (east, north)) in finds {
        let mut find = pattern.clone();
        find.record.number = Some(RecordNumber(number));
        if let Ok(place) = &mut find.place {
            place.at = plane.from_plane(east, north);
        }
        day.finds.push(find);
    }
    for point in &mut day.track {
        let (east, north) = plane.to_plane(point.at);
        point.at = plane.from_plane(track * east, track * north);
    }
    if track == 0.0 {
        day.track.clear();
        day.stops.clear();
        day.photos.clear();
    }
    for stop in &mut day.stops {
        let (east, north) = plane.to_plane(stop.at);
        stop.at = plane.from_plane(track * east, track * north);
    }
    for photo in &mut day.photos {
        if let Some((at, _)) = &mut photo.at {
            let (east, north) = plane.to_plane(*at);
            *at = plane.from_plane(track * east, track * north);
        }
    }
    day
}

fn south() -> LatLon {
    LatLon::new(-42.615, 146.096).unwrap()
}

/// Finds along the loop of the fixture's track, its radii in metres.
fn around(count: u32, east: f64, north: f64) -> Vec<(String, (f64, f64))> {
    (0..count)
        .map(|index| {
            let turn = std::f64::consts::TAU * f64::from(index) / f64::from(count.max(1));
            let wave = 1.0 + 0.15 * (f64::from(index) * 1.7).sin();
            let at = (east * wave * turn.cos(), north * wave * turn.sin());
            (format!("HX {:04}", index + 1), at)
        })
        .collect()
}

fn numbered(names: &[&str]) -> Vec<(String, (f64, f64))> {
    let places = around(u32::try_from(names.len()).unwrap(), 300.0, 170.0);
    names.iter().zip(places).map(|(name, (_, at))| ((*name).to_owned(), at)).collect()
}

fn hard_days() -> Vec<(&'static str, Day)> {
    let at = |latitude, longitude| LatLon::new(latitude, longitude).unwrap();
    let mut two_areas = around(20, 300.0, 170.0);
    two_areas.extend(around(20, 250.0, 200.0).into_iter().map(|(name, (east, north))| {
        (name.replace("HX", "HY"), (east + 24_000.0, north + 9_000.0))
    }));
    let crowd = around(300, 2.0, 2.0);
    let mut mixed = around(40, 330.0, 190.0);
    mixed.extend(
        around(60, 3.0, 3.0).into_iter().map(|(name, (east, north))| {
            (name.replace("HX", "CROWD"), (east + 120.0, north + 40.0))
        }),
    );
    let long: Vec<String> = (0..14)
        .map(|n| format!("Expedition of the autumn camp, sheet {n} of the second book"))
        .collect();
    let long: Vec<&str> = long.iter().map(String::as_str).collect();
    vec![
        ("one find", day(south(), around(1, 40.0, 40.0), 1.0)),
        ("300 finds along a track", day(south(), around(300, 330.0, 190.0), 1.0)),
        ("300 finds within 5 m", day(south(), crowd, 1.0)),
        ("everything within 5 m", day(south(), around(25, 2.0, 2.0), 0.006)),
        ("60 km", day(south(), around(120, 29_000.0, 11_000.0), 88.0)),
        ("the date line", day(at(-16.8, 180.0), around(60, 330.0, 190.0), 1.0)),
        ("89.5 degrees north", day(at(89.5, 20.0), around(60, 330.0, 190.0), 1.0)),
        ("two areas 25 km apart", day(south(), two_areas, 0.0)),
        ("long numbers", day(south(), numbered(&long), 1.0)),
        (
            "numbers in other scripts",
            day(
                south(),
                numbered(&[
                    "Гриб 12",
                    "Μύκης 7",
                    "菌 3",
                    "きのこ 4",
                    "فطر 5",
                    "פטרייה 6",
                    "ध 8",
                    "🍄",
                    "",
                    "\u{202e}x",
                ]),
                1.0,
            ),
        ),
        ("a crowd beside a track", day(south(), mixed, 1.0)),
        ("no track", day(south(), around(80, 330.0, 190.0), 0.0)),
    ]
}

/// Everything on a map that has a place of its own.
struct Placing {
    labels: Vec<(String, Point, Placed)>,
    marks: Vec<Point>,
    blocks: Vec<Frame>,
}

impl Placing {
    fn of(labels: &Labels<'_>, day: &Day, sheet: &MapSheet, blocks: Vec<Frame>) -> Self {
        let all = labels.numbers.iter().chain(labels.keys.iter().map(|(label, _)| label));
        let labels = all
            .map(|label| (label.words.clone(), label.mark, label.placed.clone()))
            .chain(labels.times.iter().filter_map(|(time, placed)| {
                Some((time.words.clone(), time.mark, placed.clone()?))
            }))
            .collect();
        let marks = crowds::spots(day, sheet).iter().map(|spot| spot.at).collect();
        Self { labels, marks, blocks }
    }

    /// Every pair of things of which one covers the other, and every label outside of the frame.
    fn collisions(&self, frame: Frame) -> Vec<String> {
        let mut found = Vec::new();
        for (index, (words, mark, placed)) in self.labels.iter().enumerate() {
            let own = placed.frame;
            let inside =
                frame.holds(own.corner) && frame.holds(Point::new(own.right(), own.bottom()));
            if !inside {
                found.push(format!("{words} leaves the frame"));
            }
            for (other, _, there) in &self.labels[index + 1..] {
                if own.meets(there.frame) {
                    found.push(format!("{words} on {other}"));
                }
            }
            let reach = FIND_REACH - 0.01;
            let mark_frame =
                |at: Point| Frame::new(at.x - reach, at.y - reach, 2.0 * reach, 2.0 * reach);
            if self.marks.iter().any(|at| own.meets(mark_frame(*at))) {
                found.push(format!("{words} on a find"));
            }
            if self.blocks.iter().any(|block| own.meets(*block)) {
                found.push(format!("{words} on arrow, scale or figures"));
            }
            let end = placed.leader_end(*mark);
            for (other, _, there) in self.labels.iter().filter(|_| placed.leader) {
                if crosses(*mark, end, there.frame) {
                    found.push(format!("the leader of {words} through {other}"));
                }
            }
        }
        found
    }
}

/// Every number of the day, and where it is: in a label or in the list.
fn assert_all_named(case: &str, day: &Day, sheet: &MapSheet, labels: &Labels<'_>) {
    let in_labels = crowds::spots(day, sheet);
    let mut named = 0;
    for spot in &in_labels {
        let words = numbers::label(&spot.finds);
        if words.is_some_and(|words| labels.numbers.iter().any(|label| label.words == words)) {
            named += spot.finds.len();
        }
    }
    let keyed: usize = labels.keys.iter().map(|(_, finds)| finds.len()).sum();
    let on_the_map: usize = in_labels.iter().map(|spot| spot.finds.len()).sum();
    assert_eq!(named + keyed + labels.bare.len(), on_the_map, "{case}");
    assert_eq!(labels.listed().len(), labels.keys.len() + usize::from(!labels.bare.is_empty()));
}

#[test]
fn twelve_hard_days_have_no_label_collision() {
    let days = hard_days();
    assert_eq!(days.len(), 12);
    for (case, day) in &days {
        let sheet = day_map::fit(day, FRAME, 190.0).unwrap();
        let mut obstacles = Obstacles::default();
        let _ = layers::draw(day, &sheet, &mut obstacles);
        let (_, arrow) = day_map::arrow(day, &sheet, &mut obstacles);
        let labels = Labels::of(day, &sheet, &mut obstacles);
        let placing = Placing::of(&labels, day, &sheet, vec![arrow]);
        let found = placing.collisions(sheet.frame);
        assert!(found.is_empty(), "{case}: {} collisions: {found:?}", found.len());
        assert!(!placing.labels.is_empty(), "{case}");
        assert_all_named(case, day, &sheet, &labels);
    }
}

#[test]
fn crowd_of_300_has_every_number_in_a_label_or_the_list() {
    let (_, day) = hard_days().swap_remove(2);
    let sheet = day_map::fit(&day, FRAME, 190.0).unwrap();
    let labels = Labels::of(&day, &sheet, &mut Obstacles::default());
    assert!(labels.bare.is_empty(), "{:?}", labels.bare.len());
    let listed = labels.listed();
    assert_eq!(listed[0].key.as_deref(), Some("A"));
    let texts = labels.numbers.iter().map(|label| label.words.clone());
    let written: Vec<String> = texts.chain(listed.into_iter().map(|one| one.numbers)).collect();
    let mut numbers: Vec<u32> = written.iter().flat_map(|text| expanded(text)).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=300).collect::<Vec<u32>>());
}

/// The numbers of a text such as `HX 0003-0007, 0009`, with an en dash.
fn expanded(text: &str) -> Vec<u32> {
    let parts = text.split(", ").map(|part| part.trim_start_matches("HX "));
    parts
        .flat_map(|part| {
            let (from, to) = part.split_once('\u{2013}').unwrap_or((part, part));
            from.parse::<u32>().unwrap()..=to.parse::<u32>().unwrap()
        })
        .collect()
}

#[test]
fn keys_count_on_after_z() {
    assert_eq!([0, 25, 26, 27, 52].map(key), ["A", "Z", "AA", "AB", "BA"]);
}

/// Without the search for room, the same days have collisions: the count can fail.
#[test]
fn labels_placed_without_search_collide() {
    let (_, day) = hard_days().swap_remove(1);
    let sheet = day_map::fit(&day, FRAME, 190.0).unwrap();
    let spots = crowds::spots(&day, &sheet);
    let labels = spots.iter().map(|spot| {
        let corner = spot.at.plus(5.0, -3.4);
        let words = numbers::joined(&spot.finds);
        let frame = Frame::new(corner.x, corner.y, fonts::width(&words, Face::Bold, 6.8), 6.8);
        (words, spot.at, Placed { at: corner, leader: false, frame })
    });
    let placing = Placing {
        labels: labels.collect(),
        marks: spots.iter().map(|spot| spot.at).collect(),
        blocks: Vec::new(),
    };
    assert!(placing.collisions(sheet.frame).len() > 100);
}
