//! Breaks text of several styles into lines of a given width; a word that is too long is broken, never
//! truncated. Layer: `present`.

use super::fonts::{self, Face};
use super::markup::Element;
use super::scientific_name;
use super::style::{self, Colour};
use super::svg::{self, Letters, Point};

/// Text of one face and colour.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// The text.
    pub words: String,
    /// The face.
    pub face: Face,
    /// The colour.
    pub colour: Colour,
}

/// Text of several runs, separated by spaces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Paragraph {
    runs: Vec<Run>,
}

impl Paragraph {
    /// Upright text in ink.
    #[must_use]
    pub fn plain(words: &str) -> Self {
        Self::default().then(words, Face::Regular, style::INK)
    }

    /// A caption in soft ink, followed by its text.
    #[must_use]
    pub fn captioned(caption: &str, words: &str) -> Self {
        Self::default().then(caption, Face::Regular, style::SOFT_INK).then(
            words,
            Face::Regular,
            style::INK,
        )
    }

    /// A determined name, in italics where required.
    #[must_use]
    pub fn name(name: &str) -> Self {
        let mut paragraph = Self::default();
        for (word, face) in scientific_name::words(name) {
            paragraph = paragraph.then(word, face, style::INK);
        }
        paragraph
    }

    /// With more text at the end. Line breaks inside become spaces.
    #[must_use]
    pub fn then(mut self, words: &str, face: Face, colour: Colour) -> Self {
        // a no-break space stays
        let breaks = |c: char| c.is_whitespace() && !matches!(c, '\u{a0}' | '\u{202f}');
        let words: Vec<&str> = words.split(breaks).filter(|word| !word.is_empty()).collect();
        if words.is_empty() {
            return self;
        }
        let words = words.join(" ");
        match self.runs.last_mut() {
            Some(last) if last.face == face && last.colour == colour => {
                last.words.push(' ');
                last.words.push_str(&words);
            }
            _ => self.runs.push(Run { words, face, colour }),
        }
        self
    }

    /// With a mark directly behind its last word.
    #[must_use]
    pub fn closed(mut self, mark: &str) -> Self {
        if let Some(last) = self.runs.last_mut() {
            last.words.push_str(mark);
        }
        self
    }

    /// With another paragraph at the end.
    #[must_use]
    pub fn and(self, other: &Self) -> Self {
        other.runs.iter().fold(self, |all, run| all.then(&run.words, run.face, run.colour))
    }

    /// Its complete text.
    #[must_use]
    pub fn text(&self) -> String {
        let runs: Vec<&str> = self.runs.iter().map(|run| run.words.as_str()).collect();
        runs.join(" ")
    }

    /// Its lines, none wider than `widest` (except a single letter).
    #[must_use]
    pub fn lines(&self, size: f64, widest: f64) -> Vec<Line> {
        let mut lines: Vec<Line> = Vec::new();
        let mut line = Line::default();
        for run in &self.runs {
            for word in run.words.split(' ') {
                let mut left = word;
                if !line.takes(left, run.face, size, widest) && !line.pieces.is_empty() {
                    lines.push(std::mem::take(&mut line));
                }
                while !line.takes(left, run.face, size, widest) && left.chars().count() > 1 {
                    let (head, tail) = left.split_at(fitting(left, run.face, size, widest));
                    line.push(head, run, size);
                    lines.push(std::mem::take(&mut line));
                    left = tail;
                }
                line.push(left, run, size);
            }
        }
        if !line.pieces.is_empty() {
            lines.push(line);
        }
        lines
    }
}

/// The number of bytes of a long word that fit on one line: at least one letter.
fn fitting(word: &str, face: Face, size: f64, widest: f64) -> usize {
    let mut end = 0;
    for (at, letter) in word.char_indices() {
        let next = at + letter.len_utf8();
        if end > 0 && fonts::width(&word[..next], face, size) > widest {
            break;
        }
        end = next;
    }
    end
}

/// One line of a paragraph.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    pieces: Vec<Run>,
    wide: f64,
}

impl Line {
    fn takes(&self, word: &str, face: Face, size: f64, widest: f64) -> bool {
        self.wide + self.space(face, size) + fonts::width(word, face, size) <= widest
    }

    fn space(&self, face: Face, size: f64) -> f64 {
        if self.pieces.is_empty() { 0.0 } else { fonts::width(" ", face, size) }
    }

    fn push(&mut self, word: &str, run: &Run, size: f64) {
        self.wide += self.space(run.face, size) + fonts::width(word, run.face, size);
        match self.pieces.last_mut() {
            Some(last) if last.face == run.face && last.colour == run.colour => {
                last.words.push(' ');
                last.words.push_str(word);
            }
            _ => self.pieces.push(Run { words: word.to_owned(), ..run.clone() }),
        }
    }

    /// Its width in points, as measured.
    #[must_use]
    pub fn wide(&self) -> f64 {
        self.wide
    }

    /// The line drawn with its baseline at the point.
    pub fn draw(&self, at: Point, size: f64) -> Element {
        if !self.pieces.iter().all(|piece| fonts::is_all_embedded(&piece.words)) {
            return self.draw_in_pieces(at, size);
        }
        let mut text = svg::text(at, "", Letters::new(size));
        for (place, piece) in self.pieces.iter().enumerate() {
            let space = if place + 1 < self.pieces.len() { " " } else { "" };
            let mut span = Element::new("tspan");
            match piece.face {
                Face::Regular => {}
                Face::Bold => span = span.set("font-weight", "bold"),
                Face::Italic => span = span.set("font-style", "italic"),
            }
            if piece.colour != style::INK {
                span = span.set("fill", piece.colour);
            }
            text = text.with(span.with_text(&format!("{}{space}", piece.words)));
        }
        text
    }
}

impl Line {
    /// Each run at its own place, where fonts of this machine draw some of it.
    fn draw_in_pieces(&self, at: Point, size: f64) -> Element {
        let mut x = at.x;
        let mut all = svg::group();
        for piece in &self.pieces {
            let letters = Letters::new(size).face(piece.face).colour(piece.colour);
            all = all.with(svg::text(Point::new(x, at.y), &piece.words, letters));
            x += fonts::width(&piece.words, piece.face, size) + fonts::width(" ", piece.face, size);
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapping_keeps_all_letters_and_the_width() {
        let paragraph = Paragraph::name("Ascocoryne sarcoides (Jacq.) J.W. Groves & D.E. Wilson")
            .then("det. Ada\nQuillfeather", Face::Regular, style::INK)
            .then("Donaudampfschifffahrtselektrizitätenhauptbetriebswerk", Face::Bold, style::INK);
        for widest in [5.0, 30.0, 77.0, 1_000.0] {
            let lines = paragraph.lines(8.0, widest);
            let text: String = lines
                .iter()
                .flat_map(|line| &line.pieces)
                .flat_map(|piece| piece.words.chars())
                .filter(|letter| *letter != ' ')
                .collect();
            assert_eq!(text, paragraph.text().replace(' ', ""));
            for line in &lines {
                assert!(line.wide <= widest || line.pieces[0].words.chars().count() == 1);
            }
        }
    }

    #[test]
    fn lines_keep_their_faces() {
        let line = &Paragraph::name("Mycena interrupta (Berk.) Sacc.").lines(8.0, 500.0)[0];
        let drawn = line.draw(Point::new(0.0, 0.0), 8.0).to_string();
        assert!(
            drawn.contains(r#"<tspan font-style="italic">Mycena interrupta </tspan>"#),
            "{drawn}"
        );
        assert!(drawn.contains("<tspan>(Berk.) Sacc.</tspan>"));
    }
}
