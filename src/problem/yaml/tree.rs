//! From text to a tree of values, and from a way through the tree back to line and column.

use serde::de::{DeserializeSeed, Deserializer, Error as _, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::fmt;

/// Deepest nesting: the formats here need seven levels.
const MAX_DEPTH: usize = 16;

/// A parsed value.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Node {
    Null,
    Flag(bool),
    Number(f64),
    Text(String),
    List(Vec<Node>),
    /// In file order; a key given twice stands twice.
    Map(Vec<(String, Node)>),
}

impl Node {
    pub(super) fn kind(&self) -> &'static str {
        match self {
            Node::Null => "nothing",
            Node::Flag(_) => "true or false",
            Node::Number(_) => "a number",
            Node::Text(_) => "text",
            Node::List(_) => "a list",
            Node::Map(_) => "a group of keys",
        }
    }
}

/// One step from a value to a part of it.
#[derive(Clone, Copy, Debug)]
pub(super) enum Step {
    Item(usize),
    Key(usize),
    Value(usize),
}

/// The value of the whole text.
pub(super) fn parse(text: &str) -> Result<Node, serde_yaml::Error> {
    NodeSeed { depth: 0 }.deserialize(serde_yaml::Deserializer::from_str(text))
}

/// Line and column, from 1, of the value or key at the end of `steps`.
pub(super) fn locate(text: &str, steps: &[Step]) -> Option<(usize, usize)> {
    let stopped = Find { steps }.deserialize(serde_yaml::Deserializer::from_str(text));
    let place = stopped.err()?.location()?;
    Some((place.line(), place.column()))
}

/// Builds a [`Node`].
struct NodeSeed {
    depth: usize,
}

impl<'de> DeserializeSeed<'de> for NodeSeed {
    type Value = Node;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Node, D::Error> {
        if self.depth > MAX_DEPTH {
            return Err(D::Error::custom(format!("nested more than {MAX_DEPTH} deep")));
        }
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for NodeSeed {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a number, text, a list or a group of keys (without !tags)")
    }
    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node::Null)
    }
    fn visit_none<E>(self) -> Result<Node, E> {
        Ok(Node::Null)
    }
    fn visit_bool<E>(self, flag: bool) -> Result<Node, E> {
        Ok(Node::Flag(flag))
    }
    fn visit_u64<E>(self, number: u64) -> Result<Node, E> {
        Ok(Node::Number(number as f64))
    }
    fn visit_i64<E>(self, number: i64) -> Result<Node, E> {
        Ok(Node::Number(number as f64))
    }
    fn visit_u128<E>(self, number: u128) -> Result<Node, E> {
        Ok(Node::Number(number as f64))
    }
    fn visit_i128<E>(self, number: i128) -> Result<Node, E> {
        Ok(Node::Number(number as f64))
    }
    fn visit_f64<E>(self, number: f64) -> Result<Node, E> {
        Ok(Node::Number(number))
    }
    fn visit_str<E>(self, text: &str) -> Result<Node, E> {
        Ok(Node::Text(text.to_string()))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Node, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = items.next_element_seed(NodeSeed { depth: self.depth + 1 })? {
            list.push(item);
        }
        Ok(Node::List(list))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Node, A::Error> {
        let mut map = Vec::new();
        while let Some(key) = entries.next_key::<String>()? {
            map.push((key, entries.next_value_seed(NodeSeed { depth: self.depth + 1 })?));
        }
        Ok(Node::Map(map))
    }
}

/// Walks to a value or key and stops there: the error that a visitor without methods gives carries the place.
struct Find<'a> {
    steps: &'a [Step],
}

impl<'de> DeserializeSeed<'de> for Find<'_> {
    type Value = ();
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        match self.steps {
            [] => deserializer.deserialize_any(Stop),
            _ => deserializer.deserialize_any(self),
        }
    }
}

impl<'de> Visitor<'de> for Find<'_> {
    type Value = ();
    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a list or group")
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<(), A::Error> {
        let [Step::Item(n), rest @ ..] = self.steps else { return Err(A::Error::custom("no list here")) };
        for _ in 0..*n {
            items.next_element::<IgnoredAny>()?;
        }
        items.next_element_seed(Find { steps: rest }).map(|_| ())
    }
    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<(), A::Error> {
        let (n, key, rest) = match self.steps {
            [Step::Key(n), rest @ ..] => (*n, true, rest),
            [Step::Value(n), rest @ ..] => (*n, false, rest),
            _ => return Err(A::Error::custom("no group here")),
        };
        for _ in 0..n {
            entries.next_entry::<IgnoredAny, IgnoredAny>()?;
        }
        if key {
            return entries.next_key_seed(Find { steps: rest }).map(|_| ());
        }
        entries.next_key::<IgnoredAny>()?;
        entries.next_value_seed(Find { steps: rest })
    }
}

struct Stop;

impl Visitor<'_> for Stop {
    type Value = ();
    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("to stop here")
    }
}
