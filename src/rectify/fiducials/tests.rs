use super::*;

const PAPER: u8 = 240;
/// Dark in the light, not so in the shade.
const SMEAR: u8 = 130;
const PX_PER_MM: f64 = 4.0;

fn printed() -> Printed {
    let centres = [(10.0, 10.0), (190.0, 10.0), (190.0, 140.0), (10.0, 140.0)];
    Printed { centres: centres.map(|(x, y)| Point::new(x, y)), radius_mm: 3.0, gap_radius_mm: 1.5 }
}

/// The four marks on a page of 200 x 150 mm, the ring with a dot in it.
fn page() -> GreyImage {
    let (width, height) = ((200.0 * PX_PER_MM) as usize, (150.0 * PX_PER_MM) as usize);
    let mut scan = GreyImage { width, height, pixels: vec![PAPER; width * height] };
    for (k, centre) in printed().centres.iter().enumerate() {
        for (i, level) in scan.pixels.iter_mut().enumerate() {
            let at = Point::new((i % width) as f64 / PX_PER_MM, (i / width) as f64 / PX_PER_MM);
            let off = at.distance(*centre);
            if off < 3.0 && (k > 0 || !(1.0..=2.0).contains(&off)) {
                *level = 20;
            }
        }
    }
    scan
}

/// Where a smear runs into the ring from outside, only its dot stands alone in the light: the ring is looked for in the shade, and its
/// dot is no other sighting of it.
#[test]
fn a_smear_at_the_ring_does_not_leave_its_dot_in_its_place() {
    let mut scan = page();
    let width = scan.width;
    for (y, x) in (51..150).flat_map(|y| (36..44).map(move |x| (y, x))) {
        let level = &mut scan.pixels[y * width + x];
        *level = (*level).min(SMEAR);
    }
    let found = find_slanted(&scan, &printed());
    let ring = found.first().and_then(|placed| placed.centres[0]);
    let want = PX_PER_MM * printed().centres[0].to_vec2();
    assert!(ring.is_some_and(|c| (c.to_vec2() - want).hypot() < 2.0), "{ring:?}");
}
