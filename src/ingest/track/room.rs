//! Limits how many points of a file are kept, in proportion to its length, so that a file of minimal points
//! cannot take many times its length in memory. Layer: `ingest`.

/// Points that any file may hold: more than four days at one a second.
const POINTS: u64 = 370_000;
/// Beyond them, one for so many bytes of the file: a point with time and height takes about 120 bytes, and up to
/// 400 bytes of memory until its outing is stored.
const BYTES_OF_A_POINT: u64 = 200;
/// The same for points with a name of their own, which take up to a kilobyte.
const NAMED: u64 = 100_000;
const BYTES_OF_A_NAMED_POINT: u64 = 500;
/// Tracks and routes that any file may hold.
const LINES: usize = 100_000;

/// The points of a file so far.
#[derive(Debug, Default)]
pub(super) struct Room {
    points: u64,
    named: u64,
}

impl Room {
    /// Whether another point of a line is kept, after so many bytes of the file.
    pub(super) fn takes_point(&mut self, read: u64) -> bool {
        let takes = self.points < POINTS + read / BYTES_OF_A_POINT;
        self.points += u64::from(takes);
        takes
    }

    /// The most points that a file of so many bytes can have.
    pub(super) fn most(bytes: u64) -> u64 {
        POINTS + bytes / BYTES_OF_A_POINT
    }

    /// The same for a waypoint.
    pub(super) fn takes_named(&mut self, read: u64) -> bool {
        let takes = self.named < NAMED + read / BYTES_OF_A_NAMED_POINT;
        self.named += u64::from(takes);
        takes
    }

    /// Whether empty lines may be kept beside so many others.
    pub(super) fn takes_lines(lines: usize) -> bool {
        lines < LINES
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_limited_in_proportion_to_the_file() {
        let mut room = Room::default();
        let taken = (0..1_000_000_u64).filter(|point| room.takes_point(point * 30)).count();
        // n points of 30 bytes: 370,000 and one for each 200 bytes of 30 MB
        assert!((470_000..=550_000).contains(&taken), "{taken}");
        let mut room = Room::default();
        assert!((0..3_000_000_u64).all(|point| room.takes_point(point * 210)));
    }
}
