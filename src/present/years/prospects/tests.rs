//! Tests the sentences about sites and about the weather before a date.

use jiff::civil::date;

use super::*;

fn site(id: i64, chance: f64, weather: Option<f64>) -> Prospect {
    Prospect {
        site: SiteId(id),
        chance,
        chance_low95: chance - 0.1,
        chance_high95: chance + 0.1,
        determined: true,
        visits_in_season: 4,
        found_in_season: 2,
        visits: 9,
        last_found: None,
        season_alone: 0.3,
        weather: weather.map(|usual| Weathered {
            chance_at_usual_weather: usual,
            factor: Factor { factor: 1.5, low95: 1.1, high95: 2.0 },
        }),
    }
}

fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_first_site_is_named_with_those_that_are_hardly_less_probable() {
    let listed = [site(4, 0.5, None), site(2, 0.45, None), site(7, 0.2, None)];
    let name = |id: SiteId| id.0.to_string();
    assert_eq!(
        plain(&answer((None, date(2027, 5, 9)), &listed, name)),
        "A find is most probable at site 4 on 2027-05-09: 50 % (95 %: 40 to 60 %) for a visit like the \
         earlier ones. 1 of 2 other sites is within that interval."
    );
    let none = Prospect { determined: false, ..site(1, 0.5, None) };
    let unknown = plain(&answer((Some("Mycena"), date(2027, 5, 9)), &[none], name));
    assert!(
        unknown.starts_with("Where Mycena is most probable on 2027-05-09 cannot be"),
        "{unknown}"
    );
}

#[test]
fn weather_states_what_it_changed_or_why_it_is_not_used() {
    let listed = [site(4, 0.41, Some(0.28)), site(2, 0.3, None)];
    let name = |id: SiteId| id.0.to_string();
    let said = |state: Recent| plain(&weather(&state, &listed, (date(2027, 5, 9), &name)));
    let applied = Recent::Applied { known_days: 60, of_days: 61, sites: 1, sites_without: 1 };
    assert_eq!(
        said(applied),
        "Weather of the last 61 days: 41 % instead of 28 % at site 4; it multiplies the rate of finds by \
         1.50 (95 %: 1.10 to 2.00). 1 day without a value counted as usual. 1 site without weather has the \
         season alone."
    );
    let missing = Recent::Missing { known_days: 12, needed_days: 55, of_days: 61 };
    assert!(
        said(missing).contains("12 of the 61 days up to 2027-05-09 are known and 55 are needed")
    );
    assert!(said(Recent::NoStation).contains("the store has none"));
    for verdict in [Verdict::AddsNothing, Verdict::NotPredictive, Verdict::TooFewYears] {
        let words = said(Recent::NotEarned { verdict });
        assert!(words.starts_with("Weather before the date is not used: "), "{words}");
    }
}
