//! The `costing` section of the shop file: what an estimate works out money and time with. Everything may be
//! left out; what is left out is taken from placeholders and named as one.

use serde::Deserialize;
use std::collections::BTreeMap;

/// What the shop has set. Keys name their unit, whatever the unit of lengths in the file.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Costing {
    /// Decimals of the currency, 0 to 4.
    pub decimals: Option<u32>,
    /// Share of the price that is not cost, 0 to below 1.
    pub margin: Option<f64>,
    /// Learning rate of bench work by the cumulative average (Wright): 0.9 makes the average of twice as
    /// many kits 90 %. 1 is none.
    pub learning: Option<f64>,
    /// Most that one person lifts, in kg, before two are counted for a piece.
    pub one_person_kg: Option<f64>,
    /// Boxes, foam and tape for one kit.
    pub packing_per_kit: Option<f64>,
    /// Minutes to pack one kit, whatever is in it.
    pub packing_minutes_per_kit: Option<f64>,
    /// Minutes to pack each part.
    pub packing_minutes_per_part: Option<f64>,
    /// By machine name.
    pub machines: BTreeMap<String, MachineCosting>,
    /// By material name.
    pub materials: BTreeMap<String, MaterialCosting>,
    /// How sheets are bought, by sheet identity.
    pub buying: BTreeMap<String, Buying>,
}

/// What a machine costs and how long it takes round the cutting.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MachineCosting {
    /// The machine alone, without its operator.
    pub per_hour: Option<f64>,
    /// Minutes to set it up for a material.
    pub set_up_minutes: Option<f64>,
    /// Minutes to load and unload one sheet, remnant or blank.
    pub load_minutes: Option<f64>,
    /// Minutes to load and unload one part that is finished on it.
    pub part_minutes: Option<f64>,
    /// Share of its running time that an operator stands by, 0 to 1.
    pub attended: Option<f64>,
}

/// What a material asks for.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MaterialCosting {
    /// Thickness of each metal skin of a composite, in mm; from its mass when not given.
    pub skin_mm: Option<f64>,
    /// Modulus of elasticity in GPa; by the substance when not given.
    pub modulus_gpa: Option<f64>,
    /// Protective film on the finished parts.
    pub film_per_m2: Option<f64>,
    /// How it is cut, by machine name.
    pub cutting: BTreeMap<String, Cutting>,
}

/// How a material is cut on a machine. Either `cut_mm_per_min`, or `rpm`, `flutes` and `chip_load_mm`.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Cutting {
    /// Speed along the cut.
    pub cut_mm_per_min: Option<f64>,
    /// Turns of the spindle a minute.
    pub rpm: Option<f64>,
    /// Cutting edges of the tool.
    pub flutes: Option<f64>,
    /// What each edge takes off in one turn.
    pub chip_load_mm: Option<f64>,
    /// Times round until it is through.
    pub passes: Option<f64>,
    /// Seconds to go to the start of each cut and through the material (router, laser), or to set the fence
    /// and turn the piece (saw).
    pub start_seconds: Option<f64>,
    /// Tools, blades, nozzles, gas: by length of cut.
    pub tool_per_m: Option<f64>,
    /// Minutes of bench work on each metre of edge, both faces.
    pub edge_minutes_per_m: Option<f64>,
}

/// How sheets of a size are bought.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Buying {
    /// Fewest that are sold at a time.
    #[serde(default = "one")]
    pub least: u32,
    /// Sold in multiples of this.
    #[serde(default = "one")]
    pub multiple: u32,
}

fn one() -> u32 {
    1
}
