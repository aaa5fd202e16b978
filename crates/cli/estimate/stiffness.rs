//! Which thickness of another material bends as little: a hint for a fair swap, no proof that a part will do.
//!
//! Compared per width of a panel: modulus times second moment of area. Composite counts with its skins alone;
//! its core only keeps them apart.

use crate::input::{Material, Substance};
use crate::rates::MaterialRates;

/// Density of aluminium, kg per square metre and millimetre. Source: general value.
const ALUMINIUM: f64 = 2.70;
/// Density of a polyethylene core. Source: composite data sheet.
const CORE: f64 = 0.92;

/// Modulus of elasticity in GPa of a substance; `None` where it is not known or differs too much.
///
/// # Source
/// Aluminium 70: composite data sheets. Acrylic 3.3: suppliers' tables. Polycarbonate 2.3 and MDF 3.0 from
/// memory.
#[must_use]
pub fn modulus_gpa(substance: Substance) -> Option<f64> {
    match substance {
        Substance::Composite | Substance::Aluminium => Some(70.0),
        Substance::Acrylic => Some(3.3),
        Substance::Polycarbonate => Some(2.3),
        Substance::Mdf => Some(3.0),
        _ => None,
    }
}

/// Skin thickness in mm that a composite's mass tells, if its core is polyethylene. `None` where the result
/// is none that is made: the core is another then.
#[must_use]
pub fn skin_from_mass(thickness: f64, kg_per_m2: f64) -> Option<f64> {
    let skin = (kg_per_m2 - CORE * thickness) / (2.0 * (ALUMINIUM - CORE));
    (0.1..=0.6).contains(&skin).then_some(skin)
}

/// Second moment of area of the two skins in mm^4 per mm of width.
#[must_use]
pub fn skins(thickness: f64, skin: f64) -> f64 {
    let apart = 0.5 * (thickness - skin);
    2.0 * (skin * apart * apart + skin.powi(3) / 12.0)
}

/// Modulus in GPa times second moment in mm^3, per width; `None` where it is not known.
#[must_use]
pub fn bending(material: &Material, rates: &MaterialRates) -> Option<f64> {
    let modulus = rates
        .modulus_gpa
        .or_else(|| modulus_gpa(material.substance))?;
    let moment = match material.substance {
        Substance::Composite => {
            let skin = rates
                .skin_mm
                .or_else(|| skin_from_mass(material.thickness, material.kg_per_m2))?;
            skins(material.thickness, skin.min(0.5 * material.thickness))
        }
        _ => material.thickness.powi(3) / 12.0,
    };
    Some(modulus * moment)
}

/// Thickness of a solid material in mm that bends as little as a bending stiffness asks.
#[must_use]
pub fn solid_thickness(bending: f64, modulus_gpa: f64) -> f64 {
    (12.0 * bending / modulus_gpa).cbrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mass of composite in kg per square metre, from its thickness and that of each skin in mm; coating and
    /// adhesive left out.
    fn composite_kg_per_m2(thickness: f64, skin: f64) -> f64 {
        2.0 * skin * ALUMINIUM + (thickness - 2.0 * skin) * CORE
    }

    #[test]
    fn composite_weighs_what_data_sheets_say() {
        // Published values of two makers' data sheets, kg/m2, within 5 %.
        for (thickness, skin, published) in [
            (2.0, 0.18, 2.55),
            (3.0, 0.21, 3.51),
            (3.0, 0.50, 4.5),
            (4.0, 0.30, 4.75),
            (4.0, 0.50, 5.5),
            (6.0, 0.30, 6.39),
            (6.0, 0.50, 7.3),
        ] {
            let computed = composite_kg_per_m2(thickness, skin);
            assert!(
                (computed / published - 1.0).abs() < 0.05,
                "{computed} for {published}"
            );
            let back = skin_from_mass(thickness, computed).expect("a usual skin");
            assert!((back - skin).abs() < 1e-9);
        }
        // Mineral core of 3 mm, 6.0 kg/m2 with 0.5 mm skins (a third maker): not taken for thick skins.
        assert_eq!(skin_from_mass(3.0, 6.0), None);
    }

    #[test]
    fn composite_is_as_stiff_as_data_sheets_say() {
        // Published 1250, 2400, 5900 kN cm2 per m for 3, 4 and 6 mm with 0.5 mm skins; computed with the plate
        // factor 1 / (1 - 0.3^2), core left out.
        for (thickness, published) in [(3.0, 1_250.0), (4.0, 2_400.0), (6.0, 5_900.0)] {
            // GPa mm^3 = kN mm; for a metre of width and in cm2: times 1000 / 100.
            let stiffness = 70.0 * skins(thickness, 0.5) / (1.0 - 0.09) * 10.0;
            assert!(
                (stiffness / published - 1.0).abs() < 0.05,
                "{stiffness} for {published}"
            );
        }
    }

    #[test]
    fn solid_sheets_of_equal_stiffness() {
        // Thickness of aluminium and acrylic that is as stiff, computed by hand from the same moments.
        for (thickness, skin, aluminium, acrylic) in [
            (3.0, 0.20, 2.11, 5.85),
            (3.0, 0.30, 2.36, 6.54),
            (4.0, 0.50, 3.33, 9.22),
            (6.0, 0.50, 4.50, 12.45),
        ] {
            let bending = 70.0 * skins(thickness, skin);
            assert!((solid_thickness(bending, 70.0) - aluminium).abs() < 0.01);
            assert!((solid_thickness(bending, 3.3) - acrylic).abs() < 0.01);
        }
    }

    #[test]
    fn masses_of_usual_sheets() {
        // 1220 x 2440 mm: composite 3 mm with 0.3 mm skins 11.4 kg, acrylic 3 mm 10.6 and 6 mm 21.3 (1.19
        // g/cm3), aluminium 2 mm 16.1 and 3 mm 24.1, MDF 18 mm 40.2 (0.75).
        let area = 1.220 * 2.440;
        for (kg_per_m2, expected) in [
            (composite_kg_per_m2(3.0, 0.3), 11.4),
            (3.0 * 1.19, 10.6),
            (6.0 * 1.19, 21.3),
            (2.0 * ALUMINIUM, 16.1),
            (3.0 * ALUMINIUM, 24.1),
            (18.0 * 0.75, 40.2),
        ] {
            assert!((area * kg_per_m2 - expected).abs() < 0.06, "{expected}");
        }
    }
}
