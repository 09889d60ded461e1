//! What a PDF promises: its pages in order, broken ones included, and the images that a page calls for.

use std::collections::HashSet;

use hayro::hayro_syntax::Pdf;
use hayro::hayro_syntax::content::ops::TypedInstruction;
use hayro::hayro_syntax::object::{Array, Dict, MaybeRef, Name, Object, ObjectIdentifier, Stream};
use hayro::hayro_syntax::page::Page;

use super::super::limits;

/// Deepest tree of pages that is walked; the writers in use stay below five levels.
const MAX_DEPTH: usize = 32;

/// For each page that the file promises, its index among the pages that hayro found, or `None` for one
/// that is named but not there. Where the tree is of no use, as many as were found.
pub(super) fn promised(pdf: &Pdf) -> Vec<Option<usize>> {
    let found = pdf.pages().len();
    let as_found = || (0..found).map(Some).collect();
    let Some(root) = pdf.xref().get::<Dict<'_>>(pdf.xref().root_id()) else { return as_found() };
    let Some(pages) = root.get::<Dict<'_>>(b"Pages") else { return as_found() };
    let mut walk = Walk { pdf, leaves: Vec::new(), seen: HashSet::new() };
    walk.visit(&pages, 0);
    let there = walk.leaves.iter().filter(|leaf| **leaf).count();
    if there != found {
        // hayro searched the file for pages without the tree's help; the tree says nothing about them
        return as_found();
    }
    let mut next = 0;
    let mut leaves: Vec<_> = walk
        .leaves
        .iter()
        .map(|there| {
            there.then(|| {
                next += 1;
                next - 1
            })
        })
        .collect();
    let count = pages.get::<u32>(b"Count").map_or(0, |n| n as usize).min(limits::MAX_PAGES);
    leaves.resize(leaves.len().max(count), None);
    leaves
}

struct Walk<'a> {
    pdf: &'a Pdf,
    /// Whether each leaf is there.
    leaves: Vec<bool>,
    seen: HashSet<ObjectIdentifier>,
}

impl Walk<'_> {
    fn visit(&mut self, node: &Dict<'_>, depth: usize) {
        let Some(kids) = node.get::<Array<'_>>(b"Kids") else { return };
        for kid in kids.raw_iter() {
            if self.leaves.len() > limits::MAX_PAGES || depth > MAX_DEPTH {
                return;
            }
            let dict = match kid {
                MaybeRef::Ref(reference) => {
                    let id = ObjectIdentifier::from(reference);
                    if !self.seen.insert(id) {
                        continue;
                    }
                    self.pdf.xref().get::<Dict<'_>>(id)
                }
                MaybeRef::NotRef(object) => object.into_dict(),
            };
            let Some(dict) = dict else {
                self.leaves.push(false);
                continue;
            };
            let is_node = dict.get::<Name<'_>>(b"Type").is_some_and(|n| n.as_ref() == b"Pages");
            match (is_node, dict.contains_key(b"Kids")) {
                (true, true) => self.visit(&dict, depth + 1),
                (true, false) => {}
                _ => self.leaves.push(true),
            }
        }
    }
}

/// Whether every image or form that the page's instructions call for is in the file.
pub(super) fn images_are_there(page: &Page<'_>) -> bool {
    let mut instructions = page.typed_operations();
    while let Some(instruction) = instructions.next() {
        if let TypedInstruction::XObject(call) = instruction
            && page.resources().get_x_object(call.0).is_none()
        {
            return false;
        }
    }
    true
}

/// A whole file says near its end where its table of contents stands.
pub(super) fn is_cut_short(data: &[u8]) -> bool {
    let tail = &data[data.len().saturating_sub(TAIL_BYTES)..];
    !tail.windows(b"startxref".len()).any(|w| w == b"startxref")
}

/// Mail programs and scanners append bytes behind the end; viewers look back this far at least.
const TAIL_BYTES: usize = 8_192;

/// A stream's entry under its long or, in an inline image, its short name.
pub(super) fn entry<'a>(stream: &Stream<'a>, long: &[u8], short: &[u8]) -> Option<Object<'a>> {
    stream.dict().get::<Object<'_>>(long).or_else(|| stream.dict().get::<Object<'_>>(short))
}

/// The parameters of a stream's filter number `index`.
pub(super) fn parameters<'a>(stream: &Stream<'a>, index: usize) -> Dict<'a> {
    match entry(stream, b"DecodeParms", b"DP") {
        Some(Object::Dict(dict)) => dict,
        Some(Object::Array(array)) => {
            array.iter::<Object<'_>>().nth(index).and_then(Object::into_dict).unwrap_or_default()
        }
        _ => Dict::default(),
    }
}
