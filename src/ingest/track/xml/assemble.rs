//! What a format does with the tags and the text of an XML file. Layer: `ingest`.

use std::io::Read;

use quick_xml::events::BytesStart;

use super::source::Source;
use crate::error::Result;
use crate::ingest::track::fault::Tally;
use crate::model::TrackFile;

/// Takes the parts of a file in order, well formed or not, and makes tracks of them.
pub(in crate::ingest::track) trait Assemble: Sized {
    /// A start tag, or with `empty` a tag that closes itself.
    ///
    /// # Errors
    /// When the first element is not one of the format.
    fn start<R: Read>(
        &mut self,
        tag: &BytesStart,
        empty: bool,
        place: &mut Source<R>,
    ) -> Result<()>;

    /// An end tag.
    fn end<R: Read>(&mut self, name: &str, place: &mut Source<R>);

    /// Text between tags; a long text comes in pieces.
    ///
    /// # Errors
    /// When the text before the first tag is too long for XML.
    fn text<R: Read>(&mut self, text: &str, place: &mut Source<R>) -> Result<()>;

    /// An entity that stands for no known character.
    fn entity<R: Read>(&mut self, name: &str, place: &mut Source<R>);

    /// Whether the text that comes next is a value.
    fn wants_text(&self) -> bool;

    /// The rest of this text is lost.
    fn cut_text(&mut self, line: u64);

    /// A tag that cannot be read.
    fn damaged_tag<R: Read>(&mut self, tag: &str, line: u64, place: &mut Source<R>);

    /// The faults so far.
    fn tally(&mut self) -> &mut Tally;

    /// The end of the file: everything that was complete is kept.
    ///
    /// # Errors
    /// When it has no element of the format.
    fn finish<R: Read>(self, place: Source<R>) -> Result<TrackFile>;
}
