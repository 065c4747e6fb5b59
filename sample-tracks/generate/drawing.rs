//! Draws a simple photograph: leaf litter, a fungus in its colour, a slip with the number. Small
//! enough for a repository, detailed enough for a thumbnail.

use crate::rng::Rng;
use crate::society::{Kind, Shape};

pub(crate) const WIDTH: usize = 288;
pub(crate) const HEIGHT: usize = 216;

/// A picture of red, green and blue bytes.
pub(crate) struct Drawing {
    pixels: Vec<u8>,
}

impl Drawing {
    pub(crate) fn pixels(&self) -> &[u8] {
        &self.pixels
    }

    /// A find on its litter, seen a little from the side; `turn` differs from picture to picture.
    pub(crate) fn find(kind: &Kind, slip: Option<&str>, night: bool, rng: &mut Rng) -> Self {
        let mut drawing = Self { pixels: vec![0; WIDTH * HEIGHT * 3] };
        drawing.litter(rng);
        let (x, y) = (rng.between(120.0, 168.0), rng.between(112.0, 132.0));
        let size = rng.between(0.85, 1.15);
        for part in parts(kind) {
            let shifted = Part {
                x: x + size * part.x,
                y: y + size * part.y,
                wide: size * part.wide,
                high: size * part.high,
                ..part
            };
            drawing.disc(&shifted);
        }
        if let Some(number) = slip {
            drawing.slip(number);
        }
        if night {
            drawing.darken(x, y);
        }
        drawing
    }

    /// The lit screen of a receiver that shows the time.
    pub(crate) fn clock(shown: &str) -> Self {
        let mut drawing = Self { pixels: vec![0; WIDTH * HEIGHT * 3] };
        drawing.block(0, 0, WIDTH, HEIGHT, [46, 42, 38]);
        drawing.block(40, 50, 208, 110, [22, 24, 22]);
        drawing.block(50, 60, 188, 90, [196, 206, 176]);
        drawing.write(shown, 62, 90, 6, [30, 36, 28]);
        drawing
    }

    fn litter(&mut self, rng: &mut Rng) {
        let (base, tilt) = (rng.between(58.0, 76.0), rng.between(-0.10, 0.10));
        for y in 0..HEIGHT {
            for x in 0..WIDTH {
                let light = base + 0.16 * y as f64 + tilt * x as f64;
                self.set(x, y, [light * 1.06, light * 0.84, light * 0.56]);
            }
        }
        for _ in 0..85 {
            let (wide, shade) = (rng.between(9.0, 24.0), rng.between(-26.0, 40.0));
            let green = if rng.even() < 0.16 { 20.0 } else { 0.0 };
            let leaf = Part {
                x: rng.between(0.0, WIDTH as f64),
                y: rng.between(0.0, HEIGHT as f64),
                wide,
                high: wide * rng.between(0.25, 0.5),
                colour: [92.0 + shade - green, 70.0 + 0.8 * shade + green, 44.0 + 0.5 * shade],
                light: 0.35,
                upper_only: false,
            };
            self.disc(&leaf);
        }
    }

    fn disc(&mut self, part: &Part) {
        let rows = (part.y - part.high).max(0.0) as usize..=(part.y + part.high).max(0.0) as usize;
        for y in rows.filter(|y| *y < HEIGHT) {
            let v = (y as f64 - part.y) / part.high;
            if part.upper_only && v > 0.18 {
                continue;
            }
            let left = (part.x - part.wide).max(0.0) as usize;
            for x in left..=((part.x + part.wide).max(0.0) as usize).min(WIDTH - 1) {
                let u = (x as f64 - part.x) / part.wide;
                let square = u * u + v * v;
                if square <= 1.0 {
                    let light = 1.0 - part.light * (0.5 * square + 0.35 * u + 0.35 * v);
                    self.set(x, y, part.colour.map(|channel| channel * light));
                }
            }
        }
    }

    fn slip(&mut self, number: &str) {
        let wide = 4 * 4 * number.len() + 12;
        self.block(WIDTH - wide - 12, HEIGHT - 46, wide, 34, [236, 234, 226]);
        self.write(number, WIDTH - wide - 4, HEIGHT - 38, 4, [28, 28, 30]);
    }

    fn write(&mut self, text: &str, x: usize, y: usize, dot: usize, ink: [u8; 3]) {
        for (place, letter) in text.chars().enumerate() {
            for (row, bits) in dots(letter).into_iter().enumerate() {
                for column in (0..3).filter(|column| bits & (4 >> column) != 0) {
                    let left = x + (4 * place + column) * dot;
                    self.block(left, y + row * dot, dot, dot, ink);
                }
            }
        }
    }

    fn block(&mut self, left: usize, top: usize, wide: usize, high: usize, colour: [u8; 3]) {
        for y in top..(top + high).min(HEIGHT) {
            for x in left..(left + wide).min(WIDTH) {
                self.set(x, y, colour.map(f64::from));
            }
        }
    }

    /// Torchlight: bright about the find, dark beyond.
    fn darken(&mut self, x: f64, y: f64) {
        for (index, channel) in self.pixels.iter_mut().enumerate() {
            let pixel = index / 3;
            let (u, v) = ((pixel % WIDTH) as f64 - x, (pixel / WIDTH) as f64 - y);
            let light = (-(u * u + v * v) / 12_000.0).exp();
            *channel = (f64::from(*channel) * (0.06 + 0.98 * light)).min(255.0) as u8;
        }
    }

    fn set(&mut self, x: usize, y: usize, colour: [f64; 3]) {
        let at = (y * WIDTH + x) * 3;
        for (pixel, channel) in self.pixels[at..at + 3].iter_mut().zip(colour) {
            *pixel = channel.clamp(0.0, 255.0) as u8;
        }
    }
}

#[derive(Clone, Copy)]
struct Part {
    x: f64,
    y: f64,
    wide: f64,
    high: f64,
    colour: [f64; 3],
    light: f64,
    upper_only: bool,
}

fn parts(kind: &Kind) -> Vec<Part> {
    let cap = kind.cap.map(f64::from);
    let pale = cap.map(|channel| 0.45 * channel + 125.0);
    let part = |x, y, wide, high, colour, upper_only| Part {
        x,
        y,
        wide,
        high,
        colour,
        light: 0.5,
        upper_only,
    };
    match kind.shape {
        Shape::Cap => vec![
            part(0.0, 34.0, 9.0, 44.0, pale, false),
            part(0.0, 0.0, 46.0, 15.0, cap.map(|channel| 0.55 * channel), false),
            part(0.0, -2.0, 46.0, 34.0, cap, true),
        ],
        Shape::Bracket => (0..4)
            .map(|tier| {
                let step = f64::from(tier);
                part(10.0 * (step - 1.5), 40.0 - 26.0 * step, 52.0 - 6.0 * step, 24.0, cap, true)
            })
            .collect(),
        Shape::Coral => (0..9)
            .map(|branch| {
                let step = f64::from(branch) - 4.0;
                part(8.0 * step, 10.0 + 2.0 * step.abs(), 6.0, 46.0 - 4.0 * step.abs(), cap, false)
            })
            .collect(),
        Shape::Cup => [(-30.0, 12.0), (24.0, 18.0), (0.0, -8.0), (40.0, -10.0)]
            .into_iter()
            .map(|(x, y)| part(x, y, 24.0, 19.0, cap, false))
            .collect(),
    }
}

/// Figures and the few letters that a slip needs, three dots wide and five high.
fn dots(letter: char) -> [u8; 5] {
    match letter {
        '0' => [7, 5, 5, 5, 7],
        '1' => [2, 6, 2, 2, 7],
        '2' => [7, 1, 7, 4, 7],
        '3' => [7, 1, 7, 1, 7],
        '4' => [5, 5, 7, 1, 1],
        '5' => [7, 4, 7, 1, 7],
        '6' => [7, 4, 7, 5, 7],
        '7' => [7, 1, 2, 2, 2],
        '8' => [7, 5, 7, 5, 7],
        '9' => [7, 5, 7, 1, 7],
        ':' => [0, 2, 0, 2, 0],
        '-' => [0, 0, 7, 0, 0],
        'A' => [7, 5, 7, 5, 5],
        'B' => [6, 5, 6, 5, 6],
        'I' => [7, 2, 2, 2, 7],
        'M' => [5, 7, 7, 5, 5],
        'N' => [5, 7, 7, 7, 5],
        'P' => [7, 5, 7, 4, 4],
        'Q' => [7, 5, 5, 7, 1],
        _ => [0; 5],
    }
}
