//! Line and attributes of a start tag, and the first tag of a text. Layer: `ingest`.

use std::io::Read;

use quick_xml::events::BytesStart;

use super::encoding;
use super::source::Source;
use crate::ingest::track::words::without_controls;

/// The line on which a tag begins that was just read.
pub(in crate::ingest::track) fn line_of<R: Read>(tag: &BytesStart, place: &mut Source<R>) -> u64 {
    let inside = memchr::memchr_iter(b'\n', tag.as_bytes()).count() as u64;
    place.line().saturating_sub(inside).max(1)
}

/// The value of an attribute, in any namespace prefix that is written the same.
pub(in crate::ingest::track) fn attribute(tag: &BytesStart, wanted: &str) -> Option<String> {
    let mut attributes = tag.html_attributes();
    let found = attributes
        .with_checks(false)
        .flatten()
        .find(|attribute| attribute.key.into_inner() == wanted)?;
    let text = quick_xml::escape::unescape(&found.value).unwrap_or_else(|_| found.value.clone());
    Some(without_controls(text.trim())).filter(|text| !text.is_empty())
}

/// The name in the first start tag, past declarations, comments and document types.
pub(in crate::ingest::track) fn first_element(text: &str) -> Option<&str> {
    let mut rest = text;
    loop {
        rest = &rest[rest.find('<')? + 1..];
        let end = match rest.as_bytes().first()? {
            b'?' => "?>",
            b'!' if rest.starts_with("!--") => "-->",
            b'!' if rest.contains('[') => "]>",
            b'!' => ">",
            _ => break,
        };
        rest = &rest[rest.find(end)? + end.len()..];
    }
    let name = rest.split(|c: char| c.is_whitespace() || matches!(c, '>' | '/')).next()?;
    name.chars().all(|c| c.is_alphanumeric() || ":_-.".contains(c)).then_some(name)
}

/// The local name of the first element of a file that begins with these bytes; `None` where the file
/// does not begin as XML.
pub(in crate::ingest::track) fn first_local_name(head: &[u8]) -> Option<String> {
    let found = encoding::detect(head)?;
    let (text, _) = found.encoding.decode_without_bom_handling(&head[found.mark.min(head.len())..]);
    // a table may contain a note with a tag
    if !text.trim_start().starts_with('<') {
        return None;
    }
    first_element(&text).map(|name| name.rsplit(':').next().unwrap_or(name).to_owned())
}
