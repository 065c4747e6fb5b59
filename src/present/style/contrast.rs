//! Tests the palette of light and dark pages: contrast, and distances between classes of marks for normal
//! colour vision and three deficiencies. Layer: `present`.
//!
//! # References
//! W3C 2023, WCAG 2.2: relative luminance and contrast ratio.
//! Machado, G. M., Oliveira, M. M. & Fernandes, L. A. F. 2009. A physiologically-based model for simulation
//! of color vision deficiency. IEEE Transactions on Visualization and Computer Graphics 15: 1291-1298.
//! Matrices of severity 1.0, applied to linear RGB (figures from memory).
//! CIE 015:2018, Colorimetry: L*a*b* and the colour difference of 1976.

use super::*;

/// The colour of the page and what it shows, in one theme.
struct Theme {
    paper: Colour,
    texts: Vec<Colour>,
    marks: Vec<(&'static str, Colour)>,
}

fn light() -> Theme {
    Theme {
        paper: PAPER,
        texts: vec![INK, SOFT_INK, ASIDE],
        marks: vec![
            ("walking", WALK),
            ("searching", SEARCH),
            ("stop", STOP),
            ("find", FIND),
            ("photograph", PHOTO),
            ("set aside", ASIDE),
            ("as recorded", RAW),
        ],
    }
}

fn dark() -> Theme {
    let in_dark = |colour: Colour| DARK.iter().find(|pair| pair.0 == colour).unwrap().1;
    let light = light();
    Theme {
        paper: in_dark(light.paper),
        texts: light.texts.into_iter().map(in_dark).collect(),
        marks: light.marks.into_iter().map(|(name, colour)| (name, in_dark(colour))).collect(),
    }
}

/// Linear red, green and blue, 0 to 1.
fn linear(colour: Colour) -> [f64; 3] {
    [1, 3, 5].map(|at| {
        let value = f64::from(u8::from_str_radix(&colour.0[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    })
}

/// Relative luminance as WCAG 2.2 defines it.
fn luminance(colour: Colour) -> f64 {
    let [red, green, blue] = linear(colour);
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

/// The contrast ratio of two colours as WCAG 2.2 defines it.
pub(crate) fn contrast(one: Colour, other: Colour) -> f64 {
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

type Matrix = [[f64; 3]; 3];

const VISIONS: [(&str, Matrix); 4] = [
    ("normal", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
    (
        "protanopia",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "deuteranopia",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "tritanopia",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];

/// L*a*b* of linear RGB under D65.
fn lab([red, green, blue]: [f64; 3]) -> [f64; 3] {
    let x = (0.4124 * red + 0.3576 * green + 0.1805 * blue) / 0.9505;
    let y = 0.2126 * red + 0.7152 * green + 0.0722 * blue;
    let z = (0.0193 * red + 0.1192 * green + 0.9505 * blue) / 1.089;
    let f =
        |t: f64| if t > 216.0 / 24_389.0 { t.cbrt() } else { (24_389.0 / 27.0 * t + 16.0) / 116.0 };
    [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
}

/// The difference of two colours to a person with this vision.
fn difference(one: Colour, other: Colour, vision: &Matrix) -> f64 {
    let seen = |colour: Colour| {
        let rgb = linear(colour);
        lab(vision.map(|row| row.iter().zip(rgb).map(|(m, c)| m * c).sum::<f64>().clamp(0.0, 1.0)))
    };
    let (a, b) = (seen(one), seen(other));
    a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
}

/// The least difference between classes of marks; shapes differ too.
const APART: f64 = 10.0;

#[test]
fn text_has_a_contrast_of_4_5_and_marks_of_3() {
    for theme in [light(), dark()] {
        for colour in &theme.texts {
            let contrast = contrast(*colour, theme.paper);
            assert!(contrast >= 4.5, "{colour}: {contrast:.2}");
        }
        for (name, colour) in &theme.marks {
            // a stop has an outline of ink, which carries the contrast in the light theme
            let outline = contrast(theme.texts[0], theme.paper);
            let contrast = contrast(*colour, theme.paper);
            let carried = *name == "stop" && outline >= 3.0;
            assert!(contrast >= 3.0 || carried, "{name} {colour}: {contrast:.2}");
        }
    }
    let keys = contrast(PAPER, INK);
    assert!(keys >= 4.5, "letters of keys: {keys:.2}");
}

#[test]
fn classes_of_marks_differ_in_every_colour_vision() {
    for theme in [light(), dark()] {
        for (vision, matrix) in &VISIONS {
            for (index, (name, colour)) in theme.marks.iter().enumerate() {
                for (other, there) in &theme.marks[index + 1..] {
                    let apart = difference(*colour, *there, matrix);
                    assert!(apart >= APART, "{vision}: {name} and {other} differ by {apart:.1}");
                }
            }
        }
    }
}

#[test]
fn simulation_and_difference_match_known_cases() {
    // white stays white, since the rows of each matrix sum to 1
    for (vision, matrix) in &VISIONS {
        for row in matrix {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-5, "{vision}");
        }
    }
    // sRGB red in L*a*b* under D65: 53.24, 80.09, 67.20 (common practice)
    let red = lab(linear(Colour("#ff0000")));
    for (value, known) in red.iter().zip([53.24, 80.09, 67.20]) {
        assert!((value - known).abs() < 0.1, "{red:?}");
    }
    // red and green of one lightness are hard to tell apart without long or middle cones
    let (red, green) = (Colour("#b05c5c"), Colour("#6f7a3a"));
    let normal = difference(red, green, &VISIONS[0].1);
    assert!(difference(red, green, &VISIONS[2].1) < 0.5 * normal);
}

/// The style sheet of the pages names the colours of both themes.
#[test]
fn pages_use_the_palette() {
    let sheet = include_str!("../sheet/style.css");
    for (light, dark) in DARK {
        let names = |colour: Colour| sheet.contains(&format!(": {colour};"));
        assert!(names(light) && names(dark), "{light} and {dark}");
        let maps = sheet.contains(&format!("svg [fill=\"{light}\"]"))
            || sheet.contains(&format!("svg [stroke=\"{light}\"]"));
        assert!(maps, "drawings keep {light} in the dark");
    }
}
