//! Which substance may go to which machine. Refusals carry their reason.

use crate::input::{Process, Substance};

/// Why `substance` must not be cut by `process`; `None` when nothing is known against it.
///
/// A laser cuts only what is known to be fit for it; anything unknown is refused.
///
/// # Source
/// Chlorinated plastics: hydrogen chloride is driven off from about 150 °C (Energy & Fuels 17
/// (2003) 896-900). Composite: polyethylene melts and flames, and aluminium reflects the 10.6 µm
/// beam of a CO2 laser (common workshop rules). Polycarbonate: chars and flames (common practice).
#[must_use]
pub fn refusal(substance: Substance, process: Process) -> Option<&'static str> {
    match (substance, process) {
        (Substance::ChlorinatedPlastic, _) => Some(
            "chlorinated plastics give off hydrogen chloride when they get hot; \
             they are never cut here, by laser or by any other machine",
        ),
        (Substance::Composite, Process::Laser) => Some(
            "its polyethylene core melts and burns in the beam and its aluminium skins reflect it; \
             composite is never sent to the laser",
        ),
        (Substance::Aluminium, Process::Laser) => {
            Some("aluminium reflects the beam of the lasers this program knows")
        }
        (Substance::Polycarbonate, Process::Laser) => {
            Some("polycarbonate chars and catches fire in the beam")
        }
        (Substance::Other, Process::Laser) => {
            Some("what it gives off in the beam is not known, and unknown material is not lasered")
        }
        (
            Substance::Composite
            | Substance::Acrylic
            | Substance::Aluminium
            | Substance::Polycarbonate
            | Substance::Mdf
            | Substance::Plywood
            | Substance::Other,
            Process::Saw | Process::Router,
        )
        | (Substance::Acrylic | Substance::Mdf | Substance::Plywood, Process::Laser) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_dangerous_pairs_are_refused() {
        assert!(refusal(Substance::Composite, Process::Laser).is_some());
        for process in [Process::Saw, Process::Router, Process::Laser] {
            assert!(refusal(Substance::ChlorinatedPlastic, process).is_some());
        }
        assert!(refusal(Substance::Acrylic, Process::Laser).is_none());
        assert!(refusal(Substance::Composite, Process::Router).is_none());
    }
}
