//! The sentence with which an analysis opens, and the one that states how it was computed. Layer:
//! `present`.

use super::detection::left_out;
use super::effort::EffortLine;
use super::estimates::{percent, wrapped};
use super::season::{no_clear_peak, peak_words};
use super::sites::SiteLine;
use super::visits::VisitLine;
use crate::analyse::detection::Occupancy;
use crate::analyse::intervals::wilson;
use crate::analyse::season::{Per, Season};
use crate::present::summary::words::counted;
use crate::units::{Metres, Seconds};

/// When a taxon fruits most.
pub(super) fn season(taxon: &str, season: &Season) -> String {
    let per = match season.per {
        Per::Hour => "hour",
        Per::Km => "kilometre",
        Per::Hectare => "hectare",
    };
    if season.clear_peak {
        format!("{taxon} is found most per {per} searched about {}.", peak_words(season))
    } else {
        format!("{taxon}: {} per {per} searched.", no_clear_peak(season))
    }
}

/// How a season is computed.
pub(super) const SEASON: &str = "Rate: a penalised curve of finds over effort, cyclic; intervals by \
    resampling whole outings; p by permuting outings among dates. docs/season.md";

/// How likely a visit finds what is there.
pub(super) fn detection(of: &str, fitted: &Occupancy, per_visit: &str, visits: &str) -> String {
    if fitted.per_visit.tells_nothing() {
        return format!("{of}: how likely a visit finds it is not determined by these data.");
    }
    if !fitted.visits_determined() {
        return format!(
            "{of}: where it is present, a visit finds it with {per_visit}; how many visits without a find indicate \
             absence is not determined."
        );
    }
    format!(
        "{of}: where it is present, a visit finds it with {per_visit}; {visits} visits without a find indicate absence."
    )
}

/// How a detection probability is computed.
pub(super) const DETECTION: &str = "Occupancy model by maximum likelihood, profile intervals (MacKenzie and others 2002). \
     docs/sites-and-visits.md\n";

/// How much was searched.
#[must_use]
pub fn effort(total: &EffortLine) -> String {
    format!(
        "{} of weighted search in {} out on {}; {} of weighted search in {} walked; {:.2} ha.\n\n",
        Seconds(total.searched_s),
        Seconds(total.time_s),
        counted(total.outings, "outing", "outings"),
        Metres(total.searched_length_m),
        Metres(total.length_m),
        total.searched_ha
    )
}

/// How often visits found something.
#[must_use]
pub fn visits(lines: &[VisitLine]) -> String {
    let sites: std::collections::BTreeSet<i64> = lines.iter().map(|line| line.site).collect();
    let searches = || lines.iter().filter(|line| line.counts_as_search);
    let with_find = searches().filter(|line| line.finds > 0).count();
    let in_passing = lines.iter().filter(|line| line.is_find_in_passing()).count();
    format!(
        "{}\n",
        wrapped(&format!(
            "{} to {}: {}{}",
            counted(lines.len(), "visit", "visits"),
            counted(sites.len(), "site", "sites"),
            found_on(with_find, searches().count()),
            not_counted(in_passing)
        ))
    )
}

/// How many sites there are, and how often a visit found something.
#[must_use]
pub fn sites(lines: &[SiteLine]) -> String {
    let sum = |of: fn(&SiteLine) -> usize| lines.iter().map(of).sum::<usize>();
    format!(
        "{}\n",
        wrapped(&format!(
            "{} of {}: {}{}",
            counted(lines.len(), "site", "sites"),
            counted(sum(|line| line.finds), "find", "finds"),
            found_on(sum(|line| line.visits_with_find), sum(|line| line.visits_searched)),
            not_counted(sum(|line| line.visits_in_passing))
        ))
    )
}

fn not_counted(in_passing: usize) -> String {
    left_out(in_passing).map_or_else(String::new, |visits| format!(" Not counted: {visits}."))
}

fn found_on(with_find: usize, searched: usize) -> String {
    if searched == 0 {
        return "no visit was a search.".to_owned();
    }
    format!(
        "{with_find} of {} found something, {}.",
        counted(searched, "searched visit", "searched visits"),
        percent(wilson(with_find as f64, searched as f64))
    )
}

const VISITS: &str = "A visit is a pass of a track within the stated distance of a site's centre. The \
    share has Wilson's interval, visits taken as independent; sites are known by their finds, so it is no \
    chance of a find elsewhere. docs/sites-and-visits.md";

/// How visits are counted and how their share is computed, below a table.
#[must_use]
pub fn how_visits() -> String {
    format!("\n{}", wrapped(VISITS))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weighted_search_is_not_said_to_be_a_part_of_the_time_out() {
        let effort = crate::analyse::effort::Effort {
            outings: 1,
            time: Seconds(12_240.0),
            searched: Seconds(12_360.0),
            length: Metres(4_650.0),
            searched_length: Metres(5_920.0),
            ..Default::default()
        };
        let line = super::super::effort::line("all".to_owned(), &effort);
        let text = super::effort(&line);
        assert!(text.contains("of weighted search in") && !text.contains("were search"), "{text}");
    }

    #[test]
    fn shares_of_visits_carry_their_interval() {
        assert_eq!(
            found_on(3, 10),
            "3 of 10 searched visits found something, 30 % (95 %: 11 to 60 %)."
        );
        assert_eq!(found_on(0, 0), "no visit was a search.");
    }
}
