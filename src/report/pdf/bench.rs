//! What the teacher's page says of the bench: equipment, slips and risks by the kinds of source on the sheet. Common practice,
//! no source; the last word is that local rules decide.

use crate::worksheet::{Kind, Worksheet};

/// For drawing, whatever the source.
const DRAWING: &str = "A sheet each, printed at 100 %, a soft pencil and a rubber.";
const MAGNETS: &str = "Magnets with their poles marked; try the marks with a compass, as old magnets may have been magnetised the \
     other way round. Plotting compasses, or iron filings in a closed tray.";
const EARTH: &str = "A bench away from iron, cables, loudspeakers and telephones, and a compass by which the sheet is turned \
     until the Earth’s field runs on it as the sheet says.";
const GLOBE: &str = "A ball of modelling clay with a bar magnet in it, and a small compass.";
const WIRE: &str = "A stiff straight wire through a card, a low-voltage supply that limits its current, a switch, plotting \
     compasses. For two wires: in series for alike or opposite currents of the same strength.";
const COIL: &str = "A coil wound through a card or a clear plate, a low-voltage supply that limits its current, a switch, \
     plotting compasses or iron filings.";
const CHARGES: &str = "As a demonstration only: two electrodes in a dish of castor oil with semolina, and a current-limited \
     high-voltage supply made for schools.";

/// Slips at other sources than magnets, of which the catalogue of ideas does not speak.
const WIRE_SLIPS: [&str; 2] = [
    "Rings evenly spaced. Let them hold a compass close to the wire and far from it: where does it turn back sooner when \
     the current is switched off?",
    "Rings the wrong way round. The right hand, its thumb along the current: the fingers curl as the field does.",
];
const COIL_SLIPS: [&str; 2] = [
    "Lines that stop at the coil’s ends. Let them put a compass into the coil: the needle has a direction there too.",
    "Arrows inside from N to S. Follow one line all the way round: it comes out at N and goes on inside from S to N.",
];
const CHARGE_SLIPS: [&str; 2] = [
    "Lines that cross. Ask which way a small positive charge would be pushed at the crossing: one way only.",
    "Lines that start or stop in empty space, or go through a charge. Ask which charge each line starts on.",
];
const PLATE_SLIP: &str =
    "No field outside the plates’ edges. Ask what would push a charge back just beside the gap.";

const MAGNET_RISKS: [&str; 4] = [
    "Strong magnets jump together: they pinch and may shatter. Keep them apart, and wear eye protection.",
    "Swallowed magnets can kill. Count them out and in; where one may have been swallowed, get medical help at once.",
    "Keep magnets away from pacemakers and other implants, the students’ and your own; from cards and watches too.",
    "Keep iron filings in a closed tray and out of eyes; wash hands afterwards.",
];
const CURRENT_RISKS: [&str; 2] = [
    "A wire or a coil is nearly a short circuit and grows hot: low voltage, a current limit, on for seconds only, then let \
     it cool. Do not touch it.",
    "Never the mains, and no car or lithium battery: nothing limits their current.",
];
const CHARGE_RISKS: [&str; 2] = [
    "High voltage can kill: only a current-limited school supply, in the hands of a teacher trained for it. Nobody \
     touches the electrodes; switch off and discharge before anything is changed.",
    "Keep people with pacemakers and other implants away from it.",
];
/// The last word of the risks.
pub(super) const LOCAL_RULES: &str = "Local rules decide: those of your school and your country, and what your training or licence allows. This page is \
     no risk assessment.";

fn any(worksheet: &Worksheet, is: impl Fn(&Kind) -> bool) -> bool {
    worksheet.panels.iter().flat_map(|p| &p.sources).any(|s| is(&s.kind))
}

/// What the class needs, a sentence or two an entry.
pub(super) fn equipment(worksheet: &Worksheet) -> Vec<&'static str> {
    let globe = |k: &Kind| matches!(k, Kind::Globe { .. });
    [
        (true, DRAWING),
        (any(worksheet, |k| k.is_magnet() && !globe(k)), MAGNETS),
        (worksheet.panels.iter().any(|p| p.earth.is_some()), EARTH),
        (any(worksheet, globe), GLOBE),
        (any(worksheet, |k| matches!(k, Kind::Wire { .. })), WIRE),
        (any(worksheet, |k| matches!(k, Kind::Coil { .. })), COIL),
        (any(worksheet, Kind::is_electric), CHARGES),
    ]
    .into_iter()
    .filter_map(|(there, words)| there.then_some(words))
    .collect()
}

/// Usual slips at wires, coils, charges and plates, a sentence or two an entry.
pub(super) fn slips(worksheet: &Worksheet) -> Vec<&'static str> {
    let mut slips = Vec::new();
    if any(worksheet, |k| matches!(k, Kind::Wire { .. })) {
        slips.extend(WIRE_SLIPS);
    }
    if any(worksheet, |k| matches!(k, Kind::Coil { .. })) {
        slips.extend(COIL_SLIPS);
    }
    if any(worksheet, Kind::is_electric) {
        slips.extend(CHARGE_SLIPS);
    }
    if any(worksheet, |k| matches!(k, Kind::Plate { .. })) {
        slips.push(PLATE_SLIP);
    }
    slips
}

/// What can hurt, a sentence or two an entry, [`LOCAL_RULES`] last.
pub(super) fn risks(worksheet: &Worksheet) -> Vec<&'static str> {
    let mut risks = Vec::new();
    if any(worksheet, Kind::is_magnet) {
        risks.extend(MAGNET_RISKS);
    }
    if any(worksheet, Kind::is_current) {
        risks.extend(CURRENT_RISKS);
    }
    if any(worksheet, Kind::is_electric) {
        risks.extend(CHARGE_RISKS);
    }
    risks.push(LOCAL_RULES);
    risks
}
