//! Formats everything that is known of one find for a terminal: position with each piece of evidence,
//! photographs, identifications, amendments, site. Layer: `present`.

use std::fmt::Write as _;
use std::path::Path;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::checked_name;
use super::darwin_core::elevation_of;
use super::summary::words;
use crate::analyse::sizes::Sizes;
use crate::earth::geodesic;
use crate::model::{
    AmendedProperty, Anchor, AnchorKind, Determination, KeptFind, Located, WrittenTime,
};

/// A find with what the store keeps beside it.
#[derive(Debug)]
pub struct OneFind<'a> {
    /// The find.
    pub find: &'a KeptFind,
    /// All evidence of its position, used or not.
    pub anchors: &'a [Anchor],
    /// The zone of its outing.
    pub zone: &'a TimeZone,
    /// Its site: number, the user's name, and how many finds it has.
    pub site: Option<(i64, Option<String>, usize)>,
    /// The rules that make it sensitive, in words.
    pub sensitive: Vec<String>,
    /// How many changes of the journal concern it.
    pub changes: usize,
}

/// The find as text.
#[must_use]
pub fn text(one: &OneFind<'_>) -> String {
    let mut lines = Lines(String::new());
    heading(one.find, &mut lines);
    when_and_who(one, &mut lines);
    position(one, &mut lines);
    photographs(one, &mut lines);
    record(one.find, &mut lines);
    list(&mut lines, "identifications", one.find.determinations.iter().map(determination));
    list(&mut lines, "amended", one.find.amended.iter().map(amended));
    list(&mut lines, "conflicts", one.find.conflicts.iter().cloned());
    site(one, &mut lines);
    lines.0
}

struct Lines(String);

impl Lines {
    /// One value under its caption.
    fn add(&mut self, caption: &str, value: &str) {
        if !value.trim().is_empty() {
            // writing to a string cannot fail
            let _ = writeln!(self.0, "  {caption:<15} {value}");
        }
    }
}

fn list(lines: &mut Lines, caption: &str, entries: impl Iterator<Item = String>) {
    for (place, entry) in entries.enumerate() {
        lines.add(if place == 0 { caption } else { "" }, &entry);
    }
}

fn heading(find: &KeptFind, lines: &mut Lines) {
    let number = find.record.number.as_ref().map_or("no number", |number| number.0.as_str());
    let name = find.record.name.as_deref().unwrap_or("not identified");
    let _ = writeln!(lines.0, "{number}  {name}");
    if let Some(check) = find.checked.as_deref() {
        lines.add("checklist", &checked_name::sentence(check));
        lines.add("higher taxa", &checked_name::lineage(check));
    }
    lines.add("identifier", &find.id.to_string());
    if let Some(when) = find.withdrawn {
        let when = when.strftime("%Y-%m-%d %H:%M UTC");
        lines.add("withdrawn", &format!("{when}; trug amend --restore brings it back"));
    }
}

fn when_and_who(one: &OneFind<'_>, lines: &mut Lines) {
    let find = one.find;
    let time = find.when.map(|(when, within)| {
        format!(", {} within {within} ({})", clock(when, one.zone), find.zone)
    });
    lines.add("collected", &format!("{}{}", find.date, time.unwrap_or_default()));
    let clock_of = |time: Option<WrittenTime>| time.map(|time| time.clock.to_string());
    let time = clock_of(find.record.time).unwrap_or_default();
    if find.is_retimed() {
        lines.add("amended time", &time);
        let written = find.as_imported.as_ref().and_then(|imported| clock_of(imported.time));
        lines.add("written time", written.as_deref().unwrap_or("none"));
    } else {
        lines.add("written time", &time);
    }
    lines.add("collector", find.collector.as_deref().unwrap_or_default());
}

fn clock(when: Timestamp, zone: &TimeZone) -> String {
    zone.to_datetime(when).strftime("%H:%M:%S").to_string()
}

fn position(one: &OneFind<'_>, lines: &mut Lines) {
    let find = one.find;
    if let Some(place) = &find.place {
        let from = one.anchors.iter().filter(|anchor| anchor.used);
        let from: Vec<&str> = from.map(|anchor| evidence_of(find, anchor.kind)).collect();
        let from =
            if from.is_empty() { String::new() } else { format!(", from {}", from.join(" and ")) };
        lines.add(
            "position",
            &format!("{} (WGS 84), within {} at 95 %{from}", place.at, place.radius),
        );
        lines.add("radius", &parts(place));
        let height = place.height.map(|height| {
            format!("{} by GPS, above sea level or the ellipsoid: receivers differ", height.0)
        });
        lines.add("height", &height.unwrap_or_default());
    } else {
        let why = find.why_unlocated.as_deref().unwrap_or("no evidence");
        lines.add("position", &format!("not located: {why}"));
    }
    list(lines, "evidence", one.anchors.iter().map(|anchor| evidence(find, anchor)));
    if let Some(written) = &find.record.coordinates {
        lines.add("as written", &written.verbatim);
    }
}

/// What the radius consists of.
fn parts(place: &Located) -> String {
    let one = |part: &crate::model::RadiusPart| format!("{} {}", part.kind.words(), part.size);
    place.parts.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// What a position rests on; an amended time was not written.
pub(super) fn evidence_of(find: &KeptFind, kind: AnchorKind) -> &'static str {
    match kind {
        AnchorKind::WrittenTime if find.is_retimed() => "amended time on the track",
        kind => words::anchor(kind),
    }
}

fn evidence(find: &KeptFind, anchor: &Anchor) -> String {
    let used = if anchor.used { "used" } else { "not used" };
    let away = find.place.as_ref().map(|place| geodesic::distance(place.at, anchor.at));
    let away = away.filter(|away| away.0 >= 1.0).map(|away| format!(", {away} from the position"));
    let kind = evidence_of(find, anchor.kind);
    let away = away.unwrap_or_default();
    format!("{kind} ({used}): {}, within {}{away}; {}", anchor.at, anchor.radius, anchor.basis)
}

fn photographs(one: &OneFind<'_>, lines: &mut Lines) {
    let shown = one.find.photos.iter().map(|photo| {
        let name =
            Path::new(&photo.path).file_name().map(|name| name.to_string_lossy().into_owned());
        let name = name.unwrap_or_else(|| photo.path.clone());
        match photo.when {
            Some(when) => format!("{name}, {}", clock(when, one.zone)),
            None => format!("{name}, time unknown"),
        }
    });
    list(lines, "photographs", shown);
}

fn record(find: &KeptFind, lines: &mut Lines) {
    let record = &find.record;
    let columns = [
        ("place", &record.place),
        ("substrate", &record.substrate),
        ("host", &record.host),
        ("habitat", &record.habitat),
        ("container", &record.container),
    ];
    for (caption, value) in columns {
        lines.add(caption, value.as_deref().unwrap_or_default());
    }
    if let Some(elevation) = record.elevation {
        let range = record.highest().filter(|high| *high != elevation);
        let high = range.map_or(String::new(), |high| format!(" to {:.0} m", high.0));
        let written = record.written_in_feet();
        let written =
            written.map_or("as written".to_owned(), |typed| format!("{typed} as written"));
        lines.add("elevation", &format!("{:.0} m{high} ({written})", elevation.0));
    } else if let Some(ground) = &find.ground {
        lines.add("elevation", &elevation_of(ground));
    }
    for (field, value) in &record.fields {
        lines.add(field.heading(), value);
        if let Some(sizes) = Sizes::of_field(field.heading(), value) {
            lines.add("", &sizes.description());
        }
    }
}

/// One identification: `accepted: Mycena x (cf.), det. A, 2026-06-01, microscopy`.
#[must_use]
pub fn determination(named: &Determination) -> String {
    let mut text = named.full_name();
    if let Some(determiner) = &named.determiner {
        let _ = write!(text, ", det. {determiner}");
    }
    if let Some(on) = named.on {
        let _ = write!(text, ", {on}");
    }
    for part in [&named.method, &named.type_status, &named.remarks].into_iter().flatten() {
        let _ = write!(text, ", {part}");
    }
    if named.accepted { format!("{text} (accepted)") } else { text }
}

fn amended(property: &AmendedProperty) -> String {
    let shown = |text: &Option<String>| {
        text.clone().filter(|text| !text.is_empty()).unwrap_or_else(|| "nothing".to_owned())
    };
    format!(
        "{}: {} -> {} (amendment {})",
        property.property,
        shown(&property.written),
        shown(&property.value),
        property.change
    )
}

fn site(one: &OneFind<'_>, lines: &mut Lines) {
    if let Some((number, name, finds)) = &one.site {
        let name = name.as_deref().map(|name| format!(" ({name})")).unwrap_or_default();
        lines.add("site", &format!("{number}{name}, {}", words::counted(*finds, "find", "finds")));
    }
    list(lines, "sensitive", one.sensitive.iter().cloned());
    lines.add(
        "revisions",
        &match one.find.revision {
            0 => "as first imported".to_owned(),
            times => format!(
                "{} by corrected notebooks",
                words::counted(times as usize, "correction", "corrections")
            ),
        },
    );
    let changes = words::counted(one.changes, "change", "changes");
    lines.add("journal", &format!("{changes}; list with trug history"));
}
