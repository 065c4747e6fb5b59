//! Tests the pages of the comparison of years: their height, their axes, and intervals beyond these. Layer:
//! `present`.

use jiff::civil::date;

use super::*;
use crate::analyse::years::{Amount, Difference};

fn day(day: f64, half: f64) -> DayEstimate {
    DayEstimate { day, low95: day - half, high95: day + half }
}

fn year(year: i16, amount: Amount) -> YearLine {
    let none = Difference { value: 0.0, p: 0.8, q: None };
    YearLine {
        year: i32::from(year),
        until_year: i32::from(year),
        outings: 12,
        hours: 14.0,
        finds: 30,
        searched_from: date(year, 4, 1),
        searched_until: date(year, 7, 1),
        onset: day(100.0, 8.0),
        onset_unsearched: false,
        peak: Some(day(130.0, 10.0)),
        peak_unsearched: false,
        end: day(160.0, 9.0),
        end_unsearched: true,
        amount,
        shift: none,
        level: none,
        named: Vec::new(),
    }
}

fn taxon(number: usize, years: i16) -> YearsOf {
    let amount = Amount { factor: 1.1, low95: 0.6, high95: 2.0 };
    YearsOf {
        taxon: format!("Mycena {}", "ab".repeat(number + 1)),
        finds: 90,
        outings: 40,
        begins: 1.0,
        onset: Some(day(100.0, 5.0)),
        peak: Some(day(130.0, 6.0)),
        end: Some(day(160.0, 5.0)),
        clear_season: true,
        years: (0..years).map(|place| year(2001 + place, amount)).collect(),
        shift_between_years: 3.0,
        shift_about_trend: false,
        amount_between_years: 0.2,
        shift: None,
        amount: None,
        with_weather: None,
        weather: None,
    }
}

/// The height in millimetres.
fn height(page: &str) -> f64 {
    let (_, rest) = page.split_once(" height=\"").unwrap();
    rest[..rest.find("mm").unwrap()].parse().unwrap()
}

#[test]
fn every_page_fits_a4_and_every_taxon_is_on_one_page() {
    for (taxa, years) in [(1, 4), (17, 4), (40, 4), (9, 25), (3, 60)] {
        let all: Vec<YearsOf> = (0..taxa).map(|number| taxon(number, years)).collect();
        let pages = pages(&all);
        for page in &pages {
            assert!(height(page) <= 257.0, "{taxa} {years}: {}", height(page));
            assert_eq!(page.contains("page 1 of"), pages.len() > 1 && page == &pages[0]);
            assert!(page.contains("<desc>") && page.contains(">Apr<"));
        }
        for of in &all {
            let name = format!(">{}<", of.taxon);
            assert_eq!(pages.iter().filter(|page| page.contains(&name)).count(), 1, "{name}");
        }
    }
    let demo: Vec<YearsOf> = (0..17).map(|number| taxon(number, 4)).collect();
    assert_eq!(pages(&demo).len(), 1);
}

#[test]
fn interval_beyond_the_axis_ends_in_an_arrowhead() {
    let mut of = taxon(1, 3);
    assert!(!pages(std::slice::from_ref(&of))[0].contains("beyond"));
    of.years[1].amount = Amount { factor: 2.0, low95: 0.5, high95: 400.0 };
    let drawn = pages(&[of.clone()]).remove(0);
    assert_eq!(drawn.matches("class=\"beyond\"").count(), 1, "{drawn}");
    assert!(drawn.contains("continues beyond the axis"));
    // an interval of more than the year on both sides
    of.years[0].peak = Some(DayEstimate { day: 130.0, low95: 1.0, high95: 300.0 });
    assert_eq!(pages(&[of])[0].matches("class=\"beyond\"").count(), 3);
}

#[test]
fn season_across_the_turn_of_the_year_runs_from_left_to_right() {
    let across = DayEstimate { day: 20.0, low95: 350.0, high95: 45.0 };
    assert_eq!(span(across, 300.0), (50.0, 85.0, 110.0));
    // a low end before the axis is to the left of it, not at its right end
    let early = DayEstimate { day: 310.0, low95: 290.0, high95: 330.0 };
    assert_eq!(span(early, 300.0), (-10.0, 10.0, 30.0));
}

#[test]
fn a_season_across_new_year_has_the_names_of_both_years() {
    let mut of = taxon(1, 5);
    for year in &mut of.years {
        year.until_year = year.year + 1;
    }
    let all = [of];
    assert!(pages(&all)[0].contains("2004/05"));
    let text = crate::present::years::compared::text(&all);
    assert!(text.contains("\n  2001/02 "), "{text}");
    let properties = crate::present::years::compared::properties(&all);
    assert_eq!(properties["taxa"][0]["years"][1]["season"], "2002/03");
}
