//! Formats what taxa grew with as text, JSON and a figure. Layer: `present`.

mod figure;
mod json;
mod text;

pub use figure::figure;
pub use json::properties;
pub use text::text;

use crate::analyse::hosts::{Association, Hosts, Verdict, rates::Rates};

/// The column that is asked about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GrownWith {
    /// The plant.
    Host,
    /// The material.
    Substrate,
    /// The surroundings.
    Habitat,
}

impl GrownWith {
    /// The heading and the JSON key.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Self::Host => "host",
            Self::Substrate => "substrate",
            Self::Habitat => "habitat",
        }
    }

    fn many(self) -> &'static str {
        match self {
            Self::Host => "hosts",
            Self::Substrate => "substrates",
            Self::Habitat => "habitats",
        }
    }
}

/// Everything that is reported of hosts.
#[derive(Debug)]
pub struct Report {
    /// The taxon as asked for; none for all taxa.
    pub taxon: Option<String>,
    /// The column.
    pub with: GrownWith,
    /// Counts and tests.
    pub hosts: Hosts,
    /// The names of the taxa, by number.
    pub taxa: Vec<String>,
    /// What is shown of each host, and how it was written with the number of finds.
    pub shown: Vec<(String, Vec<(String, usize)>)>,
    /// Finds per hour by habitat; none for another column or without a taxon.
    pub rates: Option<Rates>,
}

/// The false discovery rate at which an association is declared.
const DECLARED: f64 = 0.05;

impl Report {
    fn host(&self, host: usize) -> &str {
        self.shown.get(host).map_or("", |(shown, _)| shown)
    }

    fn taxon(&self, taxon: usize) -> &str {
        self.taxa.get(taxon).map_or("", String::as_str)
    }

    /// Associations that are declared, the clearest first: more often than the others, or less.
    fn declared(&self, more: bool) -> Vec<&Association> {
        let clear = |pair: &&Association| match pair.verdict {
            Verdict::Tested { odds, q_value, .. } => {
                q_value <= DECLARED && (odds.value > 1.0) == more
            }
            Verdict::TooLittle => false,
        };
        let mut declared: Vec<&Association> =
            self.hosts.associations.iter().filter(clear).collect();
        declared.sort_by(|a, b| q_of(a).total_cmp(&q_of(b)));
        declared
    }
}

fn q_of(pair: &Association) -> f64 {
    match pair.verdict {
        Verdict::Tested { q_value, .. } => q_value,
        Verdict::TooLittle => 1.0,
    }
}
