//! Drives the real program. Each module holds one kind of question.

mod util;

// What happens with input that is wrong: one clear message, exit code 2, nothing written.
mod bad_input;
// The rack over weeks: booking, undoing, adding, retiring.
mod booking;
// What an order costs, by material and quantity.
mod estimate;
// Cut files: tool paths, order, releases of DXF, files of operations.
mod cut_files;
// Drawings: what `check` tells of one, rules of a kit, drawings of several parts.
mod drawings;
// Pinned parts, areas kept clear, nests taken up again.
mod hand_work;
// Kits: complete early, from one lot, by priority.
mod kits;
// Papers in other languages and units.
mod languages;
// The main job on the demo data and on small orders of its own.
mod main_job;
// Traveller, check list, labels, lists.
mod papers;
// The rack day by day: holds, losses, deliveries, single and spoiled sheets, remnants for a part.
mod rack;
// What tests of the rack have in common.
mod rack_steps;
// What people see: colour, progress, errors, pictures, manual pages, completions, other languages.
mod screen;
// Whether the rack can be trusted: killed, shared, broken, on a full disk.
mod rack_trust;
