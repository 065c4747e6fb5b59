//! Composes the text of a label from a find and a layout. Layer: `present`.

use std::fmt::Write as _;

use jiff::tz::{Offset, TimeZone};

use super::language::Phrases;
use super::layout::{Content, Layout};
use super::{placing, types};
use crate::analyse::sizes::Sizes;
use crate::earth::grid;
use crate::model::taxon_name::with_author;
use crate::model::{
    AnchorKind, Determination, Field, KeptFind, Located, TaxonName, identification,
};
use crate::present::fonts::Face;
use crate::present::paragraph::Paragraph;
use crate::present::summary::words;
use crate::present::{derived_time, scientific_name, style};
use crate::units::Metres;

/// The number, or a placeholder.
pub(super) fn number(find: &KeptFind, layout: &Layout) -> String {
    let none = layout.language.phrases().no_number;
    find.record.number.as_ref().map_or_else(|| none.to_owned(), |number| number.0.clone())
}

/// The determined name in its font faces, with the author that the checklist has and, behind `=`, the
/// accepted name of a synonym.
pub(super) fn name(find: &KeptFind, layout: &Layout) -> Paragraph {
    let Some(name) = find.record.name.as_deref().map(str::trim).filter(|name| !name.is_empty())
    else {
        return Paragraph::plain(layout.language.phrases().not_determined);
    };
    let paragraph = Paragraph::name(name);
    let Some(check) = find.checked.as_deref() else { return paragraph };
    if identification(name).qualifier.is_some() {
        return paragraph;
    }
    let has_author = TaxonName::read(name).is_none_or(|read| read.author.is_some());
    let author = check.taxon().and_then(|taxon| taxon.author.as_deref());
    let mut paragraph = match author.filter(|_| !has_author) {
        Some(author) => Paragraph::name(&with_author(name, author)),
        None => paragraph,
    };
    if let Some(accepted) = check.other_accepted() {
        paragraph = paragraph.then("=", Face::Regular, style::INK);
        for (word, face) in scientific_name::words(&accepted.full_name()) {
            paragraph = paragraph.then(word, face, style::INK);
        }
    }
    paragraph
}

/// `2 May 2026`: the month in letters, which is unambiguous.
pub(super) fn date(find: &KeptFind, layout: &Layout) -> String {
    layout.language.date(find.date)
}

/// The local time, to its precision.
fn time(find: &KeptFind) -> Option<String> {
    let (when, half) = find.when?;
    // a time of day with an error of hours is omitted
    if half.0 > 3_600.0 {
        return None;
    }
    let zone = TimeZone::get(&find.zone).ok().or_else(|| offset(&find.zone))?;
    Some(words::clock(when, &zone))
}

/// The zone of an offset as [`crate::model::ZoneChoice::name`] writes it: `+10:00`.
fn offset(name: &str) -> Option<TimeZone> {
    let (sign, rest) = match name.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let (hours, minutes) = rest.split_once(':')?;
    let seconds = 3_600 * hours.parse::<i32>().ok()? + 60 * minutes.parse::<i32>().ok()?;
    Offset::from_seconds(sign * seconds).ok().map(TimeZone::fixed)
}

/// A value with its caption.
pub(super) struct Entry {
    pub(super) caption: String,
    pub(super) words: Paragraph,
}

/// Which sheet of a gathering a label is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sheet {
    /// The specimen.
    Specimen,
    /// One of its duplicates.
    Duplicate,
}

/// All values, in the order of the layout.
pub(super) fn entries(find: &KeptFind, layout: &Layout, sheet: Sheet) -> Vec<Entry> {
    let mut list = Entries(Vec::new());
    for content in &layout.lines {
        if *content == Content::Other {
            for (heading, words) in placing::others(&find.record) {
                let sizes = Sizes::of_field(heading, words).map(|sizes| sizes.description());
                list.add(heading, Paragraph::plain(sizes.as_deref().unwrap_or(words).trim()));
            }
        } else {
            let words = match content {
                Content::EarlierNames => earlier_names(find),
                Content::TypeStatus => status(find, sheet),
                _ => Paragraph::plain(value(find, *content, layout).unwrap_or_default().trim()),
            };
            list.add(layout.caption(*content), words);
        }
    }
    list.0
}

/// The text of one line; `None` where nothing is known.
fn value(find: &KeptFind, content: Content, layout: &Layout) -> Option<String> {
    let record = &find.record;
    let field = |field: &Field| record.fields.get(field).cloned();
    match content {
        Content::Determiner => determined(find),
        Content::Place => placing::place(record),
        Content::Position => Some(position(find, layout)),
        Content::Grid => find.place.as_ref().map(|place| grid_reference(place, layout)),
        Content::AsWritten => as_written(find),
        Content::Elevation => elevation(find, layout),
        Content::Habitat => record.habitat.clone(),
        Content::Substrate => record.substrate.clone(),
        Content::Host => record.host.clone(),
        Content::Characters => placing::characters(record, layout.language),
        Content::Reactions => placing::reactions(record),
        Content::SporePrint => field(&Field::SporePrint),
        Content::Microscopy => placing::microscopy(record),
        Content::Quantity => field(&Field::Quantity),
        Content::Collected => Some(collected(find, layout)),
        Content::Photographs => Some(photographs(find)),
        Content::Duplicates => placing::named(record, placing::DUPLICATES),
        Content::Catalogue => placing::catalogue(record),
        Content::Notes => field(&Field::Notes),
        Content::EarlierNames | Content::TypeStatus | Content::Other => None,
    }
}

/// Who identified it, when and how.
fn determined(find: &KeptFind) -> Option<String> {
    let Some(named) = find.determinations.iter().find(|named| named.accepted) else {
        let who = find.record.fields.get(&Field::IdentifiedBy).cloned();
        let when = placing::named(&find.record, placing::DATE_IDENTIFIED);
        let parts: Vec<String> = who.into_iter().chain(when).collect();
        return (!parts.is_empty()).then(|| parts.join(", "));
    };
    let on = named.on.map(|on| on.to_string());
    let parts = [named.determiner.clone(), on, named.method.clone()];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// That of the accepted identification.
pub(super) fn type_status(find: &KeptFind) -> Option<String> {
    match find.determinations.iter().find(|named| named.accepted) {
        Some(named) => named.type_status.clone(),
        None => placing::named(&find.record, placing::TYPE_STATUS),
    }
}

/// The type status of a sheet; of `holotype of Mycena exempla` the name as names are set.
fn status(find: &KeptFind, sheet: Sheet) -> Paragraph {
    let status = type_status(find).and_then(|status| match sheet {
        Sheet::Specimen => Some(status),
        Sheet::Duplicate => types::of_duplicate(&status),
    });
    let Some(status) = status else { return Paragraph::default() };
    match status.trim().split_once(" of ") {
        Some((kind, name)) => Paragraph::plain(&format!("{kind} of")).and(&Paragraph::name(name)),
        None => Paragraph::plain(status.trim()),
    }
}

/// Identifications that are not accepted.
fn earlier_names(find: &KeptFind) -> Paragraph {
    let others: Vec<&Determination> =
        find.determinations.iter().filter(|named| !named.accepted).collect();
    let mut all = Paragraph::default();
    for (place, named) in others.iter().enumerate() {
        let all_before = if place > 0 { all.closed(";") } else { all };
        let who = named.determiner.as_ref().map(|who| format!("(det. {who})"));
        all = all_before.and(&Paragraph::name(&named.full_name())).then(
            who.as_deref().unwrap_or_default(),
            Face::Regular,
            style::INK,
        );
    }
    all
}

/// Date, time and collector.
fn collected(find: &KeptFind, layout: &Layout) -> String {
    let Phrases { as_written, derived, amended, by, .. } = layout.language.phrases();
    let written = find.record.time.map(|time| time.clock.strftime("%H:%M").to_string());
    let mut when = match written.or_else(|| time(find)) {
        Some(time) => format!("{}, {time}", date(find, layout)),
        None => date(find, layout),
    };
    if find.is_retimed() {
        let _ = write!(when, " ({amended})");
    } else if let Some(other) = derived_time::beside_written(find) {
        let _ = write!(when, " ({as_written}; {other} {derived})");
    }
    match bound_collector(find) {
        Some(collector) => format!("{when}, {by} {collector}"),
        None => when,
    }
}

/// The collector.
pub(super) fn collector(find: &KeptFind) -> Option<&str> {
    find.record.collector.as_deref().or(find.collector.as_deref())
}

/// The collector, whose initials stay with the name behind them.
pub(super) fn bound_collector(find: &KeptFind) -> Option<String> {
    let is_initial = |word: &str| word.ends_with('.') && word.chars().count() == 2;
    let mut bound = String::new();
    for word in collector(find)?.split_whitespace() {
        if !bound.is_empty() {
            let before = bound.rsplit([' ', '\u{a0}']).next().unwrap_or_default();
            bound.push(if is_initial(before) { '\u{a0}' } else { ' ' });
        }
        bound.push_str(word);
    }
    Some(bound)
}

/// What a bar code says: the catalogue number, else the collector's number.
pub(super) fn bar_words(find: &KeptFind) -> Option<String> {
    let number = || find.record.number.as_ref().map(|number| number.0.clone());
    placing::catalogue(&find.record).or_else(number)
}

/// Program version and record identifier.
pub(super) fn provenance(find: &KeptFind) -> String {
    let corrected = match find.revision {
        0 => String::new(),
        1 => ", corrected once".to_owned(),
        times => format!(", corrected {times} times"),
    };
    let amended = if find.amended.is_empty() { "" } else { ", amended" };
    format!("trug {}, record {}{corrected}{amended}", env!("CARGO_PKG_VERSION"), find.id)
}

/// The complete text of a label, for checks.
pub(super) fn all_words(find: &KeptFind, layout: &Layout) -> String {
    let mut all = layout.heading.clone();
    all.extend([number(find, layout), name(find, layout).text()]);
    all.extend(
        entries(find, layout, Sheet::Specimen)
            .iter()
            .map(|entry| format!("{} {}", entry.caption, entry.words.text())),
    );
    all.push(provenance(find));
    all.join("\n")
}

struct Entries(Vec<Entry>);

impl Entries {
    fn add(&mut self, caption: &str, words: Paragraph) {
        if !words.text().is_empty() {
            self.0.push(Entry { caption: caption.to_owned(), words });
        }
    }
}

/// Position, datum, uncertainty and basis.
fn position(find: &KeptFind, layout: &Layout) -> String {
    let Phrases { not_located, no_data, within, at_95, from, and, .. } = layout.language.phrases();
    let Some(place) = &find.place else {
        let why = find.why_unlocated.as_deref().unwrap_or(no_data);
        // the label has the number
        let why = why.split_once("has no position: ").map_or(why, |(_, why)| why);
        return format!("{not_located}: {why}");
    };
    let mut basis: Vec<&str> = Vec::new();
    for (kind, _) in &find.anchors {
        let words = match kind {
            AnchorKind::WrittenTime if find.is_retimed() => layout.language.phrases().amended_time,
            kind => layout.language.anchor(*kind),
        };
        if !basis.contains(&words) {
            basis.push(words);
        }
    }
    let basis = if basis.is_empty() {
        String::new()
    } else {
        format!(", {from} {}", basis.join(&format!(" {and} ")))
    };
    // a number stays with its unit
    let joined = |text: &str| text.replace(' ', "\u{a0}");
    let radius = joined(&place.radius.to_string());
    let at_95 = at_95.replace(" %", "\u{a0}%");
    format!("{} (WGS\u{a0}84), {within} {radius} {at_95}{basis}", place.at)
}

/// The MGRS square, as fine as the radius permits.
fn grid_reference(place: &Located, layout: &Layout) -> String {
    let radius = place.radius.metres().0;
    let side =
        [1.0, 10.0, 100.0, 1_000.0].into_iter().rfind(|side| *side <= 2.0 * radius).unwrap_or(1.0);
    let square = Metres(side);
    let of = layout.language.phrases().square_of;
    format!("MGRS {}, {of} {side} m", spaced(&grid::mgrs(place.at, square)))
}

/// `55G DN 2567 8155`: zone, square, easting, northing.
fn spaced(reference: &str) -> String {
    let zone = reference.find(|letter: char| letter.is_ascii_alphabetic()).map_or(0, |at| at + 1);
    let (zone, rest) = reference.split_at_checked(zone).unwrap_or(("", reference));
    let (square, figures) = rest.split_at_checked(2).unwrap_or((rest, ""));
    let (easting, northing) = figures.split_at_checked(figures.len() / 2).unwrap_or((figures, ""));
    format!("{zone} {square} {easting} {northing}").trim().to_owned()
}

fn as_written(find: &KeptFind) -> Option<String> {
    let written = find.record.coordinates.as_ref()?;
    Some(match &written.system {
        Some(system) => format!("{} ({system})", written.verbatim),
        None => written.verbatim.clone(),
    })
}

fn elevation(find: &KeptFind, layout: &Layout) -> Option<String> {
    if let Some(written) = find.record.elevation {
        let as_written = layout.language.phrases().as_written;
        let range = find.record.highest().filter(|high| (high.0 - written.0).abs() >= 0.5);
        let high = range.map_or(String::new(), |high| format!("\u{2013}{:.0}", high.0));
        let metres = format!("{:.0}{high} m", written.0);
        return Some(match find.record.written_in_feet() {
            Some(typed) => format!("{typed}, {as_written} ({metres})"),
            None => format!("{metres}, {as_written}"),
        });
    }
    if let Some(ground) = &find.ground {
        let Phrases { at_95, by_model, .. } = layout.language.phrases();
        let at_95 = at_95.replace(" %", "\u{a0}%");
        let (height, within) = (ground.elevation.0, ground.within.0);
        return Some(format!("{height:.0}\u{a0}±\u{a0}{within:.0}\u{a0}m {at_95}, {by_model}"));
    }
    // receivers differ in what their heights are above
    let height = find.place.as_ref()?.height?;
    Some(format!("{:.0}\u{a0}m {}", height.0.0, layout.language.phrases().height_by_gps))
}

/// File names without their folders.
fn photographs(find: &KeptFind) -> String {
    let names = find.photos.iter().map(|photo| {
        let name = photo.path.rsplit(['/', '\\']).next().unwrap_or(&photo.path);
        name.to_owned()
    });
    let names: Vec<String> = names.collect();
    if names.is_empty() {
        let written: Vec<&str> = find.record.photos.iter().map(|photo| photo.0.as_str()).collect();
        return written.join(", ");
    }
    names.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn grid_reference_is_no_finer_than_the_radius() {
        let find = fixture::kept_find("AQ-1");
        let words = grid_reference(find.place.as_ref().unwrap(), &Layout::default());
        assert_eq!(words, "MGRS 55G DN 2567 8155, a square of 10 m");
        assert_eq!(spaced("ZBA0611398202"), "Z BA 06113 98202");
    }

    #[test]
    fn initials_stay_with_the_name_behind_them() {
        let mut find = fixture::kept_find("AQ-1");
        find.record.collector = Some("Q. R. Wendelmar & Ada Ostervald".into());
        let bound = bound_collector(&find).unwrap();
        assert_eq!(bound, "Q.\u{a0}R.\u{a0}Wendelmar & Ada Ostervald");
    }

    #[test]
    fn uncertain_time_of_day_is_omitted() {
        let mut find = fixture::kept_find("AQ-1");
        assert_eq!(time(&find).as_deref(), Some("09:15"));
        find.zone = "+09:30".into();
        assert_eq!(time(&find).as_deref(), Some("08:45"));
        find.when = find.when.map(|(when, _)| (when, crate::units::Seconds(7_200.0)));
        assert_eq!(time(&find), None);
    }
}
