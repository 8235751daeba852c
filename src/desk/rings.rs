//! Which part tells a family from another one: rings on the exemplar that a page shows.

use serde::Serialize;

use super::room::Room;
use crate::rescue::{Deciding, Pictured, Ring, deciding};
use crate::service::legible::{in_frame_of, lay_beside};
use crate::service::report_page::{Wanted, exemplar_picture};

/// A ring as a page draws it: shares of the frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(super) struct Drawn {
    x: f64,
    y: f64,
    w: f64,
    h: f64,
    /// Whether the first family has the stroke; else the other one.
    own: bool,
}

/// What tells the two apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Rings {
    rings: Vec<Drawn>,
    says: String,
}

/// Compares an exemplar of `family` (the one with this content, or the first) with the best of `against`.
pub(super) fn rings(
    room: &Room,
    family: &str,
    content: Option<&str>,
    against: &str,
) -> Option<Rings> {
    let shelf = room.shelf();
    let wanted = match content {
        Some(content) => Wanted::exactly(family, content),
        None => Wanted::any(family),
    };
    let (picture, quad) = exemplar_picture(&shelf.library, &shelf.references, &wanted)?;
    let laid = lay_beside(&shelf.library, &shelf.references, &picture, &quad, against);
    let (name, other) = (
        shelf.library.name_of(family),
        shelf.library.name_of(against),
    );
    let told = match &laid {
        Some(laid) => {
            let own = Pictured::whole(&picture, quad);
            deciding(own, in_frame_of(&quad, laid)?)?
        }
        None => Deciding::AllOver,
    };
    Some(match told {
        Deciding::Here(rings) if rings.is_empty() => Rings {
            rings: Vec::new(),
            says: format!("No part tells {name} from {other} in their pictures"),
        },
        Deciding::Here(rings) => Rings {
            says: format!(
                "Ringed: where {name} (solid) or {other} (dashed) has a stroke that the other lacks"
            ),
            rings: rings.iter().map(drawn).collect(),
        },
        Deciding::AllOver => Rings {
            rings: Vec::new(),
            says: format!("{name} and {other} differ all over: no one part decides"),
        },
    })
}

fn drawn(ring: &Ring) -> Drawn {
    let share = |v: f64| (v * 1e4).round() / 1e4;
    Drawn {
        x: share(ring.left),
        y: share(ring.top),
        w: share(ring.width),
        h: share(ring.height),
        own: ring.own,
    }
}
