//! Computes the share of the kernel that lies on searched ground, by which sums per hectare are divided: on
//! evenly searched ground they are then level to its edge, whatever the bandwidth. Layer: `analyse`.
//!
//! # References
//! Diggle 1985, A kernel method for smoothing point process data, Applied Statistics 34:138. (From memory.)

use super::kernel::{Grid, Mass, WIDEST, sum};

/// The share for each cell, 1 where the kernel is narrower than the cells resolve.
pub(super) fn kernel_share(searched: &[bool], grid: &Grid, bandwidth: f64) -> Vec<f64> {
    if bandwidth.is_nan() || bandwidth < WIDEST * grid.cell {
        return vec![1.0; searched.len()];
    }
    let of = |(index, searched): (usize, &bool)| {
        searched.then(|| Mass {
            x: grid.x(index % grid.columns),
            y: grid.y(index / grid.columns),
            weight: grid.cell_area(),
        })
    };
    let masses: Vec<Mass> = searched.iter().enumerate().filter_map(of).collect();
    let shares = sum(&masses, grid, bandwidth).into_iter().zip(searched);
    shares.map(|(share, on)| if *on { share.clamp(LEAST, 1.0) } else { 1.0 }).collect()
}

/// The least share: of one cell in a kernel of a thousand cells across.
const LEAST: f64 = 1e-6;
