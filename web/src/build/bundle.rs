//! Joins the page's modules into one script.
//!
//! The modules keep to a small part of the language's module syntax, which is all this reads:
//! `import { a, b as c } from "./x.js";`, `import * as x from "./x.js";`,
//! `import x from "./x.js";`, and `export` before a `function`, `async function`, `class`,
//! `const`, or a list `export { a, b as default };`. No circles, no top-level `await`, and no
//! exported name is assigned to after its module has run. Each module becomes a function called
//! once, in order of need, that returns what it exports. Anything else is refused with its line.
//! Comments stay behind: they are a fifth of what the scripts weigh.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The script that running the module `entry` amounts to.
pub fn bundle(entry: &Path) -> Result<String, String> {
    let mut joined = Joined::default();
    joined.add(entry, 0)?;
    Ok(format!("\"use strict\";\n{}", joined.script))
}

#[derive(Default)]
struct Joined {
    script: String,
    /// The variable that holds each module's exports; `None` while it is being read.
    names: BTreeMap<PathBuf, Option<String>>,
}

impl Joined {
    fn add(&mut self, file: &Path, depth: usize) -> Result<String, String> {
        let key = file
            .canonicalize()
            .map_err(|e| format!("{}: {e}", file.display()))?;
        match self.names.get(&key) {
            Some(Some(name)) => return Ok(name.clone()),
            Some(None) => return Err(format!("{}: modules in a circle", file.display())),
            None if depth > 64 => return Err(format!("{}: nested too deep", file.display())),
            None => {}
        }
        self.names.insert(key.clone(), None);
        let name = format!("m{}", self.names.len());
        let text = bare(&super::read(file)?);
        let mut body = String::new();
        let mut exports = Vec::new();
        for statement in statements(&text) {
            let done = if statement.starts_with("import ") {
                self.import(file, statement, depth)?
            } else if let Some(rest) = statement.strip_prefix("export ") {
                export(rest, &mut exports)
                    .ok_or_else(|| format!("{}: not joined: {statement}", file.display()))?
            } else {
                statement.to_owned()
            };
            body.push_str(&done);
            body.push('\n');
        }
        let list = exports.join(", ");
        self.script.push_str(&format!(
            "const {name} = (() => {{\n{body}return {{ {list} }};\n}})();\n"
        ));
        self.names.insert(key, Some(name.clone()));
        Ok(name)
    }

    fn import(&mut self, file: &Path, statement: &str, depth: usize) -> Result<String, String> {
        let refused = || format!("{}: not joined: {statement}", file.display());
        let (what, from) = statement
            .trim_start_matches("import ")
            .trim_end_matches(';')
            .rsplit_once(" from ")
            .ok_or_else(refused)?;
        let from = from.trim().trim_matches(['"', '\'']);
        let folder = file.parent().unwrap_or(Path::new("."));
        let name = self.add(&folder.join(from), depth + 1)?;
        let what = what.trim();
        if let Some(all) = what.strip_prefix("* as ") {
            return Ok(format!("const {all} = {name};"));
        }
        if what.starts_with('{') {
            return Ok(format!("const {} = {name};", what.replace(" as ", ": ")));
        }
        Ok(format!("const {what} = {name}.default;"))
    }
}

/// A script without the lines that are empty or comments from end to end. No text in it may run over
/// several lines.
pub fn bare(script: &str) -> String {
    let mut within = false;
    let mut out = String::with_capacity(script.len());
    for line in script.lines() {
        let words = line.trim();
        let ends = words.find("*/").map(|at| at + 2);
        let opens = words.starts_with("/*") && ends.is_none_or(|end| end == words.len());
        if !(within || opens || words.starts_with("//") || words.is_empty()) {
            out.push_str(line);
            out.push('\n');
        }
        within = (within || opens) && ends.is_none();
    }
    out
}

/// The lines of a module, an import or an export list that spans several made one.
fn statements(text: &str) -> Vec<&str> {
    let mut out = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let listed = rest.starts_with("import {") || rest.starts_with("export {");
        let end = if listed {
            rest.find(";\n").map_or(rest.len(), |i| i + 2)
        } else {
            rest.find('\n').map_or(rest.len(), |i| i + 1)
        };
        let (line, next) = rest.split_at(end);
        out.push(line.trim_end());
        rest = next;
    }
    out
}

/// The declaration without its `export`, with the names it exports noted.
fn export(rest: &str, exports: &mut Vec<String>) -> Option<String> {
    if let Some(list) = rest.strip_prefix('{') {
        for item in list.trim_end_matches([';', '}', ' ']).split(',') {
            match item.trim().split_once(" as ") {
                Some((inner, outer)) => exports.push(format!("{outer}: {inner}")),
                None if item.trim().is_empty() => {}
                None => exports.push(item.trim().to_owned()),
            }
        }
        return Some(String::new());
    }
    let kinds = ["async function ", "function ", "class ", "const "];
    let after = kinds.iter().find_map(|k| rest.strip_prefix(k))?;
    let end = after.find(|c: char| !(c.is_alphanumeric() || c == '_' || c == '$'))?;
    exports.push(after.get(..end)?.to_owned());
    Some(rest.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn statements_join_lists_and_keep_lines() {
        let text = "import {\n  a,\n  b,\n} from \"./x.js\";\nconst c = 1;\nexport { c };\n";
        let got = statements(text);
        assert_eq!(
            got,
            [
                "import {\n  a,\n  b,\n} from \"./x.js\";",
                "const c = 1;",
                "export { c };"
            ]
        );
    }

    #[test]
    fn comments_stay_behind_and_code_beside_them_does_not() {
        let script = "// a\n/** b */\n\n/**\n * c\n */\n/** d */ x: null,\ny(); // e\n";
        assert_eq!(bare(script), "/** d */ x: null,\ny(); // e\n");
    }

    /// The modules of a folder and of those in it.
    fn copied(from: &Path, to: &Path) {
        std::fs::create_dir_all(to).expect("a folder");
        for entry in std::fs::read_dir(from).expect("a folder").flatten() {
            let (path, there) = (entry.path(), to.join(entry.file_name()));
            if path.is_dir() && !path.ends_with("pkg") {
                copied(&path, &there);
            } else if path.extension().is_some_and(|e| e == "js") {
                std::fs::copy(&path, &there).expect("a copy");
            }
        }
    }

    #[test]
    fn the_page_itself_joins_and_every_module_has_a_name_of_its_own() {
        // With what the build makes, whether or not it was built here.
        let folder = std::env::temp_dir().join(format!("trued-bundle-{}", std::process::id()));
        let www = Path::new(env!("CARGO_MANIFEST_DIR")).join("../www");
        copied(&www, &folder);
        let forms = super::super::forms().expect("the forms");
        std::fs::create_dir_all(folder.join("pkg")).expect("a folder");
        std::fs::write(folder.join("pkg/forms.js"), forms).expect("written");
        let mut joined = Joined::default();
        let page = joined.add(&folder.join("tag.js"), 0);
        std::fs::remove_dir_all(&folder).expect("swept");
        page.expect("the page's own modules join");
        let names: std::collections::BTreeSet<_> = joined.names.values().flatten().collect();
        assert!(names.len() > 3);
        assert_eq!(names.len(), joined.names.len());
    }

    #[test]
    fn exports_are_named() {
        let mut names = Vec::new();
        assert_eq!(
            export("function f(a) {", &mut names).as_deref(),
            Some("function f(a) {")
        );
        assert_eq!(
            export("{ a, b as default };", &mut names).as_deref(),
            Some("")
        );
        assert_eq!(names, ["f", "a", "default: b"]);
        assert_eq!(export("let x = 1;", &mut names), None);
    }
}
