//! Presents a planned round: a figure, a card to print, waypoints and routes. Layer: `present`.
//!
//! The time to turn back is the earlier of what the hours and what the promised return allow.

pub mod card;
pub mod figure;
pub mod files;
mod map;
mod table;

#[cfg(test)]
mod tests;

use jiff::civil::Date;

use crate::units::{LatLon, Metres, Seconds, TimeZone, Timestamp};

/// A round with all of its times.
#[derive(Clone, Debug)]
pub struct PlannedRound {
    /// The day.
    pub date: Date,
    /// The local clock.
    pub zone: TimeZone,
    /// Whose finds count; `None` for all.
    pub taxon: Option<String>,
    /// Where it begins and ends, with its name; `start` where it has none.
    pub from: (LatLon, String),
    /// Its stops in order.
    pub stops: Vec<Stop>,
    /// The leg to each stop, and the one back.
    pub legs: Vec<Leg>,
    /// Setting out.
    pub set_out: Timestamp,
    /// The time to turn back, wherever on the round.
    pub turn_back_by: Timestamp,
    /// The stop, from 1, whose way back is the longest, where the plan is still under way at that time.
    pub turn_back_from: Option<usize>,
    /// The planned return.
    pub back: Timestamp,
    /// The latest return: what the hours or the light allow.
    pub back_by: Timestamp,
    /// Searching at each stop.
    pub stay: Seconds,
    /// Stops with a find, as expected.
    pub expected: f64,
    /// The 95 % interval of the number of stops with a find.
    pub interval: (u32, u32),
    /// Whether no better round exists.
    pub exact: bool,
    /// What the light changed.
    pub remark: String,
    /// Other sites nearby.
    pub others: Vec<LatLon>,
    /// Sites with too small a chance, and the least chance of a stop.
    pub left_out: (usize, f64),
    /// Who may see the positions.
    pub positions: String,
}

/// A stop.
#[derive(Clone, Debug)]
pub struct Stop {
    /// The site's number and name.
    pub name: String,
    /// Where.
    pub at: LatLon,
    /// The probability of a find, with its 95 % interval.
    pub chance: (f64, f64, f64),
    /// Arrival as planned.
    pub arrive: Timestamp,
    /// Leaving as planned.
    pub leave: Timestamp,
    /// The latest time to leave it for the way straight back.
    pub leave_by: Timestamp,
}

/// A leg.
#[derive(Clone, Debug)]
pub struct Leg {
    /// Its places.
    pub line: Vec<LatLon>,
    /// Its length; across open ground that of the straight line.
    pub distance: Metres,
    /// Its walking time.
    pub duration: Seconds,
    /// Whether it follows tracks of earlier outings.
    pub known: bool,
}

impl PlannedRound {
    /// The times in words.
    #[must_use]
    pub fn times(&self) -> [(String, String); 4] {
        let at = |instant| crate::wayout::light::clock(instant, &self.zone);
        [
            ("set out".to_owned(), at(self.set_out)),
            (self.turning().0, at(self.turn_back_by)),
            ("back about".to_owned(), at(self.back)),
            ("latest return".to_owned(), at(self.back_by)),
        ]
    }

    /// What the time to turn back is, and where it holds for one stop, what holds for the others.
    #[must_use]
    pub fn turning(&self) -> (String, Option<String>) {
        let Some(stop) = self.turn_back_from else { return ("turn back by".to_owned(), None) };
        let last = self.stops.last().map(|last| {
            let leave = crate::wayout::light::clock(last.leave, &self.zone);
            let number = self.stops.len();
            format!(
                "That is the time for stop {stop}, which has the longest way back; the others have theirs under \"leave by\". By plan stop {number} is left at {leave}."
            )
        });
        (format!("turn back from stop {stop} by"), last)
    }

    /// What is expected, and what was left out.
    #[must_use]
    pub fn expectation(&self) -> Vec<String> {
        let of = self.taxon.as_ref().map_or_else(String::new, |taxon| format!(" of {taxon}"));
        let how =
            if self.exact { "no better round exists" } else { "a good round, not proved optimal" };
        let mut lines = vec![format!(
            "Stops with a find{of}: {:.1} of {} expected (95 %: {} to {}); {how}; {} of searching at each.",
            self.expected,
            self.stops.len(),
            self.interval.0,
            self.interval.1,
            crate::wayout::light::span(self.stay)
        )];
        lines.extend(self.turning().1);
        if let Some(words) = left_out_words(self.left_out) {
            lines.push(words);
        }
        if !self.remark.is_empty() {
            lines.push(format!("The round {}.", self.remark));
        }
        lines
    }
}

/// `3 sites with a chance below 5 % are left out.`
#[must_use]
pub fn left_out_words((count, least): (usize, f64)) -> Option<String> {
    let percent = super::svg::short(100.0 * least);
    match count {
        0 => None,
        1 => Some(format!("1 site with a chance below {percent} % is left out.")),
        count => Some(format!("{count} sites with a chance below {percent} % are left out.")),
    }
}

/// A distance as a walker reads it: to 5 m below a hundred metres, to 10 m below a kilometre, to 100 m below
/// ten, to a kilometre above.
#[must_use]
pub fn walked(distance: Metres) -> String {
    let metres = distance.0.max(0.0);
    if metres < 97.5 {
        format!("{:.0} m", ((metres / 5.0).round() * 5.0).max(5.0))
    } else if metres < 995.0 {
        format!("{:.0} m", (metres / 10.0).round() * 10.0)
    } else if metres < 9_950.0 {
        format!("{:.1} km", metres / 1_000.0)
    } else {
        format!("{:.0} km", metres / 1_000.0)
    }
}
