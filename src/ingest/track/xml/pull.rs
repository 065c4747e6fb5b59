//! Opens a file and pulls its tags from the XML reader. Layer: `ingest`.

use std::io::Read;
use std::path::Path;

use memchr::memchr;
use quick_xml::escape::resolve_predefined_entity;
use quick_xml::events::{BytesRef, Event};
use quick_xml::reader::Reader;

use super::assemble::Assemble;
use super::source::Source;
use crate::error::{Error, Result};
use crate::ingest::track::fault::Fault;
use crate::model::TrackFile;

/// The XML reader keeps a list of open tags; it is cleared beyond this length.
const MOST_OPEN: i64 = 8192;

/// Reads a stream of XML to its end; `path` names it in messages.
///
/// # Errors
/// When the stream cannot be read or the assembly refuses it.
pub(in crate::ingest::track) fn read(
    stream: impl Read,
    path: &Path,
    assembly: impl Assemble,
) -> Result<TrackFile> {
    let broken = |fault: &std::io::Error| Error::file("read", path, fault);
    let source = Source::new(stream).map_err(|fault| broken(&fault))?;
    let mut pull = Pull { xml: fresh(source), token: Vec::new(), assembly, open: 0, reread: 0 };
    loop {
        match pull.step() {
            Ok(Step::Next) => {}
            Ok(Step::Resume) => pull = pull.resume(),
            Ok(Step::Mend) => pull = pull.mend().map_err(|fault| broken(&fault))?,
            Ok(Step::Done) => return pull.assembly.finish(pull.xml.into_inner()),
            Err(Halt::Disk(fault)) => return Err(broken(&fault)),
            Err(Halt::Refused(refusal)) => return Err(refusal),
        }
    }
}

pub(super) struct Pull<R: Read, A> {
    pub(super) xml: Reader<Source<R>>,
    pub(super) token: Vec<u8>,
    pub(super) assembly: A,
    pub(super) open: i64,
    /// Bytes of damaged tags that were read a second time.
    pub(super) reread: usize,
}

enum Step {
    Next,
    /// The XML reader must restart at this position.
    Resume,
    /// The token is damaged.
    Mend,
    Done,
}

enum Halt {
    Disk(std::sync::Arc<std::io::Error>),
    Refused(Error),
}

impl From<Error> for Halt {
    fn from(refusal: Error) -> Self {
        Self::Refused(refusal)
    }
}

pub(super) fn fresh<R: Read>(source: Source<R>) -> Reader<Source<R>> {
    let mut xml = Reader::from_reader(source);
    let config = xml.config_mut();
    config.check_end_names = false;
    config.allow_unmatched_ends = true;
    config.allow_dangling_amp = true;
    xml
}

impl<R: Read, A: Assemble> Pull<R, A> {
    fn step(&mut self) -> std::result::Result<Step, Halt> {
        let source = self.xml.get_mut();
        source.begin_token();
        if !self.assembly.wants_text() {
            source.skip_space();
        }
        self.token.clear();
        let event = self.xml.read_event_into(&mut self.token);
        let source = self.xml.get_mut();
        match event {
            Ok(Event::Start(tag)) if is_whole(tag.as_bytes()) => {
                self.open += 1;
                self.assembly.start(&tag, false, source)?;
            }
            Ok(Event::Empty(tag)) if is_whole(tag.as_bytes()) => {
                self.assembly.start(&tag, true, source)?;
            }
            Ok(Event::End(tag)) if memchr(b'<', tag.as_bytes()).is_none() => {
                self.open -= 1;
                self.assembly.end(tag.name().into_inner(), source);
            }
            // a processing instruction that contains a tag was never closed
            Ok(Event::PI(text)) if memchr(b'<', text.as_bytes()).is_some() => {
                return Ok(Step::Mend);
            }
            Ok(Event::Start(_) | Event::Empty(_) | Event::End(_))
            | Err(quick_xml::Error::Syntax(_)) => return Ok(Step::Mend),
            Ok(Event::Text(text)) => self.assembly.text(&text, source)?,
            Ok(Event::CData(text)) => self.assembly.text(&text, source)?,
            Ok(Event::GeneralRef(name)) => match character(&name) {
                Some(character) => self.assembly.text(&character, source)?,
                None => self.assembly.entity(&name, source),
            },
            Ok(Event::DocType(text)) => {
                if text.contains('[') {
                    self.assembly.tally().add(Fault::OwnEntities, &text, || source.line());
                }
            }
            Ok(Event::Eof) if !source.is_overlong() => return Ok(Step::Done),
            Ok(_) | Err(quick_xml::Error::IllFormed(_)) => {}
            Err(quick_xml::Error::Io(fault)) => return Err(Halt::Disk(fault)),
            Err(_) => return Ok(Step::Resume),
        }
        let resume = self.xml.get_ref().is_overlong() || self.open > MOST_OPEN;
        Ok(if resume { Step::Resume } else { Step::Next })
    }

    fn resume(self) -> Self {
        Self { xml: fresh(self.xml.into_inner()), open: 0, ..self }
    }
}

/// Whether a tag has a name and holds no other.
fn is_whole(tag: &[u8]) -> bool {
    tag.first().is_some_and(|&byte| begins_name(byte)) && memchr(b'<', tag).is_none()
}

pub(super) fn begins_name(byte: u8) -> bool {
    byte.is_ascii_alphabetic() || matches!(byte, b'_' | b':') || byte >= 0x80
}

/// The character that a reference stands for, where XML itself knows it.
fn character(name: &BytesRef) -> Option<String> {
    match name.resolve_char_ref() {
        Ok(Some(character)) => Some(character.to_string()),
        Ok(None) => resolve_predefined_entity(name).map(str::to_owned),
        Err(_) => None,
    }
}
