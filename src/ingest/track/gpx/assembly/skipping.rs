//! Handles tags inside a skipped part and text between tags. Layer: `ingest`.

use std::io::Read;

use super::super::element::{Element, PointKind};
use super::super::skipped::Leaving;
use super::{Assembly, LONGEST_PREAMBLE, Root};
use crate::error::Result;
use crate::ingest::track::fault::Fault;
use crate::ingest::track::xml::Source;

/// Names of the number of averaged fixes of a waypoint in extensions.
const AVERAGED: [&str; 5] = ["samples", "averaged", "averages", "averagedfixes", "samplecount"];

impl Assembly {
    /// A start tag of an element that is not read.
    pub(super) fn start_other<R: Read>(&mut self, name: &str, empty: bool, place: &mut Source<R>) {
        if empty {
            return;
        }
        if name == "extensions" && self.is_in_point(PointKind::Track) {
            place.skip_plain_extensions();
        }
        self.skipped_from.0 = place.line();
        self.skipped_from.1.clear();
        self.skipped_from.1.push_str(name);
        self.skipped.enter(name, self.prefixes.element(name));
    }

    /// A start tag inside a skipped element.
    pub(super) fn start_skipped(&mut self, name: &str, element: Element, empty: bool) {
        if empty {
            self.skipped.pass(element);
            return;
        }
        self.skipped.enter(name, element);
        if self.is_in_point(PointKind::Waypoint) && self.field.is_none() {
            let local = name.rsplit(':').next().unwrap_or(name);
            self.counting = AVERAGED.iter().any(|known| known.eq_ignore_ascii_case(local));
            self.words.clear();
        }
    }

    fn is_in_point(&self, kind: PointKind) -> bool {
        self.point.as_ref().is_some_and(|point| point.kind == kind)
    }

    /// An end tag inside a skipped element. False where the tag ends an outer element.
    pub(super) fn end_skipped<R: Read>(
        &mut self,
        name: &str,
        element: Element,
        place: &mut Source<R>,
    ) -> bool {
        if self.counting {
            self.counting = false;
            let count = self.words.trimmed().parse().ok().filter(|&count| count > 0);
            if let Some(point) = self.point.as_mut() {
                point.averaged = point.averaged.or(count);
            }
        }
        let hidden = self.skipped.points();
        let leaving = self.skipped.leave(name, element);
        if leaving == Leaving::Beyond {
            self.tell_hidden(hidden);
        }
        if matches!(leaving, Leaving::Mismatched | Leaving::Beyond) {
            self.mismatch(&format!("</{name}>"), place);
        }
        leaving != Leaving::Beyond
    }

    /// Points inside an unclosed element are lost, which is reported.
    pub(super) fn tell_hidden(&mut self, points: u64) {
        if points > 0 {
            let (line, name) = &self.skipped_from;
            self.tally.add_many(Fault::PointsHidden, points, &format!("<{name}>"), || *line);
        }
    }

    /// Whether the text that comes next is a value.
    #[inline]
    pub(super) fn is_value_open(&self) -> bool {
        (self.field.is_some() && !self.skipped.is_active()) || self.counting
    }

    /// Text between tags.
    ///
    /// # Errors
    /// When the text before the first tag is too long for XML.
    pub(super) fn add_text<R: Read>(&mut self, text: &str, place: &mut Source<R>) -> Result<()> {
        if self.is_value_open() {
            if !self.words.append(text) {
                self.tally.add(Fault::TextTooLong, self.words.beginning(), || place.line());
            }
        } else if self.root == Root::Awaited {
            self.preamble += text.trim().len();
            if self.preamble > LONGEST_PREAMBLE {
                return Err(self.refusal(place));
            }
        }
        Ok(())
    }

    /// Stops keeping this text.
    pub(super) fn cut_value(&mut self, line: u64) {
        if self.is_value_open() && self.words.cut() {
            self.tally.add(Fault::TextTooLong, self.words.beginning(), || line);
        }
    }

    /// An entity that stands for no known character stays as it is written.
    pub(super) fn keep_entity<R: Read>(&mut self, name: &str, place: &mut Source<R>) {
        if !self.is_value_open() {
            return;
        }
        let written = format!("&{name};");
        if name.chars().all(|c| c.is_alphanumeric() || "#_-.:".contains(c)) {
            self.tally.add(Fault::EntityRefused, &written, || place.line());
        }
        if !self.words.append(&written) {
            self.tally.add(Fault::TextTooLong, self.words.beginning(), || place.line());
        }
    }
}
