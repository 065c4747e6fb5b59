//! Tests of the season figures on simulated years. Layer: `present`.

use super::*;
use crate::analyse::season::{Stint, estimate};
use jiff::civil::{Date, date};

/// Three autumns, an outing a week from April to July, finds about a peak.
fn stints(peak: f64, most: u32) -> Vec<Stint> {
    let mut stints = Vec::new();
    for year in 2023..2026_i16 {
        for week in 0..13_i64 {
            let day: Date = date(year, 4, 5).checked_add(jiff::Span::new().days(7 * week)).unwrap();
            let away = (f64::from(day.day_of_year()) - peak) / 18.0;
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a small count"
            )]
            let finds = (f64::from(most) * (-0.5 * away * away).exp()).round() as u32;
            stints.push(Stint {
                outing: stints.len(),
                date: day,
                elevation: None,
                hours: 1.5,
                finds,
            });
        }
    }
    stints
}

fn season(peak: f64, most: u32) -> Season {
    estimate(&stints(peak, most)).unwrap()
}

#[test]
fn headline_states_the_peak_with_its_interval_and_the_rate() {
    let season = season(140.0, 6);
    let words = headline(&season);
    assert!(words.starts_with("Most finds per hour searched about "), "{words}");
    assert!(words.contains("(95 %:") && words.contains("per hour (95 %:"), "{words}");
    let figure = figure("Mycena interrupta", &season);
    assert!(figure.contains("<desc>Mycena interrupta: Most finds"), "{figure}");
    assert!(figure.contains("font-style=\"italic\">Mycena interrupta"), "{figure}");
}

#[test]
fn every_season_has_a_strip_and_sizes_have_a_key() {
    let figure = figure("Mycena", &season(140.0, 6));
    for year in ["2023", "2024", "2025"] {
        assert!(figure.contains(&format!(">{year}</text>")), "{year}");
    }
    assert!(figure.contains("1 find</text>") && figure.contains("h searched in a week"));
    assert!(!figure.contains(">Nov</text>"), "the axis is cropped to the searched weeks");
}

#[test]
fn band_above_the_frame_is_marked_with_its_value() {
    // three finds in all: the band is wide
    let mut few = stints(140.0, 0);
    for index in [4, 6, 17, 19, 30] {
        few[index].finds = 1;
    }
    let season = estimate(&few).unwrap();
    let top =
        season.curve.iter().filter(|day| day.searched).map(|day| day.rate).fold(0.0, f64::max);
    let band = season.curve.iter().filter_map(|day| day.high95).fold(0.0, f64::max);
    let cut = band > 2.2 * top;
    assert_eq!(figure("Mycena", &season).contains("class=\"cut\""), cut, "{band} {top}");
    let wide = Season {
        curve: season
            .curve
            .iter()
            .map(|day| {
                let high95 = day.high95.map(|_| 9.0 * day.rate);
                crate::analyse::season::DayRate { high95, ..*day }
            })
            .collect(),
        ..season
    };
    let figure = figure("Mycena", &wide);
    assert!(figure.contains("class=\"cut\"") && figure.contains("95 % to "), "{figure}");
}

#[test]
fn unsearched_weeks_between_searched_ones_are_dotted() {
    let mut gap = stints(140.0, 6);
    gap.retain(|stint| !(5..=9).contains(&(stint.outing % 13)));
    for (index, stint) in gap.iter_mut().enumerate() {
        stint.outing = index;
    }
    let season = estimate(&gap).unwrap();
    let figure = figure("Mycena", &season);
    assert!(figure.contains("stroke-dasharray=\"0.9 2.2\""), "{figure}");
}

#[test]
fn multiples_share_one_axis_and_keep_their_order() {
    let (early, late) = (season(120.0, 5), season(160.0, 5));
    let drawn = multiples(
        &[("All taxa, 2025", &early), ("Mycena interrupta, 2023 to 2025", &late)],
        "Order.",
    );
    let (first, second) = (drawn.find("All taxa").unwrap(), drawn.find("Mycena").unwrap());
    assert!(first < second);
    assert_eq!(drawn.matches(">May</text>").count(), 2);
    assert!(drawn.contains("url(#season-0)") && drawn.contains("url(#season-1)"));
    assert!(!drawn.contains("NaN"));
}
