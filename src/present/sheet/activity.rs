//! Draws stripes of activities and their legend, for the time line and the profile of a day. Layer:
//! `present`.

use crate::model::Activity;
use crate::present::markup::Element;
use crate::present::style::{self, Colour};
use crate::present::svg::{self, Frame};

/// The height of a band of activities, points.
pub(super) const BAND: f64 = 13.0;

/// One section. Heights differ too, so that activities are distinguishable without colour.
pub(super) fn stripe(activity: Activity, from: f64, to: f64, band: Frame) -> Element {
    let (colour, share): (Colour, f64) = match activity {
        Activity::Walking => (style::WALK, 0.34),
        Activity::Searching => (style::SEARCH, 0.67),
        Activity::Stationary => (style::STOP, 1.0),
    };
    let high = share * band.high;
    svg::rectangle(Frame::new(from, band.bottom() - high, (to - from).max(0.0), high))
        .filled(colour)
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
            .with(stripe(activity, 2.0, 18.0, Frame::new(0.0, 1.5, 20.0, BAND)));
        Element::new("li").with(picture).with(Element::new("span").with_text(words))
    });
    Element::new("ul").set("class", "legend").set("aria-label", "Activities").with_all(items)
}
