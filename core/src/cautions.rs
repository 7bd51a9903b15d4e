//! What must be said wherever a cut file or a setting leaves the tool.

/// The cautions, one sentence each. Written into every cut file, sheet and document.
pub const CAUTIONS: [&str; 11] = [
    "Fumes: cut only with extraction or strong ventilation and a fitting respirator; never cut galvanized, plated, painted or coated steel without removing the coating and the fumes.",
    "Arc light and sparks: shade-rated eye protection, hearing protection, gloves and covered skin for everyone in sight.",
    "Fire: clear what burns, keep an extinguisher at hand, never leave the cut unattended and watch the place for a while afterwards.",
    "Hot metal: cut pieces and slugs stay hot enough to burn long after the arc is out.",
    "Shock: clamp the earth to the work, keep cables and hands dry, switch off before touching the torch.",
    "Never cut a closed vessel, drum, tank or pipe: it can burst.",
    "Keep hands clear: the machine can move at any moment while it is switched on.",
    "Never defeat the torch's safety switch or any guard.",
    "Make a dry run with the torch off first and check that the path stays on the stock.",
    "Feed, kerf and pierce delay come from the cutter's own book, not from this file.",
    "Local codes and licensed practice come before anything said here.",
];

/// The one line the program prints.
pub const CAUTION_LINE: &str = "Cautions: fumes and coated steel, arc light, fire, hot metal, shock, closed vessels, moving machine; dry run first; local codes and licensed practice come first.";
