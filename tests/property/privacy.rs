//! Simulates an adversary: whatever is imported, corrected, joined, split, protected and exported
//! in any order, a reader of all outputs cannot locate a sensitive find more closely than its level
//! allows.
//!
//! `TRUG_PRIVACY_CASES` sets the number of random histories (6 unless it says otherwise).

mod adversary;
mod world;
mod writing;

use proptest::prelude::*;
use world::World;

/// One action of a user; indices are modulo the number of items.
#[derive(Clone, Debug)]
enum Deed {
    /// A new outing with finds at places that were visited before or not.
    Outing {
        finds: Vec<(usize, usize)>,
    },
    /// The number of a find is corrected in its notebook, which is imported again.
    Renumber {
        find: usize,
    },
    /// A position is corrected by a few metres, and imported again.
    Move {
        find: usize,
    },
    /// The same notebook is imported again.
    Again {
        outing: usize,
    },
    /// Sites are recomputed with another radius: they are split or merged.
    Extent {
        metres: usize,
    },
    /// Two sites are declared one.
    Join {
        one: usize,
        other: usize,
    },
    /// A site gets a name.
    Name {
        site: usize,
    },
    Protect {
        what: usize,
        which: usize,
        level: usize,
    },
    Open {
        rule: usize,
    },
    Export {
        form: usize,
        exact: bool,
        ways: bool,
    },
    Deposit {
        exact: bool,
    },
    Page {
        exact: bool,
    },
}

fn deed() -> impl Strategy<Value = Deed> {
    let index = any::<usize>;
    prop_oneof![
        3 => proptest::collection::vec((index(), index()), 1..4).prop_map(|finds| Deed::Outing { finds }),
        2 => index().prop_map(|find| Deed::Renumber { find }),
        2 => index().prop_map(|find| Deed::Move { find }),
        1 => index().prop_map(|outing| Deed::Again { outing }),
        2 => index().prop_map(|metres| Deed::Extent { metres }),
        2 => (index(), index()).prop_map(|(one, other)| Deed::Join { one, other }),
        1 => index().prop_map(|site| Deed::Name { site }),
        4 => (index(), index(), index())
            .prop_map(|(what, which, level)| Deed::Protect { what, which, level }),
        1 => index().prop_map(|rule| Deed::Open { rule }),
        4 => (index(), any::<bool>(), any::<bool>())
            .prop_map(|(form, exact, ways)| Deed::Export { form, exact, ways }),
        1 => any::<bool>().prop_map(|exact| Deed::Deposit { exact }),
        1 => any::<bool>().prop_map(|exact| Deed::Page { exact }),
    ]
}

fn cases() -> u32 {
    std::env::var("TRUG_PRIVACY_CASES").ok().and_then(|text| text.parse().ok()).unwrap_or(6)
}

/// Runs a history, with an exact and a generalised export after each change, and passes the outputs
/// to the adversary.
fn live_through(latitude: f64, deeds: &[Deed]) {
    let mut world = World::new(latitude);
    world.outing(&[(0, 0), (1, 0), (2, 1)]);
    world.outing(&[(0, 1), (3, 2)]);
    for deed in deeds {
        match deed {
            Deed::Outing { finds } => world.outing(finds),
            Deed::Renumber { find } => world.renumber(*find),
            Deed::Move { find } => world.shift(*find),
            Deed::Again { outing } => world.again(*outing),
            Deed::Extent { metres } => world.extent([1, 3, 12, 40][metres % 4]),
            Deed::Join { one, other } => world.join(*one, *other),
            Deed::Name { site } => world.name(*site),
            Deed::Protect { what, which, level } => world.protect(*what, *which, *level),
            Deed::Open { rule } => world.open(*rule),
            Deed::Export { form, exact, ways } => world.export(*form, *exact, *ways),
            Deed::Deposit { exact } => world.deposit(*exact),
            Deed::Page { exact } => world.page(*exact),
        }
    }
    // every history ends with an output of each kind
    for form in 0..5 {
        world.export(form, true, true);
    }
    world.export(0, false, false);
    world.deposit(true);
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: cases(),
        max_shrink_iters: 24,
        ..ProptestConfig::default()
    })]

    #[test]
    fn no_output_and_no_two_outputs_locate_a_sensitive_find(
        latitude in prop_oneof![Just(-42.618_449), Just(0.000_49), Just(69.300_449), -80.0..80.0_f64],
        deeds in proptest::collection::vec(deed(), 4..12),
    ) {
        live_through(latitude, &deeds);
    }
}

/// Histories that once lost protection: a protected site is split, joined or absorbed; a protected
/// find is renumbered.
#[test]
fn histories_with_former_leaks() {
    let protect_site = Deed::Protect { what: 1, which: 0, level: 1 };
    let protect_find = Deed::Protect { what: 2, which: 0, level: 2 };
    let output = Deed::Export { form: 0, exact: true, ways: false };
    for deeds in [
        vec![Deed::Extent { metres: 3 }, protect_site.clone(), Deed::Extent { metres: 0 }],
        vec![protect_site.clone(), output.clone(), Deed::Join { one: 0, other: 1 }],
        vec![protect_site.clone(), Deed::Join { one: 1, other: 0 }, output.clone()],
        vec![Deed::Extent { metres: 0 }, protect_site, Deed::Extent { metres: 3 }, output.clone()],
        vec![protect_find.clone(), Deed::Renumber { find: 0 }, output.clone()],
        vec![protect_find, output, Deed::Move { find: 0 }, Deed::Renumber { find: 0 }],
    ] {
        live_through(-42.618_449, &deeds);
    }
}
