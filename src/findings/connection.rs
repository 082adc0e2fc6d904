//! What could not stand as asked, and what does not hang together.

use super::{Found, Glass, Severity, overlap};
use crate::geom::build::Built;
use crate::model::place::{CONTACT_MM, Strain};
use crate::units::length_text;
use std::collections::BTreeSet;
use std::ops::ControlFlow;

pub(super) fn beyond_host(glass: &Glass, found: &mut Found) {
    for strain in &glass.built.placed.strains {
        if let Strain::Beyond {
            piece,
            host,
            at_mm,
            length_mm,
        } = strain
        {
            found.add(
                Severity::Stop,
                piece,
                [
                    format!("It stands beyond the end of {host}"),
                    format!(
                        "Its place is {}; {host} ends at {}.",
                        length_text(*at_mm),
                        length_text(*length_mm)
                    ),
                    format!("Move it back, or make {host} longer."),
                ],
            );
        }
    }
}

pub(super) fn corner_no_room(glass: &Glass, found: &mut Found) {
    for strain in &glass.built.placed.strains {
        if let Strain::Corner {
            piece,
            asked_mm,
            drawn_mm,
        } = strain
        {
            found.add(
                Severity::Stop,
                piece,
                [
                    "A corner has no room for its bend".to_owned(),
                    format!(
                        "The legs leave room for a radius of {}, not {}.",
                        length_text(*drawn_mm),
                        length_text(*asked_mm)
                    ),
                    "Make the bend radius smaller or the legs longer.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn leg_not_up(glass: &Glass, found: &mut Found) {
    for strain in &glass.built.placed.strains {
        if let Strain::Leg { piece, heading_deg } = strain {
            found.add(
                Severity::Stop,
                piece,
                [
                    "A leg does not lead upwards".to_owned(),
                    format!(
                        "Its heading is {heading_deg:.1} degrees, so it never meets the crossbar; the bridge is drawn straight."
                    ),
                    "Turn its place upwards, or choose another route.".to_owned(),
                ],
            );
        }
    }
}

/// For each piece the least piece that its bore communicates with.
pub(super) fn roots(built: &Built) -> Vec<usize> {
    let mut parent: Vec<usize> = (0..built.names.len()).collect();
    fn root(parent: &mut [usize], mut i: usize) -> usize {
        while parent[i] != i {
            parent[i] = parent[parent[i]];
            i = parent[i];
        }
        i
    }
    // Two ends that share a disc communicate without overlapping.
    overlap::overlaps(&overlap::patches(&built.primitives), -CONTACT_MM, |pair| {
        let (a, b) = (root(&mut parent, pair.a.piece), root(&mut parent, pair.b.piece));
        if a != b && pair.meets() {
            parent[a.max(b)] = a.min(b);
        }
        ControlFlow::Continue(())
    });
    (0..parent.len()).map(|i| root(&mut parent, i)).collect()
}

/// Parts of the interior that do not communicate.
pub(super) fn not_connected(glass: &Glass, found: &mut Found) {
    let built = glass.built;
    let parts: BTreeSet<usize> = glass.roots().iter().copied().collect();
    for &part in parts.iter().skip(1) {
        found.add(
            Severity::Stop,
            &built.names[part],
            [
                format!("Its bore is not connected with that of {}", built.names[0]),
                format!("The interior is in {} parts that do not communicate.", parts.len()),
                "Join the parts with a bridge, or seat one on the other.".to_owned(),
            ],
        );
    }
}

/// Parts of the interior without a port.
pub(super) fn no_port(glass: &Glass, found: &mut Found) {
    let built = glass.built;
    let roots = glass.roots();
    let parts: BTreeSet<usize> = roots.iter().copied().collect();
    for &part in &parts {
        if !built.ports.iter().any(|port| roots[port.piece] == part) {
            found.add(
                Severity::Stop,
                &built.names[part],
                [
                    "The interior has no port".to_owned(),
                    "A closed volume can be neither pumped nor vented, and bursts or collapses when it is heated."
                        .to_owned(),
                    "Add a vacuum or gas port, or open a joint.".to_owned(),
                ],
            );
        }
    }
}
