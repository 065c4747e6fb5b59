//! Assembles placemarks from a sequence of tags, well formed or not. Layer: `ingest`.

use std::io::Read;
use std::path::{Path, PathBuf};

use quick_xml::events::BytesStart;

use super::element::{Element, Field, Prefixes};
use super::placemark::{Placemark, TimedTrack};
use super::tuples::{Tuples, position};
use crate::error::{Error, Result};
use crate::ingest::track::collected::Collected;
use crate::ingest::track::fault::{Fault, Tally, shortened};
use crate::ingest::track::geojson::times::names_a_time;
use crate::ingest::track::room::Room;
use crate::ingest::track::time;
use crate::ingest::track::words::{Words, without_controls};
use crate::ingest::track::xml::{Source, attribute, line_of};
use crate::model::{FileKind, Fix, TrackFile};
use crate::units::Timestamp;

/// The most times of a file: more than a month at one a second.
const MOST_TIMES: usize = 3_000_000;

/// The most text before the first tag that is tolerated.
const LONGEST_PREAMBLE: usize = 64 * 1024;

/// What the open element of times or positions is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Inside {
    #[default]
    Placemark,
    Stamp,
    Span,
    Point,
    Line,
    Track,
    Link,
}

/// A file being assembled.
pub(super) struct Assembly {
    path: PathBuf,
    begun: bool,
    ended: bool,
    preamble: usize,
    prefixes: Prefixes,
    pub(super) tally: Tally,
    collected: Collected,
    placemark: Option<Placemark>,
    inside: Inside,
    field: Option<Field>,
    /// Whether the open entry of extended data is a time.
    is_time: bool,
    words: Words,
    tuples: Tuples,
    room: Room,
    times: usize,
    /// The element whose content is not read, and how many of its name are open.
    skipped: Option<(String, usize)>,
}

impl Assembly {
    pub(super) fn new(path: &Path) -> Self {
        Self {
            path: path.to_owned(),
            begun: false,
            ended: false,
            preamble: 0,
            prefixes: Prefixes::default(),
            tally: Tally::default(),
            collected: Collected::default(),
            placemark: None,
            inside: Inside::default(),
            field: None,
            is_time: false,
            words: Words::default(),
            tuples: Tuples::default(),
            room: Room::default(),
            times: 0,
            skipped: None,
        }
    }

    pub(super) fn start_tag<R: Read>(
        &mut self,
        tag: &BytesStart,
        empty: bool,
        place: &mut Source<R>,
    ) -> Result<()> {
        let name = tag.name().into_inner();
        if !self.begun {
            if name.rsplit(':').next() != Some("kml") || self.preamble > 0 {
                return Err(self.refusal(&format!("its first element is <{}>", shortened(name))));
            }
            self.prefixes.learn(tag);
            self.begun = true;
        }
        let element = self.prefixes.element(name);
        if self.skips(name, element, empty) {
            return Ok(());
        }
        self.end_field(place);
        match element {
            Element::Data => {
                let name = attribute(tag, "name").unwrap_or_default();
                self.is_time = !empty && names_a_time(&name);
                // a simple entry has its text without a further tag
                self.start_field(Field::Value);
            }
            Element::Field(field) if !empty => self.start_field(field),
            Element::Field(Field::Coord) => self.coord("", place),
            Element::Field(_) | Element::Group | Element::Kml => {}
            Element::Other if empty => {}
            Element::Other => {
                self.collected.areas += usize::from(name.rsplit(':').next() == Some("Polygon"));
                self.skipped = Some((name.to_owned(), 1));
            }
            element => self.open(element, line_of(tag, place)),
        }
        if empty && !matches!(element, Element::Field(_) | Element::Other) {
            self.close(element);
        }
        Ok(())
    }

    /// Whether a tag lies in an element that is not read. A placemark never does: where one begins, the
    /// end tag of that element is missing.
    fn skips(&mut self, name: &str, element: Element, empty: bool) -> bool {
        let Some((skipped, depth)) = &mut self.skipped else { return false };
        if element == Element::Placemark {
            let example = format!("<{skipped}>");
            self.tally.add(Fault::EndsMismatched, &example, || 0);
            self.skipped = None;
            return false;
        }
        if !empty && skipped == name {
            *depth += 1;
        }
        true
    }

    fn start_field(&mut self, field: Field) {
        self.words.clear();
        self.tuples.clear();
        self.field = Some(field);
        if field == Field::Coordinates
            && self.inside == Inside::Line
            && let Some(placemark) = &mut self.placemark
        {
            placemark.lines.push(Vec::new());
        }
    }

    fn open(&mut self, element: Element, line: u64) {
        self.inside = match element {
            Element::Placemark => {
                self.file_placemark(false);
                self.placemark = Some(Placemark { line, ..Placemark::default() });
                Inside::Placemark
            }
            Element::Stamp => Inside::Stamp,
            Element::Span => Inside::Span,
            Element::Point => Inside::Point,
            Element::Line => Inside::Line,
            Element::Track => {
                let placemark = self.placemark.get_or_insert_with(Placemark::default);
                placemark.tracks.push(TimedTrack { line, ..TimedTrack::default() });
                Inside::Track
            }
            Element::Link => Inside::Link,
            _ => self.inside,
        };
    }

    pub(super) fn end_tag<R: Read>(&mut self, name: &str, place: &mut Source<R>) {
        if let Some((skipped, depth)) = &mut self.skipped {
            if skipped == name {
                *depth -= 1;
                if *depth == 0 {
                    self.skipped = None;
                }
            }
            return;
        }
        self.end_field(place);
        let element = self.prefixes.element(name);
        self.ended |= element == Element::Kml;
        self.close(element);
    }

    fn close(&mut self, element: Element) {
        match element {
            Element::Placemark => self.file_placemark(false),
            Element::Point
            | Element::Line
            | Element::Track
            | Element::Stamp
            | Element::Span
            | Element::Link => self.inside = Inside::Placemark,
            Element::Data => self.is_time = false,
            _ => {}
        }
    }

    fn file_placemark(&mut self, cut: bool) {
        self.inside = Inside::Placemark;
        if let Some(placemark) = self.placemark.take() {
            placemark.file(cut, &mut self.collected, &mut self.tally);
        }
    }

    /// Ends a value whose end tag was read, or is missing.
    fn end_field<R: Read>(&mut self, place: &mut Source<R>) {
        let Some(field) = self.field.take() else { return };
        if field == Field::Coordinates {
            let mut last = None;
            self.tuples.finish(|tuple| last = Some(tuple.to_owned()));
            if let Some(tuple) = last {
                self.tuple(&tuple, (place.line(), place.bytes_read()));
            }
            return;
        }
        let text = self.words.trimmed().to_owned();
        match field {
            Field::Coord => self.coord(&text, place),
            Field::When => self.when(&text, place),
            Field::Value if !self.is_time || text.is_empty() => {}
            Field::Value => {
                let time = self.time(&text, place);
                if let Some(placemark) = &mut self.placemark {
                    placemark.extra = placemark.extra.or(time);
                }
            }
            _ if text.is_empty() => {}
            Field::Address if self.inside == Inside::Link => {
                self.tally.add(Fault::LinkNotFollowed, &text, || place.line());
            }
            field => self.text_value(field, &text, place),
        }
    }

    fn text_value<R: Read>(&mut self, field: Field, text: &str, place: &mut Source<R>) {
        let time = match field {
            Field::Begin | Field::End if self.inside == Inside::Span => self.time(text, place),
            _ => None,
        };
        let Some(placemark) = &mut self.placemark else { return };
        match field {
            Field::Name => placemark.name = Some(without_controls(text)),
            Field::Description => placemark.description = Some(without_controls(text)),
            Field::Begin => placemark.begin = time,
            Field::End => placemark.end = time,
            Field::AltitudeMode => {
                let relative = text.starts_with("relative");
                if let Some(track) = placemark.tracks.last_mut().filter(|_| relative) {
                    track.above_ground = true;
                }
            }
            _ => {}
        }
    }

    fn time<R: Read>(&mut self, text: &str, place: &mut Source<R>) -> Option<Timestamp> {
        let read = time::read(text);
        match read {
            None => self.tally.add(Fault::TimeUnreadable, text, || place.line()),
            Some(read) if read.zone_assumed => {
                self.tally.add(Fault::ZoneAssumed, text, || place.line());
            }
            Some(_) => {}
        }
        read.map(|read| read.instant)
    }

    fn when<R: Read>(&mut self, text: &str, place: &mut Source<R>) {
        let time = if text.is_empty() { None } else { self.time(text, place) };
        let Some(placemark) = &mut self.placemark else { return };
        self.times += 1;
        match (self.inside, placemark.tracks.last_mut()) {
            _ if self.times > MOST_TIMES => self.tally.add(Fault::NoRoom, text, || place.line()),
            (Inside::Track, Some(track)) => track.whens.push(time),
            (Inside::Stamp, _) => placemark.stamp = time,
            _ => placemark.whens.push(time),
        }
    }

    fn coord<R: Read>(&mut self, text: &str, place: &mut Source<R>) {
        let fix = self.position(text, place.line());
        let tracks = self.placemark.as_mut().map(|placemark| &mut placemark.tracks);
        let Some(track) = tracks.and_then(|tracks| tracks.last_mut()) else { return };
        if !track.full && self.room.takes_point(place.bytes_read()) {
            track.coords.push(fix);
        } else {
            track.full = true;
            self.tally.add(Fault::NoRoom, text, || place.line());
        }
    }

    fn position(&mut self, tuple: &str, line: u64) -> Option<Fix> {
        match position(tuple) {
            Ok(mut fix) => {
                fix.line = u32::try_from(line).unwrap_or(u32::MAX);
                Some(fix)
            }
            Err(fault) => {
                self.tally.add(fault, tuple, || line);
                None
            }
        }
    }

    /// A position of a point or a line.
    fn tuple(&mut self, tuple: &str, (line, read): (u64, u64)) {
        if !matches!(self.inside, Inside::Point | Inside::Line) {
            return;
        }
        let Some(fix) = self.position(tuple, line) else { return };
        let takes = match self.inside {
            Inside::Point => self.room.takes_named(read),
            _ => self.room.takes_point(read),
        };
        if !takes {
            return self.tally.add(Fault::NoRoom, tuple, || line);
        }
        let Some(placemark) = &mut self.placemark else { return };
        match self.inside {
            Inside::Point => placemark.points.push(fix),
            _ => placemark.lines.last_mut().into_iter().for_each(|line| line.push(fix)),
        }
    }

    pub(super) fn is_value_open(&self) -> bool {
        self.field.is_some() && self.skipped.is_none()
    }

    pub(super) fn add_text<R: Read>(&mut self, text: &str, place: &mut Source<R>) -> Result<()> {
        if !self.is_value_open() {
            if !self.begun {
                self.preamble += text.trim().len();
                if self.preamble > LONGEST_PREAMBLE {
                    return Err(self.refusal("it does not begin with a tag"));
                }
            }
            return Ok(());
        }
        if self.field == Some(Field::Coordinates) {
            let mut tuples = std::mem::take(&mut self.tuples);
            let ends = memchr::memchr_iter(b'\n', text.as_bytes()).count() as u64;
            let first = place.line().saturating_sub(ends).max(1);
            let read = place.bytes_read();
            tuples.add(text, |tuple, lines| self.tuple(tuple, (first + lines, read)));
            self.tuples = tuples;
        } else if !self.words.append(text) {
            self.tally.add(Fault::TextTooLong, self.words.beginning(), || place.line());
        }
        Ok(())
    }

    pub(super) fn cut_value(&mut self, line: u64) {
        if self.is_value_open() && self.field != Some(Field::Coordinates) && self.words.cut() {
            self.tally.add(Fault::TextTooLong, self.words.beginning(), || line);
        }
    }

    /// A damaged tag. One that begins an entry of a track counts as a lost entry, so that the others
    /// keep their order.
    pub(super) fn lose_tag<R: Read>(&mut self, tag: &str, line: u64, place: &mut Source<R>) {
        self.end_field(place);
        self.tally.add(Fault::TagBroken, tag, || line);
        let name = tag.get(1..).unwrap_or_default();
        let name = name.split(|c: char| !c.is_alphanumeric() && !":_-.".contains(c)).next();
        let element = self.prefixes.element(name.unwrap_or_default());
        let tracks = self.placemark.as_mut().map(|placemark| &mut placemark.tracks);
        let Some(track) = tracks.and_then(|tracks| tracks.last_mut()) else { return };
        match element {
            Element::Field(Field::When) if self.inside == Inside::Track => track.whens.push(None),
            Element::Field(Field::Coord) => track.coords.push(None),
            _ => {}
        }
    }

    pub(super) fn finish_file<R: Read>(mut self, mut place: Source<R>) -> Result<TrackFile> {
        if !self.begun {
            return Err(self.refusal("it has no <kml> element"));
        }
        if !self.ended {
            self.tally.add(Fault::CutOff, "</kml>", || place.line());
            // a number that the end of the file cuts is not the number that was meant
            self.field = None;
        }
        let cut = !self.ended;
        self.file_placemark(cut);
        let foreign = place.foreign();
        if foreign.count > 0 {
            self.tally.add_many(Fault::ForeignBytes, foreign.count, "", || foreign.line);
        }
        if let Some(label) = place.unknown_encoding() {
            self.tally.add(Fault::UnknownEncoding, label, || 1);
        }
        let source = place.finish().map_err(|fault| Error::file("read", &self.path, &fault))?;
        Ok(self.collected.into_file(&self.path, FileKind::Kml, source, self.tally))
    }

    fn refusal(&self, why: &str) -> Error {
        Error::input(format!("{} is not a KML file", crate::model::name_of(&self.path)))
            .because(why)
            .hint("export the track from the receiver as GPX or KML")
            .in_file(&self.path)
    }
}
