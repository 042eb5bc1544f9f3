//! Typed ids and the vectors they index. An id of one arena cannot index another.

use std::marker::PhantomData;
use std::ops::{Index, IndexMut};

/// A small typed index.
pub trait Id: Copy + Eq + Ord + std::hash::Hash {
    /// The id of the element at `index`.
    fn from_index(index: usize) -> Self;
    /// The position in its arena.
    fn index(self) -> usize;
}

/// Declares a typed id.
#[macro_export]
macro_rules! id_type {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(u32);

        impl $crate::arena::Id for $name {
            fn from_index(index: usize) -> Self {
                Self(u32::try_from(index).unwrap_or(u32::MAX))
            }
            fn index(self) -> usize {
                self.0 as usize
            }
        }
    };
}

/// A vector indexed by its own id type.
#[derive(Debug, Clone, PartialEq)]
pub struct Arena<I, T> {
    items: Vec<T>,
    marker: PhantomData<fn() -> I>,
}

impl<I, T> Default for Arena<I, T> {
    fn default() -> Self {
        Self { items: Vec::new(), marker: PhantomData }
    }
}

impl<I: Id, T> Arena<I, T> {
    /// Adds an item and returns its id.
    pub fn push(&mut self, item: T) -> I {
        self.items.push(item);
        I::from_index(self.items.len() - 1)
    }
    /// How many items there are.
    pub fn len(&self) -> usize {
        self.items.len()
    }
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }
    /// All items with their ids, in source order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (I, &T)> + ExactSizeIterator {
        self.items.iter().enumerate().map(|(index, item)| (I::from_index(index), item))
    }
    /// All ids, in source order.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = I> + ExactSizeIterator + use<I, T> {
        (0..self.items.len()).map(I::from_index)
    }
    /// All items, in source order.
    pub fn values(&self) -> std::slice::Iter<'_, T> {
        self.items.iter()
    }
}

impl<I: Id, T> Index<I> for Arena<I, T> {
    type Output = T;
    fn index(&self, id: I) -> &T {
        &self.items[id.index()]
    }
}

impl<I: Id, T> IndexMut<I> for Arena<I, T> {
    fn index_mut(&mut self, id: I) -> &mut T {
        &mut self.items[id.index()]
    }
}
