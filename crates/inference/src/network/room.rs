//! Room for the work that is used again from one front and one evaluation to the next: asking the system for it anew each time took
//! a third of a fit.

use super::dense::Kernel;
use std::sync::Mutex;

/// What one worker needs.
#[derive(Default)]
pub(super) struct Room {
    pub kernel: Kernel,
    spare: Vec<Vec<f64>>,
}

impl Room {
    /// A block of zeros.
    pub fn zeros(&mut self, size: usize) -> Vec<f64> {
        let mut block = self.spare.pop().unwrap_or_default();
        block.clear();
        block.resize(size, 0.0);
        block
    }

    /// A block that may hold anything.
    pub fn block(&mut self, size: usize) -> Vec<f64> {
        let mut block = self.spare.pop().unwrap_or_default();
        block.resize(size, 0.0);
        block
    }

    /// Takes back a block that is no longer used.
    pub fn keep(&mut self, block: Vec<f64>) {
        self.spare.push(block);
    }
}

/// Rooms for as many workers as come.
#[derive(Default)]
pub(super) struct Rooms(Mutex<Vec<Room>>);

impl Rooms {
    /// Does `work` in a room that nobody else is in.
    pub fn enter<R>(&self, work: impl FnOnce(&mut Room) -> R) -> R {
        let free = || self.0.lock().expect("nobody panics between taking a room and giving it back");
        let mut room = free().pop().unwrap_or_default();
        let result = work(&mut room);
        free().push(room);
        result
    }
}
