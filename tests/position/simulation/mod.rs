//! Simulates days. The walker, the receiver and the photographer follow other distributions than the
//! estimator assumes: several correlated errors at once whose size and memory change with the canopy, heavy
//! tails, devices that smooth, bursts; headings that bend; photographs while walking.

pub(crate) mod condition;
pub(crate) mod day;
pub(crate) mod random;
pub(crate) mod receiver;
pub(crate) mod score;
pub(crate) mod walker;
