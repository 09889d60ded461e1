//! Several files as one: the keys of one group laid over those of another, each knowing its own file.

use super::{At, Document, Fields, Node, Problem};

impl<'a> Fields<'a> {
    /// These keys, and those of `base` that are not among them.
    pub fn over(mut self, base: &Fields<'a>) -> Fields<'a> {
        for (key, at) in &base.entries {
            if !self.entries.iter().any(|(known, _)| known == key) {
                self.entries.push((key, at.clone()));
            }
        }
        self.all_known &= base.all_known;
        self
    }

    /// Without the keys with these names.
    pub fn without(mut self, keys: &[&str]) -> Fields<'a> {
        self.entries.retain(|(key, _)| !keys.contains(key));
        self
    }
}

impl At<'_> {
    /// Whether a group of keys stands here.
    pub fn is_group(&self) -> bool {
        matches!(self.node, Node::Map(_))
    }

    /// Whether a list stands here.
    pub fn is_list(&self) -> bool {
        matches!(self.node, Node::List(_))
    }

    /// Whether text stands here.
    pub fn is_text(&self) -> bool {
        matches!(self.node, Node::Text(_))
    }
}

impl Document {
    /// As [`Document::finish`], for a value made of several files: problems file by file.
    ///
    /// # Errors
    /// Any problem was recorded in any of them.
    pub fn finish_all<T>(documents: Vec<Document>, value: Option<T>) -> Result<T, Vec<Problem>> {
        let found: Vec<Problem> =
            documents.into_iter().flat_map(|d| d.finish::<()>(None).err().unwrap_or_default()).collect();
        match value {
            Some(value) if found.is_empty() => Ok(value),
            _ => Err(found),
        }
    }
}
