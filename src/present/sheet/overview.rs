//! Summarises a day in figures: time, distance, finds, light, cameras. Layer: `present`.

use crate::analyse::effort::day::DayTime;
use crate::earth::{geodesic, sun};
use crate::model::{Day, Verdict};
use crate::present::day_map;
use crate::present::markup::{Element, Elements};
use crate::present::summary::words;
use crate::units::{LatLon, Metres, Timestamp};
use crate::wayout::light::minute_after;

/// The day in a list of figures; each camera with how far its clock is off.
pub(super) fn of(day: &Day) -> Element {
    let mut figures = Elements::default();
    let mut add = |caption: &str, words: &str| {
        figures.push(
            Element::new("div")
                .with(Element::new("dt").with_text(caption))
                .with(Element::new("dd").with_text(words)),
        );
    };
    add("distance walked", &walked(day).to_string());
    let time = DayTime::of(day);
    for (caption, time) in [
        ("searching", time.searching),
        ("walking", time.walking),
        ("at finds", time.at_finds),
        ("resting", time.resting),
    ] {
        add(caption, &time.to_string());
    }
    let located = day.finds.iter().filter(|find| find.place.is_ok()).count();
    add("finds located", &format!("{located} of {}", day.finds.len()));
    add("photographs", &words::count(day.photos.len()));
    add("fixes", &fixes(day));
    if let Some((rise, set)) = light(day) {
        add("sunrise and sunset", &format!("{rise} and {set}"));
    }
    for camera in &day.cameras {
        let ahead =
            camera.ahead.map_or_else(|| "clock not determined".to_owned(), day_map::clock::side);
        add(&camera.camera.to_string(), &ahead);
    }
    Element::new("dl").set("class", "figures").with(figures)
}

/// The length of the estimated track without gaps.
fn walked(day: &Day) -> Metres {
    day.track
        .windows(2)
        .filter(|pair| !pair[0].gap_after)
        .map(|pair| geodesic::distance(pair[0].at, pair[1].at))
        .sum()
}

fn fixes(day: &Day) -> String {
    let kept = day.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).count();
    format!("{} kept, {} set aside", words::count(kept), words::count(day.fixes.len() - kept))
}

/// Local times of sunrise and sunset, or that there is none.
fn light(day: &Day) -> Option<(String, String)> {
    let zone = &day.outing.zone.zone;
    let light = sun::light(place(day)?, day.outing.dated()?, zone).ok()?;
    let add = |passage: sun::Passage, whole: fn(Timestamp) -> Timestamp| match passage {
        sun::Passage::At(instant) => words::clock(whole(instant), zone),
        sun::Passage::StaysAbove => "none, up all day".to_owned(),
        sun::Passage::StaysBelow => "none, down all day".to_owned(),
    };
    // no minute is shown as day that is not
    Some((add(light.sunrise, minute_after), add(light.sunset, |instant| instant)))
}

/// A position of the day.
pub(super) fn place(day: &Day) -> Option<LatLon> {
    let track = day.track.first().map(|point| point.at);
    track.or_else(|| day.finds.iter().find_map(|find| Some(find.place.as_ref().ok()?.at)))
}
