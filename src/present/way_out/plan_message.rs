//! Writes the plan of an outing as one text message for whoever waits at home: where the car is, the farthest
//! point, the times, and when to call whom. Layer: `present`.

use jiff::civil::Date;

use super::message::{fits, plain, short};
use crate::units::{LatLon, Seconds, TimeZone, Timestamp};
use crate::wayout::goal::Goal;
use crate::wayout::light;

/// From the return to the call where no time is given (project choice).
pub const ALARM_AFTER: Seconds = Seconds(3_600.0);

/// What the message says.
#[derive(Clone, Debug)]
pub struct PlanMessage {
    /// The day.
    pub day: Date,
    /// The local clock.
    pub zone: TimeZone,
    /// Where the car is.
    pub car: Option<Goal>,
    /// The farthest point of the outing.
    pub farthest: Option<LatLon>,
    /// The latest time to turn back.
    pub turn_back: Option<Timestamp>,
    /// The latest return.
    pub back: Timestamp,
    /// When it is dark.
    pub dark: Option<Timestamp>,
    /// When to call.
    pub alarm: Timestamp,
    /// Whom to call.
    pub whom: String,
}

/// The message: at most 160 characters of the GSM 7-bit alphabet. The farthest point is left out first, then
/// dark; names are shortened last.
#[must_use]
pub fn compose(plan: &PlanMessage) -> String {
    [(20, true, true), (20, false, true), (20, false, false), (10, false, false)]
        .into_iter()
        .map(|(name, farthest, dark)| written(plan, name, farthest, dark))
        .find(|text| fits(text))
        .unwrap_or_else(|| short(&written(plan, 6, false, false), super::message::LONGEST))
}

fn written(plan: &PlanMessage, name: usize, farthest: bool, dark: bool) -> String {
    let clock = |instant: Timestamp| {
        let mark = if plan.zone == TimeZone::UTC { "Z" } else { "" };
        let date = plan.zone.to_datetime(instant).date();
        let day =
            if date == plan.day { String::new() } else { date.strftime(" %-d %b").to_string() };
        format!("{}{mark}{day}", light::clock(instant, &plan.zone))
    };
    let at = |place: LatLon| format!("{:.4},{:.4}", place.latitude(), place.longitude());
    let mut parts = vec![format!("{}:", plan.day.strftime("%-d %b"))];
    if let Some(car) = &plan.car {
        let called = plain(&car.name);
        parts.push(format!("car at {} {}.", short(&called, name).trim_end(), at(car.at)));
    }
    if let (Some(place), true) = (plan.farthest, farthest) {
        parts.push(format!("Farthest {}.", at(place)));
    }
    if let Some(by) = plan.turn_back {
        parts.push(format!("Turn back {}.", clock(by)));
    }
    let until = plan.dark.filter(|_| dark).map(|dark| format!(", dark {}", clock(dark)));
    parts.push(format!("Back by {}{}.", clock(plan.back), until.unwrap_or_default()));
    let whom = plain(&plan.whom);
    parts.push(format!(
        "No word by {}: call {}.",
        clock(plan.alarm),
        short(&whom, name).trim_end()
    ));
    parts.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(name: &str) -> PlanMessage {
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        PlanMessage {
            day: jiff::civil::date(2026, 5, 16),
            zone: TimeZone::UTC,
            car: Some(Goal { name: name.to_owned(), at: LatLon::new(-42.611, 146.101).unwrap() }),
            farthest: LatLon::new(-42.6189, 146.0912).ok(),
            turn_back: Some(at("2026-05-16T15:30:00Z")),
            back: at("2026-05-16T16:30:00Z"),
            dark: Some(at("2026-05-16T17:33:00Z")),
            alarm: at("2026-05-16T17:30:00Z"),
            whom: "112".to_owned(),
        }
    }

    #[test]
    fn message_holds_car_times_and_whom_to_call() {
        let text = compose(&plan("Sawmill gate"));
        assert_eq!(
            text,
            "16 May: car at Sawmill gate -42.6110,146.1010. Farthest -42.6189,146.0912. Turn back \
             15:30Z. Back by 16:30Z, dark 17:33Z. No word by 17:30Z: call 112."
        );
        assert!(fits(&text));
    }

    #[test]
    fn long_and_foreign_names_stay_one_message() {
        for name in ["\u{5e4}\u{5d8}\u{5e8}", "a".repeat(300).as_str(), "Wei\u{df}e \u{2603}\n"] {
            let mut long = plan(name);
            long.whom = "\u{1f344}".repeat(90);
            assert!(fits(&compose(&long)), "{}", compose(&long));
        }
    }
}
