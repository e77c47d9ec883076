//! Pages as lists of what is drawn on them, each with the tag that it belongs to.
//!
//! Coordinates are points (1/72 inch) from the top left corner, y downwards.

use super::font::{Color, Style};
use krilla::tagging::{Identifier, Node, TagGroup, TagKind, TagTree};

/// A point of a page.
pub(super) type Point = (f64, f64);

/// Something drawn.
#[derive(Clone, Debug)]
pub(super) enum Op {
    /// A line of text from its left end, on its baseline.
    Text { at: Point, text: String, style: Style },
    /// A rectangle from its upper left to its lower right corner.
    Fill { from: Point, to: Point, color: Color, opacity: f64 },
    /// A line through points.
    Line { points: Vec<Point>, color: Color, width: f64 },
    /// A filled area.
    Polygon { points: Vec<Point>, color: Color },
}

/// Place of a tag in [`Tags`].
pub(super) type TagId = usize;

/// Something drawn, and the tag that it belongs to; what belongs to none only adorns the page.
pub(super) struct Placed {
    pub(super) op: Op,
    pub(super) tag: Option<TagId>,
}

/// A page.
pub(super) type Sheet = Vec<Placed>;

enum Child {
    Tag(TagId),
    Leaf(Identifier),
}

struct Tag {
    kind: TagKind,
    children: Vec<Child>,
}

/// The structure of the document, while it grows.
#[derive(Default)]
pub(super) struct Tags {
    tags: Vec<Tag>,
    tops: Vec<TagId>,
}

impl Tags {
    /// A new tag under another one, or at the top.
    pub(super) fn add(&mut self, parent: Option<TagId>, kind: impl Into<TagKind>) -> TagId {
        let id = self.tags.len();
        self.tags.push(Tag { kind: kind.into(), children: Vec::new() });
        match parent.and_then(|parent| self.tags.get_mut(parent)) {
            Some(parent) => parent.children.push(Child::Tag(id)),
            None => self.tops.push(id),
        }
        id
    }

    /// Notes what was drawn for a tag.
    pub(super) fn drawn(&mut self, tag: TagId, leaf: Identifier) {
        if let Some(tag) = self.tags.get_mut(tag) {
            tag.children.push(Child::Leaf(leaf));
        }
    }

    /// The finished tree, without tags that hold nothing.
    pub(super) fn tree(&self) -> TagTree {
        let mut tree = TagTree::new();
        for id in &self.tops {
            if let Some(group) = self.group(*id) {
                tree.push(group);
            }
        }
        tree
    }

    fn group(&self, id: TagId) -> Option<TagGroup> {
        let tag = self.tags.get(id)?;
        let children: Vec<Node> = tag
            .children
            .iter()
            .filter_map(|child| match child {
                Child::Tag(id) => self.group(*id).map(Node::Group),
                Child::Leaf(leaf) => Some(Node::Leaf(*leaf)),
            })
            .collect();
        // A cell without text still has its place in the row.
        let is_cell = matches!(tag.kind, TagKind::TD(_) | TagKind::TH(_));
        if children.is_empty() && !is_cell {
            return None;
        }
        Some(TagGroup::with_children(tag.kind.clone(), children))
    }
}
