//! What is said of an element: by attributes, by rules of a style sheet, by its own `style`.
//!
//! Later wins over earlier, an id over a class over a type, and `!important` over all (CSS Cascade). Of
//! selectors those of types, classes, ids, attributes and their combinations are known; rules for media and
//! the like are passed over. Only the properties that say where something is and whether it shows are kept.

use roxmltree::Node;
use simplecss::{
    AttributeOperator, Declaration, DeclarationTokenizer, Element, PseudoClass, Selector,
};
use std::cell::Cell;

/// The properties that are kept, by name; [`Style::get`] takes one.
const KEPT: [&str; 34] = [
    "clip-path",
    "cx",
    "cy",
    "d",
    "display",
    "fill",
    "fill-opacity",
    "fill-rule",
    "font-size",
    "height",
    "marker",
    "marker-end",
    "marker-mid",
    "marker-start",
    "mask",
    "opacity",
    "r",
    "rx",
    "rotate",
    "ry",
    "scale",
    "stroke",
    "stroke-dasharray",
    "stroke-opacity",
    "stroke-width",
    "transform",
    "transform-box",
    "transform-origin",
    "translate",
    "visibility",
    "width",
    "x",
    "y",
    "overflow",
];

/// Deepest nesting of blocks in a style sheet that is looked into.
const DEEPEST: usize = 8;
/// How often a rule may look at an element, over the whole file.
const MOST_LOOKS: usize = 100_000_000;

/// The value of each kept property, where it is said.
#[derive(Clone, Copy)]
pub(super) struct Style<'a>([Option<&'a str>; KEPT.len()]);

impl<'a> Style<'a> {
    /// What is said of a property.
    pub(super) fn get(&self, name: &str) -> Option<&'a str> {
        let i = KEPT.iter().position(|k| *k == name)?;
        self.0.get(i).copied().flatten().map(str::trim)
    }

    fn set(&mut self, name: &str, value: &'a str) {
        let place = KEPT.iter().position(|k| k.eq_ignore_ascii_case(name));
        if let Some(slot) = place.and_then(|i| self.0.get_mut(i)) {
            *slot = Some(value);
        }
    }
}

struct Rule<'a> {
    selector: Selector<'a>,
    declarations: Vec<Declaration<'a>>,
}

/// All rules of a file.
pub(super) struct Sheet<'a> {
    rules: Vec<Rule<'a>>,
    /// Rules that may say where something is or whether it shows, and are not understood.
    pub(super) unread: usize,
    looks: Cell<usize>,
}

impl<'a> Sheet<'a> {
    /// The rules of these texts, whose comments are gone.
    pub(super) fn of(texts: &'a [String]) -> Self {
        let mut unread = 0;
        let rules = texts.iter().flat_map(|t| rules_of(t, 0, &mut unread));
        let mut rules: Vec<Rule<'a>> = rules.collect();
        // Stable: of equally specific rules the later one wins.
        rules.sort_by_key(|r| r.selector.specificity());
        Self {
            rules,
            unread,
            looks: Cell::new(0),
        }
    }

    /// The rules were looked at more often than any real drawing asks for.
    pub(super) fn is_exhausted(&self) -> bool {
        self.looks.get() > MOST_LOOKS
    }

    /// All that is said of an element.
    pub(super) fn of_element<'input>(&self, node: &Node<'a, 'input>) -> Style<'a>
    where
        'input: 'a,
    {
        let mut style = Style([None; KEPT.len()]);
        for attribute in node.attributes().filter(|a| a.namespace().is_none()) {
            style.set(attribute.name(), attribute.value());
        }
        let own: Vec<Declaration<'a>> = match node.attribute("style") {
            Some(text) => DeclarationTokenizer::from(text).collect(),
            None => Vec::new(),
        };
        let element = Seen {
            node: *node,
            looks: &self.looks,
        };
        let matching: Vec<&Rule<'a>> = self
            .rules
            .iter()
            .filter(|r| !self.is_exhausted() && element.look() && r.selector.matches(&element))
            .collect();
        let by_rules = || matching.iter().flat_map(|r| &r.declarations);
        for important in [false, true] {
            for d in by_rules().chain(&own).filter(|d| d.important == important) {
                style.set(d.name, d.value);
            }
        }
        style
    }
}

/// The rules of a style sheet. What begins with @ is passed over; what of it may matter on a plate is counted, and so
/// are selectors that are not known.
fn rules_of<'a>(text: &'a str, depth: usize, unread: &mut usize) -> Vec<Rule<'a>> {
    let mut rules = Vec::new();
    if depth > DEEPEST {
        *unread += 1;
        return rules;
    }
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        // Statements without a block end in a semicolon.
        let prelude = before.rsplit(';').next().unwrap_or(before).trim();
        *unread += before.matches("@import").count();
        let (body, after) = block(after);
        rest = after;
        if let Some(at) = prelude.strip_prefix('@') {
            let matters = ["media", "supports", "layer"]
                .iter()
                .any(|w| at.starts_with(w));
            if matters && !at.starts_with("media print") && body.contains('{') {
                let mut within = 0;
                let rules = rules_of(body, depth + 1, &mut within).len() + within;
                *unread += rules;
            }
            continue;
        }
        let kept = |d: &Declaration<'_>| KEPT.iter().any(|k| k.eq_ignore_ascii_case(d.name));
        let declarations: Vec<Declaration<'_>> =
            DeclarationTokenizer::from(body).filter(kept).collect();
        if declarations.is_empty() {
            continue;
        }
        for selector in prelude.split(',') {
            match Selector::parse(selector.trim()) {
                Some(selector) => rules.push(Rule {
                    selector,
                    declarations: declarations.clone(),
                }),
                None => *unread += 1,
            }
        }
    }
    rules
}

/// The text up to the brace that closes a block, and what follows it.
fn block(text: &str) -> (&str, &str) {
    let mut depth = 1_usize;
    for (i, b) in text.bytes().enumerate() {
        match b {
            b'{' => depth += 1,
            b'}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            let (body, rest) = text.split_at(i);
            return (body, rest.get(1..).unwrap_or_default());
        }
    }
    (text, "")
}

/// A style sheet without its comments.
pub(super) fn without_comments(text: &str) -> String {
    let mut left = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("/*") {
        left.push_str(before);
        left.push(' ');
        rest = after.split_once("*/").map_or("", |(_, after)| after);
    }
    left.push_str(rest);
    // What hides a sheet from readers of old.
    left.replace("<!--", " ").replace("-->", " ")
}

/// An element as rules look at it, each look counted.
struct Seen<'a, 'input, 'l> {
    node: Node<'a, 'input>,
    looks: &'l Cell<usize>,
}

impl Seen<'_, '_, '_> {
    fn look(&self) -> bool {
        self.looks.set(self.looks.get() + 1);
        self.looks.get() <= MOST_LOOKS
    }
}

impl Element for Seen<'_, '_, '_> {
    fn parent_element(&self) -> Option<Self> {
        let node = self.node.parent_element().filter(|_| self.look())?;
        Some(Self { node, ..*self })
    }

    fn prev_sibling_element(&self) -> Option<Self> {
        let node = self.node.prev_sibling_element().filter(|_| self.look())?;
        Some(Self { node, ..*self })
    }

    fn has_local_name(&self, name: &str) -> bool {
        self.node.tag_name().name() == name
    }

    fn attribute_matches(&self, local_name: &str, operator: AttributeOperator<'_>) -> bool {
        self.node
            .attribute(local_name)
            .is_some_and(|value| operator.matches(value))
    }

    fn pseudo_class_matches(&self, class: PseudoClass<'_>) -> bool {
        class == PseudoClass::FirstChild && self.node.prev_sibling_element().is_none()
    }
}
