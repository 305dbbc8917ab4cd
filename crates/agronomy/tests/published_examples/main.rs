//! The published worked examples of plot arithmetic, and those computed for the handbook of plot arithmetic.
//!
//! "Published" names a source whose figures go in and come out; "computed" means worked out in double precision with
//! exact factors for the handbook, on made-up inputs. Where a published figure is wrong, the comment says so and the
//! right one is held.

mod fertiliser;
mod harvest;
mod money;
mod seed;
mod stand;
mod units;

/// Whether a value is the published one: printed to `decimals`, so at most half a step of the last digit away.
#[track_caller]
fn printed(value: f64, published: f64, decimals: i32) {
    let half_step = 0.5 * 10f64.powi(-decimals);
    assert!((value - published).abs() <= half_step * (1.0 + 1e-9), "{value} is not the published {published}");
}
