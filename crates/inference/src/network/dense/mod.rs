//! Dense kernels over columns: products, Cholesky factors and inverses of blocks of some tens to some thousands.
//!
//! A block lies column by column in a slice, `stride` numbers from one column to the next; of symmetric blocks the lower triangle
//! is used. No sum is reordered by the width of the processor's registers and nothing is fused, so that a machine with wider ones
//! gives the same digits.

mod cholesky;
mod inverse;
mod product;

pub(super) use cholesky::factor_columns;
pub(super) use inverse::{inverse_of_factored, lower_inverse};
pub(super) use product::{Block, Kernel};
