//! Finds where to continue after malformed XML: an unclosed tag, a comment longer than a bound, a
//! `<` that begins no tag. Linear in time. Layer: `ingest`.

use std::io::{self, Read};

use memchr::{memchr, memchr_iter};

use super::assemble::Assemble;
use super::pull::{Pull, begins_name, fresh};
use super::source::Source;
use crate::ingest::track::fault::Fault;

/// The most bytes of a damaged file that are read a second time, which bounds the cost.
const MOST_REREAD: usize = 16 * 1024 * 1024;

impl<R: Read, A: Assemble> Pull<R, A> {
    /// Finds where to continue after a damaged token.
    pub(super) fn mend(mut self) -> io::Result<Self> {
        let mut source = self.xml.into_inner();
        source.begin_token();
        let token = std::mem::take(&mut self.token);
        let ends = memchr_iter(b'\n', &token).count() as u64;
        let line = source.line().saturating_sub(ends).max(1);
        let shown = String::from_utf8_lossy(&token[..token.len().min(160)]).into_owned();
        let tally = self.assembly.tally();
        if token.starts_with(b"<!--") {
            if !skip_past(&mut source, &token, b"-->")? {
                tally.add(Fault::NeverClosed, "<!--", || line);
            }
        } else if let Some(text) = token.strip_prefix(b"<![CDATA[") {
            // valid UTF-8, since the source gives nothing else
            let _ = self.assembly.text(&String::from_utf8_lossy(text), &mut source);
            self.assembly.cut_text(line);
            if !skip_past(&mut source, &token, b"]]>")? {
                self.assembly.tally().add(Fault::NeverClosed, "<![CDATA[", || line);
            }
        } else if token.len() > 3 && token[..3].eq_ignore_ascii_case(b"<!D") {
            tally.add(Fault::OwnEntities, &shown, || line);
            if !skip_document_type(&mut source, &token)? {
                tally.add(Fault::NeverClosed, "<!DOCTYPE", || line);
            }
        } else {
            self.reread += mend_tag(&token, self.reread, &mut source, &mut self.assembly, line)?;
        }
        Ok(Self { xml: fresh(source), open: 0, token, ..self })
    }
}

/// Continues inside a damaged tag: at the next tag that begins in it, or after a `<` that begins no
/// tag. Returns how much is read again.
fn mend_tag<R: Read>(
    token: &[u8],
    reread: usize,
    source: &mut Source<R>,
    assembly: &mut impl Assemble,
    line: u64,
) -> io::Result<usize> {
    let may_reread = |rest: &[u8]| reread + rest.len() <= MOST_REREAD;
    if let Some((first, rest)) = token.get(1..).and_then(|after| Some((after.first()?, after)))
        && !begins_name(*first)
        && !matches!(first, b'/' | b'!' | b'?')
        && may_reread(rest)
    {
        // a bare < in a text: "slope < 5 degrees"
        let _ = assembly.text("<", source);
        source.put_back(rest);
        return Ok(rest.len());
    }
    let next = token.get(1..).and_then(|rest| memchr(b'<', rest)).map_or(token.len(), |at| at + 1);
    let (damaged, rest) = token.split_at(next);
    let damaged = String::from_utf8_lossy(&damaged[..damaged.len().min(160)]).into_owned();
    if rest.is_empty() && !token.ends_with(b">") && token != b"<!" && !source.skip_to_markup()? {
        assembly.tally().add(Fault::CutOff, &format!("the end of {damaged}"), || line);
        return Ok(0);
    }
    assembly.damaged_tag(&damaged, line, source);
    if !may_reread(rest) {
        return Ok(0);
    }
    source.put_back(rest);
    Ok(rest.len())
}

/// Skips the rest of a token that ends in this mark, part of which may be read already.
fn skip_past<R: Read>(source: &mut Source<R>, token: &[u8], mark: &[u8]) -> io::Result<bool> {
    let mut recent = [0_u8; 3];
    for &byte in &token[token.len().saturating_sub(2)..] {
        recent = [recent[1], recent[2], byte];
    }
    source.skip_past(|byte| {
        recent = [recent[1], recent[2], byte];
        recent.ends_with(mark)
    })
}

/// Skips the rest of a document type: to the `>` outside quotes and brackets.
fn skip_document_type<R: Read>(source: &mut Source<R>, token: &[u8]) -> io::Result<bool> {
    let mut quote = None;
    let mut depth = 0_i64;
    let mut ends = move |byte: u8| {
        match (quote, byte) {
            (Some(open), _) if open == byte => quote = None,
            (None, b'"' | b'\'') => quote = Some(byte),
            (None, b'[' | b'<') => depth += 1,
            (None, b']' | b'>') => {
                depth -= 1;
                return byte == b'>' && depth <= 0;
            }
            _ => {}
        }
        false
    };
    for &byte in token {
        ends(byte);
    }
    source.skip_past(ends)
}
