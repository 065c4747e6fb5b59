//! Writes what the data say about areas that nobody searched. Layer: `present`.

use std::fmt;

use crate::model::UnsearchedNote;
use crate::present::summary::words::counted;
use crate::units::Metres;

fn range(from: Metres, to: Metres) -> String {
    format!("{:.0} to {:.0} m", from.0, to.0)
}

impl fmt::Display for UnsearchedNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::UnsearchedOffered => f.write_str("elevation predicts finds in these data"),
            Self::UnsearchedNoTiles => f.write_str(
                "no unsearched area can be recommended: the store keeps no elevation tile with heights of the searched \
                 ground; add one with `trug import ... --elevation FILE`",
            ),
            Self::UnsearchedFewOutings { with_find, least } => write!(
                f,
                "no unsearched area can be recommended: whether elevation predicts finds cannot be determined from {} \
                 with a find at elevations that enough outings searched; it needs {least}",
                counted(with_find, "outing", "outings")
            ),
            Self::UnsearchedLittleGround { squares, with_find, least, least_with_find } => write!(
                f,
                "no unsearched area can be recommended: whether elevation predicts finds elsewhere cannot be determined \
                 from {} of 500 m, {with_find} of them with a find; it needs {least}, {least_with_find} with a find",
                counted(squares, "searched square", "searched squares")
            ),
            Self::UnsearchedLevel { from, to, least } => write!(
                f,
                "no unsearched area can be recommended: whether elevation predicts finds cannot be determined, since \
                 only {} was searched by enough outings; it needs a range of {:.0} m",
                range(from, to),
                least.0
            ),
            Self::UnsearchedConfounded { finds, of, outings, least, from, to } => write!(
                f,
                "no unsearched area can be recommended: whether elevation predicts finds cannot be determined, since \
                 {finds} of {of} finds are from elevations outside of {}, where fewer than {least} outings searched ({} \
                 in all): they may be due to these outings",
                range(from, to),
                outings
            ),
            Self::UnsearchedNotPredictive { outings_better, ground_better } => {
                let why = match (outings_better, ground_better) {
                    (true, false) => "with it, searched ground that is left out is not clearly predicted better",
                    (false, true) => "with it, outings that are left out are not clearly predicted better",
                    _ => "with it, neither outings nor searched ground that are left out are clearly predicted better",
                };
                write!(
                    f,
                    "elevation does not predict finds in these data: no unsearched area can be recommended, because {why} \
                     than by the season alone"
                )
            }
            Self::UnsearchedNoneRicher { from, to } => write!(
                f,
                "no unsearched area can be recommended: no elevation from {} has a rate whose interval is above that of \
                 the searched ground",
                range(from, to)
            ),
            Self::UnsearchedNoArea { richer, searched, far_from_paths, unsuitable } => write!(
                f,
                "no unsearched area can be recommended: {} within reach at an elevation with more finds; {searched} \
                 searched or beside searched ground, {far_from_paths} far from known paths, {unsuitable} steep or on water",
                match richer {
                    0 => "there is no area".to_owned(),
                    1 => "there is 1 area".to_owned(),
                    many => format!("there are {many} areas"),
                }
            ),
        }
    }
}
