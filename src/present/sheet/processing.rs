//! Orders specimens for processing: closed plastic first, then the oldest (common practice; less time
//! on warm days). Layer: `present`.

use super::card;
use crate::model::{Day, Find};
use crate::present::markup::{Element, Elements};
use crate::units::{Seconds, Timestamp};

/// Ventilation of a container, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Keeping {
    /// Closed plastic, where specimens sweat.
    Sweats,
    /// Not recorded.
    NotWritten,
    /// A box or tube with a lid.
    Closed,
    /// Paper, foil left open, a basket.
    Breathes,
}

impl Keeping {
    fn of(container: Option<&str>) -> Self {
        let Some(container) = container.map(str::to_lowercase) else { return Self::NotWritten };
        let has = |words: &[&str]| words.iter().any(|word| container.contains(word));
        if container.trim().is_empty() {
            Self::NotWritten
        } else if has(&["plastic", "zip", "polythene", "cling"]) && !has(&["open", "perforated"]) {
            Self::Sweats
        } else if has(&["paper", "basket", "open", "perforated", "foil", "envelope"]) {
            Self::Breathes
        } else {
            Self::Closed
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Sweats => "closed plastic: process first",
            Self::NotWritten => "container not recorded: check",
            Self::Closed => "closed container",
            Self::Breathes => "ventilated",
        }
    }
}

/// The specimens that are shown on a screen before all are asked for; the style sheet has it too.
const FIRST: usize = 5;

/// The finds in the order in which to work on them, with the time since each was collected.
pub(super) fn of(day: &Day, now: Timestamp) -> Elements {
    let mut order: Vec<(Keeping, Option<Timestamp>, usize)> = day
        .finds
        .iter()
        .enumerate()
        .map(|(index, find)| {
            let keeping = Keeping::of(find.record.container.as_deref());
            (keeping, find.when.map(|(when, _)| when), index)
        })
        .collect();
    order.sort();
    let items = order.iter().map(|(keeping, _, index)| item(day, *index, *keeping, now));
    let advice = "Process closed plastic first, then the oldest; sooner on warm days, and keep \
        specimens cool until then (common practice). Note smell, colour and bruising before drying.";
    let mut all = Elements::default();
    all.push(Element::new("p").set("class", "soft").with_text(advice));
    let items: Vec<Element> = items.collect();
    let (first, others) = items.split_at(items.len().min(FIRST));
    let list = || Element::new("ol").set("class", "processing");
    all.push(list().with_all(first));
    if order.len() > FIRST {
        let rest = list().set("start", FIRST + 1).with_all(others);
        all.push(super::later(rest).set("data-into", ".processing"));
        let words = format!("Show all {}", order.len());
        let button = Element::new("button").set("type", "button").with_text(&words);
        all.push(button.set("id", "processing-all").set("hidden", ""));
    }
    all
}

fn item(day: &Day, index: usize, keeping: Keeping, now: Timestamp) -> Element {
    let find = &day.finds[index];
    let link = super::link(day, index);
    let held = match (container(find), keeping) {
        ("", keeping) => keeping.words().to_owned(),
        (container, Keeping::Sweats) => format!("{container}: process first"),
        (container, _) => container.to_owned(),
    };
    let words = format!("\u{2014} {held}{}", age(day, find, now));
    Element::new("li")
        .with(link)
        .with(Element::new("span").with_text(" "))
        .with(card::name(find))
        .with(Element::new("span").with_own_direction(&words))
}

fn container(find: &Find) -> &str {
    find.record.container.as_deref().map(str::trim).unwrap_or_default()
}

/// Hours since it was collected, where plausible.
fn age(day: &Day, find: &Find, now: Timestamp) -> String {
    let Some((when, _)) = find.when else { return String::new() };
    let hours = Seconds::between(when, now).0 / 3_600.0;
    let clock = crate::present::summary::words::clock(when, &day.outing.zone.zone);
    if (0.0..96.0).contains(&hours) {
        format!(", collected {clock}, {hours:.0} h before this sheet was made")
    } else {
        format!(", collected {clock}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_plastic_comes_first_and_paper_last() {
        let of = |words| Keeping::of(Some(words));
        assert_eq!(of("Closed plastic box"), Keeping::Sweats);
        assert_eq!(of("paper bag"), Keeping::Breathes);
        assert_eq!(of("open plastic tray"), Keeping::Breathes);
        assert_eq!(of("compartment box"), Keeping::Closed);
        assert_eq!(of("  "), Keeping::NotWritten);
        assert!(Keeping::Sweats < Keeping::NotWritten && Keeping::Closed < Keeping::Breathes);
    }
}
