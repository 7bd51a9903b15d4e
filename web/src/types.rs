//! TypeScript's names for what crosses the border, made of the very types that serde writes and reads, so that neither can
//! change alone. The builder puts them beside the module's own (`build/wasm.rs`), and `npm run types` in `tests/page` holds
//! the page's scripts to them.

use crate::{jobs, machine, plan, view};
use std::collections::BTreeMap;
use trued::cut::{Figures, Material, figures};
use trued::machine::{Measured, Profile};
use trued::{Hint, Settings};
use ts_rs::{Config, TS, TypeVisitor};

/// What serde does not write but arrays of numbers that the page gets as they are.
const ARRAYS: &str = "\
/** A trace taken apart: x, y by turns; the number of each stroke's first point; seconds, NaN where a stroke has none. */
export interface Arrays { points: Float64Array; starts: Uint32Array; times: Float64Array; drawn: Edge[][] }
export interface Opened extends Arrays {
  kind: \"trace\" | \"job\" | \"hints\"; settings: Settings | null; hints: Hint[]; notes: Note[]; doubts: Doubt[]; inches: boolean;
  cut: Figures | null; scrap: Arrays | null;
}
export interface Retipped extends Arrays { notes: string[] }
";

/// All of them, with what they are made of.
#[must_use]
pub fn typescript() -> String {
    let mut all = Named {
        config: Config::new(),
        known: BTreeMap::new(),
    };
    all.visit::<view::Outcome<'static>>();
    all.visit::<Settings>();
    all.visit::<Hint>();
    all.visit::<Figures>();
    all.visit::<figures::Row>();
    all.visit::<plan::PlanView<'static>>();
    all.visit::<Material>();
    all.visit::<Measured>();
    all.visit::<Profile>();
    jobs::name(&mut all);
    machine::name(&mut all);
    let mut text =
        String::from("\n// Of the types that serde writes and reads: web/src/types.rs.\n");
    for declaration in all.known.values() {
        text.push_str("export ");
        text.push_str(declaration);
        text.push('\n');
    }
    text + ARRAYS
}

/// Declarations by their names.
pub struct Named {
    config: Config,
    known: BTreeMap<String, String>,
}

impl TypeVisitor for Named {
    fn visit<T: TS + 'static + ?Sized>(&mut self) {
        // What has no name of its own (numbers, lists) is made of others.
        if T::output_path().is_some() {
            let name = T::ident(&self.config);
            if self.known.contains_key(&name) {
                return;
            }
            self.known.insert(name, T::decl(&self.config));
        }
        T::visit_dependencies(self);
        T::visit_generics(self);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_crosses_has_a_name_and_the_names_are_those_of_serde() {
        let text = typescript();
        for declared in [
            "export type Place = [number, number];",
            "export type Role = \"part\" | \"hole\" | \"open\";",
            "base_angle_deg: number",
            "export type Edge =",
            "export type CouponSays =",
            "plus_minus: number",
        ] {
            assert!(text.contains(declared), "{declared} is not in:\n{text}");
        }
    }
}
