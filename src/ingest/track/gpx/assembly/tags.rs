//! Connects the assembly of GPX to the XML reader. Layer: `ingest`.

use std::io::Read;

use quick_xml::events::BytesStart;

use super::Assembly;
use crate::error::Result;
use crate::ingest::track::fault::Tally;
use crate::ingest::track::xml::{Assemble, Source};
use crate::model::TrackFile;

impl Assemble for Assembly {
    fn start<R: Read>(
        &mut self,
        tag: &BytesStart,
        empty: bool,
        place: &mut Source<R>,
    ) -> Result<()> {
        self.start_tag(tag, empty, place)
    }

    fn end<R: Read>(&mut self, name: &str, place: &mut Source<R>) {
        self.end_tag(name, place);
    }

    fn text<R: Read>(&mut self, text: &str, place: &mut Source<R>) -> Result<()> {
        self.add_text(text, place)
    }

    fn entity<R: Read>(&mut self, name: &str, place: &mut Source<R>) {
        self.keep_entity(name, place);
    }

    #[inline]
    fn wants_text(&self) -> bool {
        self.is_value_open()
    }

    fn cut_text(&mut self, line: u64) {
        self.cut_value(line);
    }

    fn damaged_tag<R: Read>(&mut self, tag: &str, line: u64, place: &mut Source<R>) {
        self.lose_tag(tag, line, place);
    }

    fn tally(&mut self) -> &mut Tally {
        &mut self.tally
    }

    fn finish<R: Read>(self, place: Source<R>) -> Result<TrackFile> {
        self.finish_file(place)
    }
}
