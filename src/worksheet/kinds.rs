//! One source of worksheet.yaml: its kind, its place, and the keys of that kind.

use super::parse::{degrees, read_id};
use super::{Kind, PLATE_MM, RING_MM, Source};
use crate::geometry::Point;
use crate::problem::yaml::{At, Fields};
use crate::problem::{one_of, suggest};
use std::ops::RangeInclusive;

/// Strongest magnet material, mT: sintered neodymium-iron-boron stays below it (grades: IEC 60404-8-1). Its crystals
/// saturate at 1610 mT: J. M. D. Coey, Magnetism and Magnetic Materials (2010), ch. 11.
pub const MAX_REMANENCE_MT: f64 = 1500.0;
/// Sizes of what lies in the page, mm: below, the pole letters find no room; above, no sheet of A4 holds them.
const SIZE_MM: RangeInclusive<f64> = 1.0..=250.0;
/// Depth of a plate at right angles to the page, mm; the deepest is as good as endless beside a sheet.
const DEPTH_MM: RangeInclusive<f64> = 1.0..=2000.0;
/// Strongest moment, A m2: that of a neodymium block 80 mm a side is about 600.
const MAX_MOMENT_AM2: f64 = 1000.0;
/// Strongest current in a wire or coil, A: pulsed magnets of laboratories use no more.
const MAX_CURRENT_A: f64 = 1e5;
/// Most turns of a coil: wire of 0.05 mm over 250 mm in twenty layers.
const MAX_TURNS: f64 = 1e5;
/// Largest charge, nC: a conductor of a sheet's size sparks through air from about 100 nC; above this it is a slip of
/// the unit.
const MAX_CHARGE_NC: f64 = 1e6;
/// How far the poles of a school magnet may lie inside its ends, as a share of its length.
const INSET: RangeInclusive<f64> = 0.0..=0.25;

const KINDS: [&str; 10] =
    ["bar", "rod", "disc", "horseshoe", "globe", "dipole", "wire", "coil", "charge", "plate"];

/// The keys of a kind besides `kind`, `id` and `centre_mm`.
fn keys_of(kind: &str) -> &'static [&'static str] {
    match kind {
        "bar" | "rod" => &["north_deg", "size_mm", "remanence_mt", "pole_inset"],
        "disc" => &["north_deg", "size_mm", "remanence_mt", "through"],
        "horseshoe" => &["north_deg", "size_mm", "remanence_mt", "limb_mm", "north_limb"],
        "dipole" => &["north_deg", "moment_am2"],
        "wire" => &["current_a", "way"],
        "coil" => &["north_deg", "size_mm", "turns", "current_a"],
        "charge" => &["charge_nc"],
        "plate" => &["angle_deg", "size_mm", "charge_nc"],
        _ => &["north_deg", "size_mm", "remanence_mt"],
    }
}

pub(super) fn read_source(at: &At) -> Option<Source> {
    let entries = at.entries()?;
    let Some((_, kind_at)) = entries.iter().find(|(key, _)| *key == "kind") else {
        at.problem("the key \"kind\" is missing", format!("add kind: {}", one_of(&KINDS)));
        return None;
    };
    let kind = kind_at.text()?;
    let Some(kind) = KINDS.iter().copied().find(|k| *k == kind) else {
        kind_at.problem(format!("no source is of kind \"{kind}\""), suggest(kind, &KINDS));
        return None;
    };
    let mut known = vec!["kind", "id", "centre_mm"];
    known.extend_from_slice(keys_of(kind));
    let keys = at.fields(&known)?;
    let id = keys.need("id", "add id: and a short name of a-z, 0-9 and -").and_then(read_source_id);
    let centre = keys
        .need("centre_mm", "add centre_mm: [x, y]")
        .and_then(|c| c.numbers::<2>("x, y"))
        .map(|[x, y]| Point::new(x, y));
    let north = read_direction(&keys, kind);
    let kind = read_kind(&keys, kind);
    Some(Source { id: id?, kind: kind?, centre: centre?, north_deg: north? })
}

/// `north_deg`, or what stands in its place.
fn read_direction(keys: &Fields, kind: &str) -> Option<f64> {
    let (key, fix) = match kind {
        "wire" | "charge" => return Some(0.0),
        "plate" => ("angle_deg", "add angle_deg: and the way its length lies"),
        "coil" => ("north_deg", "add north_deg: and the way the field points inside"),
        "horseshoe" => ("north_deg", "add north_deg: and the way its open side faces"),
        _ => ("north_deg", "add north_deg: and the way from the S to the N pole"),
    };
    match keys.get(key) {
        None if keys.get("through").is_some() => Some(0.0),
        None => keys.need(key, fix).and_then(degrees),
        Some(at) => degrees(at),
    }
}

fn read_source_id(at: &At) -> Option<String> {
    let id = read_id(at)?;
    if ["frame", "leaves", "open"].contains(&id.as_str()) {
        at.problem(format!("\"{id}\" already means where a line ends"), "give the magnet another id");
        return None;
    }
    Some(id)
}

fn read_kind(keys: &Fields, kind: &str) -> Option<Kind> {
    let size = |what: &str| keys.need("size_mm", &format!("add size_mm: [{what}]"));
    match kind {
        "dipole" => {
            let at = keys.need("moment_am2", "add moment_am2: and the moment in A m2")?;
            positive(at, MAX_MOMENT_AM2, "A m2").map(|moment_am2| Kind::Dipole { moment_am2 })
        }
        "wire" => {
            let current = read_current(keys);
            let out = keys
                .need("way", "add way: out (towards you) or way: in")
                .and_then(|w| w.word(&["out", "in"]))
                .map(|way| way == "out");
            Some(Kind::Wire { current_a: current?, out: out? })
        }
        "coil" => {
            let size = sizes(size("length, diameter"), "length, diameter");
            let turns = keys.need("turns", "add turns: and the number of turns").and_then(read_turns);
            let current = read_current(keys);
            let [length, diameter] = size?;
            Some(Kind::Coil { length, diameter, turns: turns?, current_a: current? })
        }
        "charge" => read_charge(keys).map(|charge_nc| Kind::Charge { charge_nc }),
        "plate" => read_plate(keys),
        _ => read_magnet(keys, kind),
    }
}

fn read_magnet(keys: &Fields, kind: &str) -> Option<Kind> {
    let remanence = keys
        .need("remanence_mt", "add remanence_mt: and the remanence in millitesla")
        .and_then(read_remanence);
    let size = |what: &str| keys.need("size_mm", &format!("add size_mm: [{what}]"));
    let inset = || keys.get("pole_inset").map_or(Some(0.0), |i| i.number_in(INSET, ""));
    match kind {
        "bar" => {
            let what = "length, width, thickness";
            let (size, inset) = (sizes(size(what), what), inset());
            let [length, width, thickness] = size?;
            Some(Kind::Bar { length, width, thickness, remanence_mt: remanence?, pole_inset: inset? })
        }
        "rod" => {
            let (size, inset) = (sizes(size("length, diameter"), "length, diameter"), inset());
            let [length, diameter] = size?;
            Some(Kind::Rod { length, diameter, remanence_mt: remanence?, pole_inset: inset? })
        }
        "disc" => {
            let size = sizes(size("diameter, thickness"), "diameter, thickness");
            let through = match keys.get("through") {
                Some(at) => Some(at.word(&["up", "down"])? == "up"),
                None => None,
            };
            let ([diameter, thickness], remanence_mt) = (size?, remanence?);
            Some(match through {
                Some(up) => Kind::DiscThrough { diameter, thickness, remanence_mt, up },
                None => Kind::Disc { diameter, thickness, remanence_mt },
            })
        }
        "globe" => {
            let [diameter] = sizes(size("diameter"), "diameter")?;
            Some(Kind::Globe { diameter, remanence_mt: remanence? })
        }
        _ => read_horseshoe(keys, remanence),
    }
}

fn read_horseshoe(keys: &Fields, remanence: Option<f64>) -> Option<Kind> {
    let what = "overall width, overall depth, thickness";
    let size_at = keys.need("size_mm", &format!("add size_mm: [{what}]"));
    let size = sizes::<3>(size_at, what);
    let limb_at = keys.need("limb_mm", "add limb_mm: and the width of a limb");
    let limb = limb_at.and_then(|l| l.number_in(SIZE_MM, "mm"));
    let north_left = keys
        .need("north_limb", "add north_limb: left or right, seen looking out of the open side")
        .and_then(|n| n.word(&["left", "right"]))
        .map(|side| side == "left");
    let ([width, depth, thickness], limb) = (size?, limb?);
    // Below this gap between the limbs there is no room for one line of a pencil.
    const LEAST_GAP_MM: f64 = 2.0;
    if let Some(at) = limb_at
        && (2.0 * limb + LEAST_GAP_MM > width || limb >= depth)
    {
        let most = ((width - LEAST_GAP_MM) / 2.0).min(depth);
        at.problem(format!("two limbs of {limb} mm leave no gap"), format!("write less than {most} mm"));
        return None;
    }
    Some(Kind::Horseshoe { width, depth, thickness, limb, remanence_mt: remanence?, north_left: north_left? })
}

fn read_plate(keys: &Fields) -> Option<Kind> {
    let what = "length, depth at right angles to the page";
    let size = keys.need("size_mm", &format!("add size_mm: [{what}]"));
    let size = size.and_then(|at| Some((at.items()?, at.numbers::<2>(what)?)));
    let charge = read_charge(keys);
    let (items, _) = size?;
    let length = items[0].number_in(SIZE_MM, "mm");
    let depth = items[1].number_in(DEPTH_MM, "mm");
    Some(Kind::Plate { length: length?, depth: depth?, charge_nc: charge? })
}

fn read_remanence(at: &At) -> Option<f64> {
    let number = at.number()?;
    if number > MAX_REMANENCE_MT {
        at.problem(
            format!("{number} mT is more than any magnet holds"),
            format!(
                "write more than 0 and at most {MAX_REMANENCE_MT} mT: sintered neodymium-iron-boron, the strongest, stays \
                 below it (IEC 60404-8-1)"
            ),
        );
        return None;
    }
    positive(at, MAX_REMANENCE_MT, "mT")
}

fn read_current(keys: &Fields) -> Option<f64> {
    let at = keys.need("current_a", "add current_a: and the current in amperes")?;
    positive(at, MAX_CURRENT_A, "A")
}

fn read_turns(at: &At) -> Option<f64> {
    let number = at.number()?;
    if number.fract() != 0.0 || !(1.0..=MAX_TURNS).contains(&number) {
        at.problem(
            format!("{number} is no number of turns"),
            format!("write a whole number from 1 to {MAX_TURNS}"),
        );
        return None;
    }
    Some(number)
}

fn read_charge(keys: &Fields) -> Option<f64> {
    let at =
        keys.need("charge_nc", "add charge_nc: and the charge in nanocoulombs, below 0 for a negative one")?;
    let number = at.number()?;
    if number == 0.0 || number.abs() > MAX_CHARGE_NC {
        let fix = format!("write up to {MAX_CHARGE_NC} nC, above or below 0 but not 0");
        at.problem(format!("{number} nC is out of range"), fix);
        return None;
    }
    Some(number)
}

fn sizes<const N: usize>(at: Option<&At>, what: &str) -> Option<[f64; N]> {
    let at = at?;
    let numbers = at.numbers::<N>(what)?;
    let outside: Vec<f64> = numbers.iter().copied().filter(|n| !SIZE_MM.contains(n)).collect();
    for (item, _) in at.items()?.iter().zip(numbers).filter(|(_, n)| !SIZE_MM.contains(n)) {
        item.number_in(SIZE_MM, "mm");
    }
    outside.is_empty().then_some(numbers)
}

fn positive(at: &At, most: f64, unit: &str) -> Option<f64> {
    let number = at.number()?;
    if number > 0.0 && number <= most {
        return Some(number);
    }
    at.problem(
        format!("{number} {unit} is out of range"),
        format!("write more than 0 and at most {most} {unit}"),
    );
    None
}

/// Half the size of the upright box round a source's outline, mm.
pub(super) fn half_box_mm(source: &Source) -> (f64, f64) {
    let (sin, cos) = source.north_deg.to_radians().sin_cos();
    let (along, across) = match &source.kind {
        Kind::Bar { length, width, .. } => (*length, *width),
        Kind::Rod { length, diameter, .. } | Kind::Coil { length, diameter, .. } => (*length, *diameter),
        Kind::Horseshoe { width, depth, .. } => (*depth, *width),
        Kind::Plate { length, .. } => (*length, PLATE_MM),
        Kind::Disc { diameter, .. } | Kind::DiscThrough { diameter, .. } | Kind::Globe { diameter, .. } => {
            return (diameter / 2.0, diameter / 2.0);
        }
        Kind::Dipole { .. } | Kind::Wire { .. } | Kind::Charge { .. } => {
            return (RING_MM / 2.0, RING_MM / 2.0);
        }
    };
    let half = |a: f64, b: f64| (along * a.abs() + across * b.abs()) / 2.0;
    (half(cos, sin), half(sin, cos))
}
