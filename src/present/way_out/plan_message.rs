//! Writes the plan of an outing as one text message for whoever waits at home: where the car is, the farthest
//! point, the times, and when to call whom. Layer: `present`.
//!
//! Times are those of the plan: the minute of turning back, the end of the way back from there rounded up.

use jiff::civil::Date;

use super::message::{LONGEST, fits, is_sendable, plain, short, unsent};
use crate::error::{Error, Result};
use crate::units::{LatLon, Seconds, TimeZone, Timestamp};
use crate::wayout::goal::Goal;
use crate::wayout::light;

/// From the return to the call where no time is given: an hour (project choice).
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
    /// The planned time of turning back, or the latest.
    pub turn_back: Option<Timestamp>,
    /// The return; `None` where the light sets no limit and no time of turning back is planned.
    pub back: Option<Timestamp>,
    /// When it is dark.
    pub dark: Option<Timestamp>,
    /// When to call.
    pub alarm: Timestamp,
    /// Whom to call.
    pub whom: String,
}

/// The message: at most 160 characters of the GSM 7-bit alphabet. A name of the car's place that this alphabet
/// cannot write is left out: one letter of it would leave 70 characters, too few for the rest. The farthest point
/// is left out first, then dark, then the name. Whom to call is never shortened.
///
/// # Errors
/// Whom to call has a letter that cannot be sent, or is too long for one message.
///
/// # References
/// 3GPP TS 23.038, 6.1.2.1.1 (160 characters) and 6.1.2.3 (UCS-2, 70 characters).
pub fn compose(plan: &PlanMessage) -> Result<String> {
    if let Some(letter) = unsent(&plan.whom) {
        return Err(Error::input("whom to call cannot be sent in a text message")
            .because(format!(
                "one message holds 160 characters of the alphabet GSM-7, which has no {letter}; with it only 70"
            ))
            .hint("write --call in Latin letters and figures"));
    }
    [(20, true, true), (20, false, true), (20, false, false), (10, false, false), (0, false, false)]
        .into_iter()
        .map(|(name, farthest, dark)| written(plan, name, farthest, dark))
        .find(|text| fits(text))
        .ok_or_else(|| {
            let length = written(plan, 0, false, false).chars().count();
            Error::input("the message does not fit into one text message")
                .because(format!("it has {length} characters, {LONGEST} are possible, and whom to call is not cut"))
                .hint("shorten --call to one name and one number")
        })
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
        // a place that was given by its position has no other name
        let named = car.name.contains(char::is_alphabetic) && is_sendable(&car.name);
        let called = if named { short(&plain(&car.name), name) } else { String::new() };
        let called = called.trim();
        let gap = if called.is_empty() { "" } else { " " };
        parts.push(format!("car at {called}{gap}{}.", at(car.at)));
    }
    if let (Some(place), true) = (plan.farthest, farthest) {
        parts.push(format!("Farthest {}.", at(place)));
    }
    if let Some(by) = plan.turn_back {
        parts.push(format!("Turn back {}.", clock(by)));
    }
    let dark = plan.dark.filter(|_| dark);
    match (plan.back, dark.map(&clock)) {
        (Some(back), Some(dark)) => parts.push(format!("Back by {}, dark {dark}.", clock(back))),
        (Some(back), None) => parts.push(format!("Back by {}.", clock(back))),
        (None, Some(dark)) => parts.push(format!("Dark {dark}.")),
        (None, None) => {}
    }
    parts.push(format!("No word by {}: call {}.", clock(plan.alarm), plain(&plan.whom).trim()));
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
            back: Some(at("2026-05-16T16:30:00Z")),
            dark: Some(at("2026-05-16T17:33:00Z")),
            alarm: at("2026-05-16T17:30:00Z"),
            whom: "112".to_owned(),
        }
    }

    #[test]
    fn message_holds_car_times_and_whom_to_call() {
        let text = compose(&plan("Sawmill gate")).unwrap();
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
            long.whom = "\u{17b}aneta \u{141}o\u{15b} +48 600 100 200 or police 112".to_owned();
            let text = compose(&long).unwrap();
            assert!(!text.contains(".. "), "{text}");
            let ending = "call Zaneta Los +48 600 100 200 or police 112.";
            assert!(fits(&text) && text.ends_with(ending), "{text}");
        }
    }

    #[test]
    fn whom_to_call_is_never_cut() {
        let mut plan = plan("Sawmill gate");
        plan.whom = "x".repeat(120);
        assert!(compose(&plan).is_err());
        plan.whom = "\u{420}\u{430}\u{43d}\u{434}\u{430} 112".to_owned();
        assert!(compose(&plan).is_err());
    }
}
