//! The jobs around the cut, each one function from plain values to plain values.
//!
//! - [`mod@blanks`]: as many true blanks as a scrap gives;
//! - [`mod@coupon`]: a test piece for a new sheet, and what calipers on it say;
//! - [`mod@opening`]: an opening with its holes from touched marks;
//! - [`touches`]: touches of known points as rows, for [`crate::machine::calibrate()`].
//!
//! What pattern marks were meant to form is told by [`mod@crate::fit::pattern`].

pub mod blanks;
pub mod coupon;
pub mod opening;
#[cfg(feature = "formats")]
pub mod touches;

pub use crate::fit::pattern::{Pattern, PatternKind, PatternSettings, pattern};
pub use blanks::{Blanks, BlanksSettings, Missing, blanks};
pub use coupon::{Coupon, CouponMeasured, CouponSays, CouponSettings, coupon};
pub use opening::{Opening, OpeningSettings, OpeningShape, Place, opening};
