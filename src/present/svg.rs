//! Provides typed SVG shapes in points (1/72 inch): strokes, fills, letters, paths. Text is escaped by
//! [`super::markup`]. Layer: `present`.

use std::fmt::Write;

use super::fonts::{self, Face};
use super::markup::Element;
use super::scientific_name;
use super::style::{self, Colour};

/// A place in a drawing: points to the right and down.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

impl Point {
    /// The place at these distances from the upper left corner.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// The place this much further right and down.
    #[must_use]
    pub fn plus(self, x: f64, y: f64) -> Self {
        Self { x: self.x + x, y: self.y + y }
    }

    /// The distance to another place.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

/// An upright rectangle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Frame {
    /// Its upper left corner.
    pub corner: Point,
    /// Its width.
    pub wide: f64,
    /// Its height.
    pub high: f64,
}

impl Frame {
    /// The rectangle with this corner, width and height.
    #[must_use]
    pub const fn new(x: f64, y: f64, wide: f64, high: f64) -> Self {
        Self { corner: Point::new(x, y), wide, high }
    }

    /// The right edge.
    #[must_use]
    pub fn right(self) -> f64 {
        self.corner.x + self.wide
    }

    /// The lower edge.
    #[must_use]
    pub fn bottom(self) -> f64 {
        self.corner.y + self.high
    }

    /// The centre.
    #[must_use]
    pub fn middle(self) -> Point {
        self.corner.plus(self.wide / 2.0, self.high / 2.0)
    }

    /// Whether the place is inside or on the edge.
    #[must_use]
    pub fn holds(self, at: Point) -> bool {
        (self.corner.x..=self.right()).contains(&at.x)
            && (self.corner.y..=self.bottom()).contains(&at.y)
    }

    /// Whether two rectangles have more than an edge in common.
    #[must_use]
    pub fn meets(self, other: Self) -> bool {
        self.corner.x < other.right()
            && other.corner.x < self.right()
            && self.corner.y < other.bottom()
            && other.corner.y < self.bottom()
    }

    /// The rectangle that is smaller by this on every side.
    #[must_use]
    pub fn inset(self, by: f64) -> Self {
        Self::new(
            self.corner.x + by,
            self.corner.y + by,
            (self.wide - 2.0 * by).max(0.0),
            (self.high - 2.0 * by).max(0.0),
        )
    }
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Its colour.
    pub colour: Colour,
    /// Its width in points.
    pub width: f64,
    /// Lengths of dash and space in points, where it is not whole.
    pub dash: Option<(f64, f64)>,
}

impl Stroke {
    /// A solid line.
    #[must_use]
    pub const fn new(colour: Colour, width: f64) -> Self {
        Self { colour, width, dash: None }
    }

    /// The same line, dashed.
    #[must_use]
    pub const fn dashed(self, dash: f64, space: f64) -> Self {
        Self { dash: Some((dash, space)), ..self }
    }
}

/// The part of the text that is at its position.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Anchor {
    /// The beginning.
    #[default]
    Start,
    /// The centre.
    Middle,
    /// The end.
    End,
}

/// How text is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Letters {
    /// Its size in points.
    pub size: f64,
    /// Its face.
    pub face: Face,
    /// Its colour.
    pub colour: Colour,
    /// Which part of it is at its place.
    pub anchor: Anchor,
    /// Whether a halo separates it from the drawing below.
    pub rim: bool,
    /// Its fixed length in points: viewers that substitute the
    /// font fit the text to it.
    pub long: Option<f64>,
}

impl Letters {
    /// Upright ink of this size, beginning at its place.
    #[must_use]
    pub const fn new(size: f64) -> Self {
        Self {
            size,
            face: Face::Regular,
            colour: style::INK,
            anchor: Anchor::Start,
            rim: false,
            long: None,
        }
    }

    /// The same in another face.
    #[must_use]
    pub const fn face(self, face: Face) -> Self {
        Self { face, ..self }
    }

    /// The same in another colour.
    #[must_use]
    pub const fn colour(self, colour: Colour) -> Self {
        Self { colour, ..self }
    }

    /// The same, with another anchor.
    #[must_use]
    pub const fn anchor(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// The same, as long as this whatever the font.
    #[must_use]
    pub const fn long(self, long: f64) -> Self {
        Self { long: Some(long), ..self }
    }

    /// The same with a halo.
    #[must_use]
    pub const fn rimmed(self) -> Self {
        Self { rim: true, ..self }
    }
}

/// A drawing of this size in points, with a title for screen readers.
pub fn drawing(wide: f64, high: f64, title: &str) -> Element {
    let millimetres = |points: f64| format!("{:.2}mm", points / POINTS_PER_MILLIMETRE);
    Element::new("svg")
        .set("xmlns", "http://www.w3.org/2000/svg")
        .set("class", "trug")
        .set("width", millimetres(wide))
        .set("height", millimetres(high))
        .set("viewBox", format_args!("0 0 {} {}", short(wide), short(high)))
        .set("font-family", style::FAMILY)
        .set("role", "img")
        .with(Element::new("title").with_text(title))
}

/// The same with a description that states what the drawing shows.
pub fn described(wide: f64, high: f64, title: &str, description: &str) -> Element {
    drawing(wide, high, title).with(Element::new("desc").with_text(description))
}

/// Points in a millimetre.
pub const POINTS_PER_MILLIMETRE: f64 = 72.0 / 25.4;

/// A group.
pub fn group() -> Element {
    Element::new("g")
}

/// A mark drawn around its own origin and moved to a point, where it keeps its size when a map is
/// zoomed.
pub fn pin(at: Point, mark: Element) -> Element {
    group()
        .set("class", "pin")
        .set("transform", format_args!("translate({} {})", short(at.x), short(at.y)))
        .with(mark)
}

/// A straight line.
pub fn line(from: Point, to: Point, stroke: Stroke) -> Element {
    Element::new("line")
        .set("x1", short(from.x))
        .set("y1", short(from.y))
        .set("x2", short(to.x))
        .set("y2", short(to.y))
        .stroked(stroke)
}

/// A line through many places.
pub fn polyline(points: &[Point], stroke: Stroke) -> Element {
    Element::new("path")
        .set("d", path(points))
        .set("fill", "none")
        .stroked(stroke)
        .set("stroke-linejoin", "round")
        .set("stroke-linecap", if stroke.dash.is_some() { "butt" } else { "round" })
}

/// Lines of many points as one element, through [`relative_path`].
pub fn long_polylines(lines: &[Vec<Point>], stroke: Stroke) -> Element {
    let paths: Vec<String> = lines.iter().map(|line| relative_path(line)).collect();
    Element::new("path")
        .set("d", paths.concat())
        .set("fill", "none")
        .stroked(stroke)
        .set("stroke-linejoin", "round")
        .set("stroke-linecap", if stroke.dash.is_some() { "butt" } else { "round" })
}

/// A filled shape with these corners.
pub fn polygon(points: &[Point], fill: Colour) -> Element {
    Element::new("path").set("d", format_args!("{}Z", path(points))).set("fill", fill)
}

/// A circle, not yet filled or stroked.
pub fn circle(middle: Point, radius: f64) -> Element {
    let circle = Element::new("circle").set("r", short(radius));
    if middle == Point::default() {
        return circle;
    }
    circle.set("cx", short(middle.x)).set("cy", short(middle.y))
}

/// A rectangle, not yet filled or stroked.
pub fn rectangle(frame: Frame) -> Element {
    Element::new("rect")
        .set("x", short(frame.corner.x))
        .set("y", short(frame.corner.y))
        .set("width", short(frame.wide))
        .set("height", short(frame.high))
}

/// A line of text with its baseline at the point. A halo is a separate text below, since not every program
/// that shows SVG supports `paint-order`.
pub fn text(at: Point, words: &str, letters: Letters) -> Element {
    let plain = plain_text(at, words, letters);
    if !letters.rim {
        return plain;
    }
    let rim = plain_text(at, words, letters.colour(style::PAPER))
        .set("class", "rim")
        .set("aria-hidden", "true")
        .set("stroke", style::PAPER)
        .set("stroke-width", short(0.3 * letters.size))
        .set("stroke-linejoin", "round");
    group().with(rim).with(plain)
}

/// Text of which fonts of this machine draw some: each piece is an element of its own at its own place, since
/// readers of SVG do not join faces within an element reliably.
fn in_pieces(at: Point, words: &str, letters: Letters) -> Element {
    let pieces = fonts::pieces(words);
    let wide: Vec<f64> =
        pieces.iter().map(|piece| piece.width(letters.face, letters.size)).collect();
    let before = match letters.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => 0.5,
        Anchor::End => 1.0,
    };
    let mut x = at.x - before * wide.iter().sum::<f64>();
    let plain = Letters { anchor: Anchor::Start, long: None, ..letters };
    let mut all = group();
    for (piece, wide) in pieces.iter().zip(wide) {
        // a reader of SVG drops blanks at the beginning of a text
        let blank = &piece.text[..piece.text.len() - piece.text.trim_start().len()];
        let at = Point::new(x + fonts::width(blank, letters.face, letters.size), at.y);
        x += wide;
        if piece.text.trim().is_empty() {
            continue;
        }
        all = all.with(match piece.family() {
            None => single(at, piece.text, plain),
            Some(family) => {
                let family = family.replace(['"', '\''], "");
                single(at, piece.text, plain.face(Face::Regular))
                    .set("font-family", format_args!("'{family}'"))
            }
        });
    }
    all
}

/// A line that begins with a scientific name: genus and epithets in italics.
pub fn name(at: Point, words: &str, letters: Letters) -> Element {
    let words = scientific_name::words(words);
    let runs: Vec<(String, Face)> = words
        .chunk_by(|a, b| a.1 == b.1)
        .map(|run| (run.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(" "), run[0].1))
        .collect();
    match runs.as_slice() {
        [(words, face)] => text(at, words, letters.face(*face)),
        runs => {
            let last = runs.len().saturating_sub(1);
            let spans = runs.iter().enumerate().map(|(place, (words, face))| {
                let span = Element::new("tspan");
                let span =
                    if *face == Face::Italic { span.set("font-style", "italic") } else { span };
                span.with_text(&if place < last { format!("{words} ") } else { words.clone() })
            });
            let spans: Vec<Element> = spans.collect();
            plain_text(at, "", letters).set("xml:space", "preserve").with_all(spans)
        }
    }
}

fn plain_text(at: Point, words: &str, letters: Letters) -> Element {
    if fonts::is_all_embedded(words) {
        return single(at, words, letters);
    }
    in_pieces(at, words, letters)
}

fn single(at: Point, words: &str, letters: Letters) -> Element {
    let mut element = Element::new("text")
        .set("x", short(at.x))
        .set("y", short(at.y))
        .set("font-size", short(letters.size))
        .set("fill", letters.colour);
    match letters.face {
        Face::Regular => {}
        Face::Bold => element = element.set("font-weight", "bold"),
        Face::Italic => element = element.set("font-style", "italic"),
    }
    match letters.anchor {
        Anchor::Start => {}
        Anchor::Middle => element = element.set("text-anchor", "middle"),
        Anchor::End => element = element.set("text-anchor", "end"),
    }
    if let Some(long) = letters.long {
        element = element.set("textLength", short(long)).set("lengthAdjust", "spacingAndGlyphs");
    }
    element.with_text(words)
}

/// A clip to a rectangle, to be named by `clip-path="url(#id)"`.
pub fn clip(id: &str, frame: Frame) -> Element {
    Element::new("clipPath").set("id", id).with(rectangle(frame))
}

impl Element {
    /// Filled with a colour.
    pub fn filled(self, colour: Colour) -> Self {
        self.set("fill", colour)
    }

    /// Filled with an opacity of 0 to 1.
    pub fn washed(self, colour: Colour, share: f64) -> Self {
        self.set("fill", colour).set("fill-opacity", short(share))
    }

    /// Drawn with a line.
    pub fn stroked(self, stroke: Stroke) -> Self {
        let dash = stroke.dash.map(|(dash, space)| format!("{} {}", short(dash), short(space)));
        self.set("stroke", stroke.colour)
            .set("stroke-width", short(stroke.width))
            .set_some("stroke-dasharray", dash)
    }
}

/// The path commands through these points; coinciding neighbours are written once.
#[must_use]
pub fn path(points: &[Point]) -> String {
    let mut commands = String::with_capacity(points.len() * 12);
    let mut last = None;
    for point in points {
        let here = (short(point.x), short(point.y));
        if last.as_ref() == Some(&here) {
            continue;
        }
        let command = if last.is_none() { 'M' } else { 'L' };
        let _ = write!(commands, "{command}{} {}", here.0, here.1);
        last = Some(here);
    }
    commands
}

/// Path data in steps of a hundredth of a point, each from the point before: half the length of [`path`]. The steps
/// are whole numbers of hundredths, so rounding does not add up.
pub fn relative_path(points: &[Point]) -> String {
    let mut commands = String::with_capacity(points.len() * 8);
    let mut last: Option<[i64; 2]> = None;
    for point in points {
        let here = [point.x, point.y].map(hundredths);
        let step = last.map_or(here, |last| [here[0] - last[0], here[1] - last[1]]);
        if last.is_some() && step == [0, 0] {
            continue;
        }
        commands.push(if last.is_none() { 'M' } else { 'l' });
        commands.push_str(&decimal(step[0]));
        if step[1] >= 0 {
            commands.push(' ');
        }
        commands.push_str(&decimal(step[1]));
        last = Some(here);
    }
    commands
}

#[allow(clippy::cast_possible_truncation, reason = "held to a range")]
fn hundredths(number: f64) -> i64 {
    if number.is_finite() { (number * 100.0).round().clamp(-1e12, 1e12) as i64 } else { 0 }
}

/// Hundredths as a decimal without its leading zero.
fn decimal(hundredths: i64) -> String {
    let sign = if hundredths < 0 { "-" } else { "" };
    let (whole, rest) = (hundredths.abs() / 100, hundredths.abs() % 100);
    let text = match (whole, rest) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, rest) => format!("{sign}.{rest:02}"),
        (whole, rest) => format!("{sign}{whole}.{rest:02}"),
    };
    if rest % 10 == 0 && rest != 0 { text[..text.len() - 1].to_owned() } else { text }
}

/// A number with at most two decimals and no trailing zeros; 0 for anything not finite.
#[must_use]
pub fn short(number: f64) -> String {
    if !number.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{number:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_finite() {
        assert_eq!(short(1.0), "1");
        assert_eq!(short(-0.001), "0");
        assert_eq!(short(2.346), "2.35");
        assert_eq!(short(f64::NAN), "0");
        assert_eq!(short(120.0), "120");
    }

    #[test]
    fn path_omits_repeated_points() {
        let points = [Point::new(0.0, 0.0), Point::new(0.001, 0.0), Point::new(3.5, 2.0)];
        assert_eq!(path(&points), "M0 0L3.5 2");
    }

    #[test]
    fn relative_path_ends_where_its_points_end() {
        let points = [Point::new(1.0, -0.5), Point::new(1.004, -0.5), Point::new(0.9, 2.0)];
        assert_eq!(relative_path(&points), "M1-.5l-.1 2.5");
        let many: Vec<Point> =
            (0..1_000).map(|step| Point::new(0.013 * f64::from(step), 0.0)).collect();
        let path = relative_path(&many);
        let sum: f64 =
            path[1..].split('l').map(|at| at[..at.len() - 2].parse::<f64>().unwrap()).sum();
        assert!((sum - 12.99).abs() < 1e-6, "{sum}");
    }

    #[test]
    fn halo_is_below_its_text() {
        let drawn = text(Point::default(), "AQ-1", Letters::new(7.0).rimmed()).to_string();
        assert_eq!(drawn.matches("AQ-1</text>").count(), 2);
        assert!(drawn.rfind("class=\"rim\"") < drawn.rfind("<text"), "{drawn}");
        assert!(!drawn.contains("paint-order"));
    }

    #[test]
    fn frames_sharing_an_edge_do_not_intersect() {
        let left = Frame::new(0.0, 0.0, 10.0, 10.0);
        assert!(!left.meets(Frame::new(10.0, 0.0, 5.0, 5.0)));
        assert!(left.meets(Frame::new(9.0, 9.0, 5.0, 5.0)));
        assert_eq!(left.inset(6.0).wide, 0.0);
    }
}
