//! Draws the figures of a season page: overview, calendar, curves, maps, effort. Layer: `present`.

use super::{GroundMap, SeasonSheet, cells};
use crate::analyse::season::Season;
use crate::present::markup::{Element, Elements};
use crate::present::summary::words;
use crate::present::years::density::Measure;
use crate::present::years::{calendar, density, effort_chart, season_figure};
use crate::units::{Metres, Seconds};

/// Key figures of the years.
pub(super) fn overview(sheet: &SeasonSheet) -> Element {
    let mut figures = Elements::default();
    let mut add = |caption: &str, words: &str| {
        figures.push(
            Element::new("div")
                .with(Element::new("dt").with_text(caption))
                .with(Element::new("dd").with_text(words)),
        );
    };
    let days: std::collections::BTreeSet<_> = sheet.outings.iter().map(|line| line.date).collect();
    add("outings", &result(sheet.outings.len(), "on", days.len(), "day", "days"));
    let effort = &sheet.effort;
    add("time out", &Seconds(effort.time_s).to_string());
    add("searching", &Seconds(effort.searched_s).to_string());
    add("distance", &Metres(effort.length_m).to_string());
    add("searched area, each place once", &format!("{:.1} ha", effort.searched_ha));
    let finds: usize = sheet.taxa.iter().map(|taxon| taxon.finds).sum();
    add("finds", &words::count(finds));
    let named = || sheet.taxa.iter().filter(|taxon| taxon.name.is_some());
    let fresh = named().filter(|taxon| taxon.before == 0).count();
    add("taxa", &format!("{}, {fresh} of them new", named().count()));
    let found = |line: &crate::present::years::sites::SiteLine| {
        line.visits_with_find + line.visits_in_passing
    };
    let with_find = sheet.sites.iter().filter(|site| found(&site.line) > 0).count();
    add("sites with a find", &format!("{with_find} of {} visited", sheet.sites.len()));
    let visits = |count: fn(&crate::present::years::sites::SiteLine) -> usize| -> usize {
        sheet.sites.iter().map(|site| count(&site.line)).sum()
    };
    let (searched, found) =
        (visits(|line| line.visits_searched), visits(|line| line.visits_with_find));
    add("site searches", &format!("{searched}, {} without a find", searched.saturating_sub(found)));
    Element::new("dl").set("class", "figures").with(figures)
}

fn result(count: usize, joint: &str, other: usize, one: &str, many: &str) -> String {
    format!("{count} {joint} {}", words::counted(other, one, many))
}

/// Embeds a figure; its element ids are made unique.
fn inline(drawing: &str, own: &str, words: &str) -> Element {
    // quotes in text are escaped, so these can only be attributes
    let drawing = drawing
        .replace(" id=\"", &format!(" id=\"{own}-"))
        .replace("=\"url(#", &format!("=\"url(#{own}-"));
    Element::new("figure")
        .set("class", "wide chart")
        .set("role", "group")
        .set("aria-label", words)
        .set("tabindex", "0")
        .with(Elements::of_drawing(drawing))
}

/// All taxa by week.
pub(super) fn calendar(sheet: &SeasonSheet) -> Element {
    let (rows, hours, first) = &sheet.calendar;
    if rows.is_empty() {
        return Element::new("p").with_text("No calendar: no find of these years has a name.");
    }
    inline(&calendar::figure(rows, hours, *first), "calendar", "Calendar of all taxa")
}

/// Seasons on one axis, and taxa with too few data.
pub(super) fn curves(sheet: &SeasonSheet) -> Element {
    let mut drawn = Elements::default();
    let fitted: Vec<(&str, &Season)> = sheet
        .curves
        .iter()
        .filter_map(|(heading, curve)| Some((heading.as_str(), curve.as_ref().ok()?)))
        .collect();
    if !fitted.is_empty() {
        let order = "All taxa of these years first, then those with the most finds.";
        drawn.push(inline(&season_figure::multiples(&fitted, order), "seasons", "Seasons"));
    }
    for (heading, curve) in &sheet.curves {
        if let Err(why) = curve {
            let words = format!("{heading}: not enough data for a curve: {why}.");
            drawn.push(Element::new("p").set("dir", "auto").with_text(&words));
        }
    }
    Element::new("div").with(drawn)
}

/// The maps of finds, one per area.
pub(super) fn ground(sheet: &SeasonSheet) -> Element {
    let maps = sheet.ground.maps.iter().enumerate().filter_map(|(index, map)| {
        let drawing = match map {
            GroundMap::Cells { cells } => cells::figure(cells)?,
            GroundMap::Density(area) => density::figure(
                "Density of finds",
                std::slice::from_ref(area),
                Measure::PerKm,
                (&[], &[]),
            ),
        };
        let words = format!("Map of area {}", index + 1);
        Some(inline(&drawing, &format!("ground{index}"), &words))
    });
    let mut part =
        Element::new("div").with(Element::new("div").set("class", "charts").with_all(maps));
    if sheet.ground.maps.is_empty() {
        part = part.with(Element::new("p").with_text("Too few finds may be shown for a map."));
    }
    for (why, count) in sheet.ground.left_out.iter().filter(|(_, count)| *count > 0) {
        let finds = words::counted(*count, "find", "finds");
        let words = format!("Not on a map: {finds} {why}.");
        part = part.with(Element::new("p").set("class", "soft").with_text(&words));
    }
    part
}

/// Bars of effort.
pub(super) fn effort(sheet: &SeasonSheet) -> Element {
    let (heading, lines) = &sheet.bars;
    match effort_chart::figure(heading, lines) {
        Ok(drawing) => inline(&drawing, "effort", "Effort"),
        Err(_) => Element::new("p").with_text("No outing of these years has a track."),
    }
}
