//! The collectors, fruiting sites and taxa of the sample days. People, society, reserve and places
//! are invented. The names of fungi and trees are real; names and authorities are written from
//! memory.

use crate::ground::PlanePoint;

/// A person of the Nettlewick Fungus Circle.
#[derive(Clone, Copy)]
pub(crate) struct Collector {
    pub(crate) name: &'static str,
    /// What their numbers begin with.
    pub(crate) series: &'static str,
}

pub(crate) const ADA: Collector = Collector { name: "Ada Quillfeather", series: "AQ-" };
pub(crate) const NOEL: Collector = Collector { name: "Noël Brambletoft-Peña", series: "NBP " };
pub(crate) const TOVE: Collector = Collector { name: "Tove Hartsfallow", series: "TH-" };
pub(crate) const IREN: Collector = Collector { name: "Iren Marrowby", series: "IM" };

/// A place where one taxon fruits every year.
pub(crate) struct Site {
    pub(crate) spot: PlanePoint,
    pub(crate) place: &'static str,
    pub(crate) kind: &'static Kind,
    pub(crate) host: &'static str,
    pub(crate) substrate: &'static str,
    /// Where in the season it peaks, day of the year.
    pub(crate) peak: f64,
}

/// A taxon, with its name and the shape for its drawing.
pub(crate) struct Kind {
    pub(crate) name: &'static str,
    pub(crate) colour: &'static str,
    pub(crate) smell: &'static str,
    pub(crate) print: &'static str,
    pub(crate) shape: Shape,
    /// Cap colour, red, green, blue.
    pub(crate) cap: [u8; 3],
}

#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Shape {
    /// Cap on a stem.
    Cap,
    /// Brackets one above the other.
    Bracket,
    /// Branched from below.
    Coral,
    /// Cups or cushions.
    Cup,
}

macro_rules! kinds {
    ($($id:ident: $name:literal, $colour:literal, $smell:literal, $print:literal, $shape:ident, $cap:expr;)*) => {
        $(pub(crate) static $id: Kind = Kind {
            name: $name, colour: $colour, smell: $smell, print: $print,
            shape: Shape::$shape, cap: $cap,
        };)*
    };
}

kinds! {
    INTERRUPTA: "Mycena interrupta (Berk.) Sacc.", "cap clear blue, disc at the foot", "", "white", Cap, [64, 150, 205];
    ARCHERI: "Cortinarius archeri Berk.", "cap violet, glutinous", "faint, sweetish", "rust brown", Cap, [112, 78, 150];
    ROTUNDISPORUS: "Cortinarius rotundisporus Cleland & Cheel", "cap steel blue, centre yellow", "", "rust brown", Cap, [92, 118, 140];
    SPLENDIDA: "Dermocybe splendida E. Horak", "cap and stem scarlet", "", "rust brown", Cap, [196, 52, 34];
    NIDIFORMIS: "Omphalotus nidiformis (Berk.) O.K. Mill.", "cream with grey, glows pale green in the dark", "", "white", Bracket, [222, 212, 186];
    NOVAE: "Armillaria novae-zelandiae (G. Stev.) Boesew.", "cap olive to tawny, sticky", "", "white", Cap, [150, 128, 62];
    HYPNORUM: "Galerina hypnorum (Schrank) Kühner", "cap honey, striate", "of meal", "ochre brown", Cap, [190, 138, 62];
    GRAMINICOLOR: "Gliophorus graminicolor E. Horak", "grass green, slippery all over", "", "white", Cap, [96, 142, 66];
    PERSANGUINEA: "Russula persanguinea Cleland", "cap blood red, stem white", "", "white", Cap, [176, 30, 44];
    EUCALYPTI: "Lactarius eucalypti O.K. Mill. & R.N. Hilton", "cap orange brown; white milk, unchanging", "of curry when dry", "cream", Cap, [182, 104, 54];
    LORITHAMNUS: "Ramaria lorithamnus (Berk.) R.H. Petersen", "clear yellow, tips paler", "", "ochre", Coral, [226, 186, 70];
    SULCATA: "Clavulinopsis sulcata Overeem", "salmon pink clubs", "", "white", Coral, [226, 130, 110];
    PUSIO: "Podoserpula pusio (Berk.) D.A. Reid", "tiers, buff above, rosy below", "", "white", Bracket, [218, 176, 146];
    CORALLOIDES: "Hericium coralloides (Scop.) Pers.", "white, hanging spines", "", "white", Coral, [236, 232, 222];
    VERSICOLOR: "Trametes versicolor (L.) Lloyd", "zoned grey, brown and blue", "", "white", Bracket, [136, 122, 108];
    GELATINOSUM: "Pseudohydnum gelatinosum (Scop.) P. Karst.", "translucent grey, toothed below", "", "white", Cup, [186, 192, 196];
    LUBRICA: "Leotia lubrica (Scop.) Pers.", "olive yellow, gelatinous", "", "", Cup, [168, 158, 62];
    SARCOIDES: "Ascocoryne sarcoides (Jacq.) J.W. Groves & D.E. Wilson", "purple pink cushions", "", "", Cup, [158, 86, 124];
    PERLATUM: "Lycoperdon perlatum Pers.", "white, cone-shaped warts", "", "olive brown", Cup, [226, 220, 206];
}

const MYRTLE: &str = "Nothofagus cunninghamii";
const SASSAFRAS: &str = "Atherosperma moschatum";
const GIANT: &str = "Eucalyptus regnans";
const GUM: &str = "Eucalyptus delegatensis";
const FERN: &str = "Dicksonia antarctica";
const WATTLE: &str = "Acacia dealbata";

const fn site(
    east: f64,
    north: f64,
    place: &'static str,
    kind: &'static Kind,
    host: &'static str,
    substrate: &'static str,
    peak: f64,
) -> Site {
    Site { spot: PlanePoint::new(east, north), place, kind, host, substrate, peak }
}

/// Every place that fruits, in the order of its number on the plans below.
pub(crate) static SITES: [Site; 28] = [
    site(96.0, 64.0, "Lantern Flat", &HYPNORUM, "", "moss on a fallen trunk", 128.0),
    site(168.0, 118.0, "Lantern Flat", &INTERRUPTA, MYRTLE, "dead wood, well rotted", 140.0),
    site(231.0, 187.0, "Wren Gully", &GELATINOSUM, "", "dead wood, well rotted", 146.0),
    site(305.0, 214.0, "Wren Gully", &LUBRICA, MYRTLE, "soil among moss", 132.0),
    site(372.0, 176.0, "Wren Gully", &INTERRUPTA, SASSAFRAS, "dead wood, bark on", 142.0),
    site(428.0, 241.0, "Wren Gully", &GRAMINICOLOR, FERN, "soil", 126.0),
    site(497.0, 203.0, "Wren Gully", &SARCOIDES, MYRTLE, "dead wood, bark off", 150.0),
    site(548.0, 268.0, "Moss Terrace", &ARCHERI, MYRTLE, "soil and litter", 122.0),
    site(611.0, 316.0, "Moss Terrace", &ROTUNDISPORUS, GUM, "litter", 118.0),
    site(566.0, 352.0, "Moss Terrace", &SPLENDIDA, MYRTLE, "soil among moss", 130.0),
    site(640.0, 402.0, "Moss Terrace", &SULCATA, FERN, "soil", 124.0),
    site(702.0, 381.0, "Thimble Spur", &PERSANGUINEA, GUM, "litter", 112.0),
    site(771.0, 438.0, "Thimble Spur", &EUCALYPTI, GUM, "litter", 120.0),
    site(838.0, 402.0, "Thimble Spur", &LORITHAMNUS, GUM, "soil and litter", 125.0),
    site(884.0, 338.0, "Thimble Spur", &PERLATUM, "", "litter", 110.0),
    site(905.0, 259.0, "Saddle", &PUSIO, GIANT, "dead wood, bark off", 138.0),
    site(852.0, 190.0, "Saddle", &NOVAE, GIANT, "stump", 144.0),
    site(778.0, 148.0, "Old Tramway", &VERSICOLOR, WATTLE, "dead wood, bark on", 135.0),
    site(690.0, 112.0, "Old Tramway", &NIDIFORMIS, GIANT, "living trunk, at the foot", 132.0),
    site(604.0, 74.0, "Old Tramway", &NIDIFORMIS, WATTLE, "dead wood, bark on", 136.0),
    site(516.0, 42.0, "Old Tramway", &NOVAE, GIANT, "dead wood, bark on", 146.0),
    site(430.0, 58.0, "Old Tramway", &CORALLOIDES, MYRTLE, "dead wood, bark off", 140.0),
    site(352.0, 24.0, "Old Tramway", &PERSANGUINEA, GUM, "litter", 114.0),
    site(268.0, 51.0, "Lantern Flat", &ARCHERI, GUM, "soil and litter", 121.0),
    site(190.0, 12.0, "Lantern Flat", &HYPNORUM, "", "moss on a fallen trunk", 130.0),
    site(118.0, -38.0, "Lantern Flat", &SARCOIDES, WATTLE, "dead wood, bark off", 148.0),
    site(463.0, 318.0, "Moss Terrace", &SPLENDIDA, MYRTLE, "soil among moss", 131.0),
    site(726.0, 488.0, "Thimble Spur", &ROTUNDISPORUS, GUM, "litter", 117.0),
];
