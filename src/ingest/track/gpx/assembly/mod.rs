//! Assembles tracks, routes and waypoints from a sequence of tags, well formed or not: keeps the
//! path of open elements and assigns each tag to its element. Layer: `ingest`.

mod contents;
mod skipping;
mod tags;

use std::io::Read;
use std::path::{Path, PathBuf};

use quick_xml::events::BytesStart;

use self::contents::Contents;
use super::element::{Element, Field, PointKind, Prefixes, foreign_namespace, leaves_gpx};
use super::point::{self, OpenPoint};
use super::refusal;
use super::skipped::Skipped;
use crate::error::{Error, Result};
use crate::ingest::track::fault::{Fault, Tally};
use crate::ingest::track::words::{Words, without_controls};
use crate::ingest::track::xml::{Source, attribute, line_of};
use crate::model::{FileKind, Fix, SourceFile, TrackFile};

/// The most text before the first tag that is tolerated.
const LONGEST_PREAMBLE: usize = 64 * 1024;

/// A file being assembled.
pub(super) struct Assembly {
    path: PathBuf,
    prefixes: Prefixes,
    creator: Option<String>,
    preamble: usize,
    root: Root,
    contents: Contents,
    point: Option<OpenPoint>,
    field: Option<Field>,
    words: Words,
    /// Whether a number of averaged fixes is being read inside a skipped element.
    counting: bool,
    skipped: Skipped,
    /// Line and name of the skipped element.
    skipped_from: (u64, String),
    tally: Tally,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Root {
    Awaited,
    Open,
    /// The file begins with a track or a point: it is a fragment.
    Missing,
    Closed,
}

impl Assembly {
    pub(super) fn new(path: &Path, expected: Option<u64>) -> Self {
        Self {
            path: path.to_owned(),
            prefixes: Prefixes::default(),
            creator: None,
            preamble: 0,
            root: Root::Awaited,
            contents: Contents::expecting(expected),
            point: None,
            field: None,
            words: Words::default(),
            counting: false,
            skipped: Skipped::default(),
            skipped_from: (0, String::new()),
            tally: Tally::default(),
        }
    }

    /// A start tag, or with `empty` a tag that closes itself.
    ///
    /// # Errors
    /// When the first element is not a GPX element.
    pub(super) fn start_tag<R: Read>(
        &mut self,
        tag: &BytesStart,
        empty: bool,
        place: &mut Source<R>,
    ) -> Result<()> {
        let name = tag.name().into_inner();
        if self.root == Root::Awaited {
            self.first(name, tag, place)?;
        }
        let element = self.prefixes.element(name);
        if self.skipped.is_active() {
            self.start_skipped(name, element, empty);
            return Ok(());
        }
        match element {
            Element::Other => self.start_other(name, empty, place),
            _ if leaves_gpx(tag) => self.start_other(name, empty, place),
            Element::Point(kind) => self.start_point(kind, tag, empty, place),
            Element::Field(field) if self.takes(field) => {
                self.start_field(field, name, empty, place);
            }
            Element::Field(_) => self.start_other(name, empty, place),
            container => self.start_container(container, empty, place),
        }
        Ok(())
    }

    fn first<R: Read>(
        &mut self,
        name: &str,
        tag: &BytesStart,
        place: &mut Source<R>,
    ) -> Result<()> {
        let local = name.rsplit(':').next().unwrap_or(name);
        let element = Element::named(local);
        if !matches!(element, Element::Other | Element::Field(_))
            && let Some(namespace) = foreign_namespace(tag)
        {
            return Err(refusal::by_namespace(&self.path, (local, &namespace), place.line()));
        }
        match element {
            Element::Gpx => {
                self.creator = attribute(tag, "creator");
                self.root = Root::Open;
            }
            Element::Track | Element::Segment | Element::Route | Element::Point(_) => {
                self.tally.add(Fault::NoRoot, &format!("<{name}>"), || place.line());
                self.root = Root::Missing;
            }
            _ if self.preamble > 0 => return Err(self.refusal(place)),
            _ => return Err(refusal::by_element(&self.path, name, place.line())),
        }
        self.prefixes.learn(tag);
        Ok(())
    }

    fn refusal<R: Read>(&self, place: &Source<R>) -> Error {
        refusal::by_bytes(&self.path, place.head(), place.is_utf32())
    }

    /// Whether a value of this kind is read here.
    fn takes(&self, field: Field) -> bool {
        self.point.is_some() || self.contents.takes(field)
    }

    fn start_point<R: Read>(
        &mut self,
        kind: PointKind,
        tag: &BytesStart,
        empty: bool,
        place: &mut Source<R>,
    ) {
        self.leave_point(place);
        let line = line_of(tag, place);
        let fix = match point::place(tag) {
            Ok(read) => {
                if read.comma {
                    self.tally.add(Fault::DecimalComma, tag, || line);
                }
                let line = u32::try_from(line).unwrap_or(u32::MAX);
                Some(Fix { line, ..Fix::bare(read.at, None) })
            }
            Err(fault) => {
                self.tally.add(fault, &format!("<{}>", &**tag), || line);
                None
            }
        };
        self.point = Some(OpenPoint::new(kind, fix));
        if empty {
            self.close_point(place);
        }
    }

    fn start_field<R: Read>(
        &mut self,
        field: Field,
        name: &str,
        empty: bool,
        place: &mut Source<R>,
    ) {
        self.leave_field(place);
        self.words.clear();
        if empty {
            return;
        }
        self.field = Some(field);
        if let Some(value) = place.take_plain_value(name) {
            self.words.append(value);
            self.finish_field(place);
        }
    }

    fn start_container<R: Read>(&mut self, element: Element, empty: bool, place: &mut Source<R>) {
        self.leave_point(place);
        match element {
            Element::Track => self.contents.open_track(),
            Element::Segment => self.contents.open_segment(),
            Element::Route => self.contents.open_route(),
            _ => {}
        }
        if empty {
            self.close_container(element);
        }
    }

    /// A tag that cannot be read. Where it begins a point, the point is lost and its content is
    /// skipped.
    pub(super) fn lose_tag<R: Read>(&mut self, tag: &str, line: u64, place: &mut Source<R>) {
        let name = tag.get(1..).unwrap_or_default();
        let name = name.split(|c: char| !c.is_alphanumeric() && !":_-.".contains(c)).next();
        match self.prefixes.element(name.unwrap_or_default()) {
            Element::Point(kind) if !self.skipped.is_active() => {
                self.leave_point(place);
                self.tally.add(Fault::CoordinatesUnreadable, tag, || line);
                self.point = Some(OpenPoint::new(kind, None));
            }
            _ => self.tally.add(Fault::TagBroken, tag, || line),
        }
    }

    /// An end tag.
    pub(super) fn end_tag<R: Read>(&mut self, name: &str, place: &mut Source<R>) {
        let element = self.prefixes.element(name);
        if self.skipped.is_active() && self.end_skipped(name, element, place) {
            return;
        }
        match element {
            Element::Field(field) if self.field == Some(field) => self.finish_field(place),
            Element::Field(_) | Element::Other => self.mismatch(&format!("</{name}>"), place),
            Element::Point(kind) => {
                self.leave_field(place);
                if self.point.as_ref().is_some_and(|point| point.kind == kind) {
                    self.close_point(place);
                } else {
                    self.mismatch(&format!("</{name}>"), place);
                }
            }
            container => {
                self.leave_point(place);
                self.close_container(container);
            }
        }
    }

    fn close_container(&mut self, element: Element) {
        match element {
            Element::Segment => self.contents.close_segment(),
            Element::Track => self.contents.close_track(),
            Element::Route => self.contents.close_route(),
            _ => {
                self.contents.close_track();
                self.contents.close_route();
                self.root = Root::Closed;
            }
        }
    }

    fn close_point<R: Read>(&mut self, place: &mut Source<R>) {
        self.field = None;
        if let Some(point) = self.point.take()
            && !self.contents.add(point, place.bytes_read())
        {
            self.tally.add(Fault::NoRoom, "a point", || place.line());
        }
    }

    /// Ends a value, and a point, whose own end tags are missing.
    fn leave_point<R: Read>(&mut self, place: &mut Source<R>) {
        self.leave_field(place);
        if self.point.is_some() {
            self.mismatch("a point without its end tag", place);
            self.close_point(place);
        }
    }

    fn leave_field<R: Read>(&mut self, place: &mut Source<R>) {
        if self.field.is_some() {
            self.mismatch("a value without its end tag", place);
            self.finish_field(place);
        }
    }

    fn mismatch<R: Read>(&mut self, example: &str, place: &mut Source<R>) {
        self.tally.add(Fault::EndsMismatched, example, || place.line());
    }

    fn finish_field<R: Read>(&mut self, place: &mut Source<R>) {
        let Some(field) = self.field.take() else { return };
        let text = self.words.trimmed();
        if text.is_empty() {
            return;
        }
        let commas = self.tally.has(Fault::DecimalComma);
        match &mut self.point {
            None => self.contents.name(field, without_controls(text)),
            Some(point) if field.is_text() => {
                point.take(field, &without_controls(text), commas);
            }
            Some(point) => {
                if let Some(fault) = point.take(field, text, commas) {
                    self.tally.add(fault, text, || place.line());
                }
            }
        }
    }

    /// The end of the file: everything that was complete is kept.
    ///
    /// # Errors
    /// When it has no GPX element.
    pub(super) fn finish_file<R: Read>(mut self, mut place: Source<R>) -> Result<TrackFile> {
        if self.root == Root::Awaited {
            return Err(self.refusal(&place));
        }
        if self.root == Root::Open && !self.tally.has(Fault::CutOff) {
            self.tally.add(Fault::CutOff, "</gpx>", || place.line());
        }
        self.close_point(&mut place);
        self.contents.close_track();
        self.tell_hidden(self.skipped.points());
        self.tell_encoding(&place);
        let (hash, bytes) =
            place.finish().map_err(|fault| Error::file("read", &self.path, &fault))?;
        Ok(TrackFile {
            set_aside: self.tally.set_aside(&self.path),
            remarks: self.tally.remarks(&self.path),
            points_set_aside: self.tally.points(),
            checksums_wrong: 0,
            zone_assumed: self.tally.has(Fault::ZoneAssumed),
            source: SourceFile { path: self.path, kind: FileKind::Gpx, bytes, hash },
            creator: self.creator,
            tracks: self.contents.tracks,
            routes: self.contents.routes,
            waypoints: self.contents.waypoints,
            areas: 0,
        })
    }

    fn tell_encoding<R: Read>(&mut self, place: &Source<R>) {
        let foreign = place.foreign();
        if foreign.count > 0 {
            self.tally.add_many(Fault::ForeignBytes, foreign.count, "", || foreign.line);
        }
        if let Some(label) = place.unknown_encoding() {
            self.tally.add(Fault::UnknownEncoding, label, || 1);
        }
    }
}
