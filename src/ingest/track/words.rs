//! Collects the text of the open value, bounded in length and with control characters escaped.
//! Layer: `ingest`.

/// How much of one text is kept.
const LONGEST_TEXT: usize = 64 * 1024;

/// The text of one value as its pieces come.
#[derive(Debug, Default)]
pub(in crate::ingest::track) struct Words {
    text: String,
    cut: bool,
}

impl Words {
    /// Starts a new value.
    pub(in crate::ingest::track) fn clear(&mut self) {
        self.text.clear();
        self.cut = false;
    }

    /// Adds a piece; false at the first truncation.
    pub(in crate::ingest::track) fn append(&mut self, piece: &str) -> bool {
        if self.cut {
            return true;
        }
        let room = LONGEST_TEXT.saturating_sub(self.text.len());
        if piece.len() <= room {
            self.text.push_str(piece);
            return true;
        }
        self.text.push_str(&piece[..boundary(piece, room)]);
        !self.cut()
    }

    /// Ignores all further pieces; true the first time.
    pub(in crate::ingest::track) fn cut(&mut self) -> bool {
        !std::mem::replace(&mut self.cut, true)
    }

    /// The text without the space round it.
    #[inline]
    pub(in crate::ingest::track) fn trimmed(&self) -> &str {
        let blank = |byte: Option<&u8>| byte.is_none_or(|byte| *byte <= b' ' || !byte.is_ascii());
        let bytes = self.text.as_bytes();
        if blank(bytes.first()) || blank(bytes.last()) { self.text.trim() } else { &self.text }
    }

    /// Its first words, as an example.
    pub(in crate::ingest::track) fn beginning(&self) -> &str {
        &self.text[..boundary(&self.text, 40)]
    }
}

/// The last place at or before this one where a text can be cut.
fn boundary(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|&place| text.is_char_boundary(place)).unwrap_or(0)
}

/// Removes control characters, which could affect a terminal or break an output file.
pub(in crate::ingest::track) fn without_controls(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && c != '\n' && c != '\t' { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_text_is_cut_once_and_at_a_whole_character() {
        let mut words = Words::default();
        assert!(words.append("茸"));
        assert!(!words.append(&"茸".repeat(LONGEST_TEXT)));
        assert!(words.append("more"));
        assert_eq!(words.trimmed().len(), LONGEST_TEXT / 3 * 3);
        assert_eq!(words.beginning().chars().count(), 13);
        words.clear();
        assert!(words.append("\u{a0} a \n"));
        assert_eq!(words.trimmed(), "a");
    }

    #[test]
    fn control_characters_become_spaces() {
        assert_eq!(without_controls("a\u{1b}[31m\nb\u{7f}"), "a [31m\nb ");
    }
}
