//! Draws stripes of activities and their legend, for the time line and the profile of a day. Layer:
//! `present`.

use std::fmt::Write;

use crate::model::Activity;
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, Colour};
use crate::present::svg::{self, Frame};

/// The height of a band of activities, points.
pub(super) const BAND: f64 = 13.0;

/// The stripes of a band, drawn as one shape for each activity.
#[derive(Default)]
pub(super) struct Stripes([String; 3]);

impl Stripes {
    pub(super) fn add(&mut self, activity: Activity, from: f64, to: f64, band: Frame) {
        let (high, shapes) = (share(activity) * band.high, &mut self.0[place(activity)]);
        let [x, y, wide, high] =
            [from, band.bottom() - high, (to - from).max(0.0), high].map(svg::short);
        let _ = write!(shapes, "M{x} {y}h{wide}v{high}h-{wide}z");
    }

    pub(super) fn drawn(&self) -> Elements {
        let all = ALL.iter().zip(&self.0).filter(|(_, shapes)| !shapes.is_empty());
        all.map(|(activity, shapes)| {
            Element::new("path").set("d", shapes).filled(colour(*activity))
        })
        .collect()
    }
}

const ALL: [Activity; 3] = [Activity::Walking, Activity::Searching, Activity::Stationary];

fn place(activity: Activity) -> usize {
    ALL.iter().position(|one| *one == activity).unwrap_or(0)
}

fn colour(activity: Activity) -> Colour {
    match activity {
        Activity::Walking => style::WALK,
        Activity::Searching => style::SEARCH,
        Activity::Stationary => style::STOP,
    }
}

/// Heights differ, so that activities are distinguishable without colour.
fn share(activity: Activity) -> f64 {
    match activity {
        Activity::Walking => 0.34,
        Activity::Searching => 0.67,
        Activity::Stationary => 1.0,
    }
}

fn sample(activity: Activity) -> Elements {
    let mut stripes = Stripes::default();
    stripes.add(activity, 2.0, 18.0, Frame::new(0.0, 1.5, 20.0, BAND));
    stripes.drawn()
}

/// What the stripes mean.
pub(super) fn swatches() -> Element {
    let items = [
        (Activity::Walking, "walking"),
        (Activity::Searching, "searching"),
        (Activity::Stationary, "stationary"),
    ]
    .map(|(activity, words)| {
        let picture = Element::new("svg")
            .set("viewBox", "0 0 20 16")
            .set("aria-hidden", "true")
            .with(sample(activity));
        Element::new("li").with(picture).with(Element::new("span").with_text(words))
    });
    Element::new("ul").set("class", "legend").set("aria-label", "Activities").with_all(items)
}
