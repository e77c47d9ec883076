//! The button that puts a mark into the log, without its bounces.

/// How long a contact may bounce. Contacts of push buttons settle within some milliseconds (from
/// memory); a finger takes longer than this.
const BOUNCE_MS: u64 = 30;

/// The button went down and stayed there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pressed;

/// One push button.
///
/// ```
/// use glueday_firmware::button::{Button, Pressed};
///
/// let mut button = Button::new();
/// assert_eq!(button.poll(true, 1000), None); // may be a bounce or a spark on the cable
/// assert_eq!(button.settles_at_ms(), Some(1030)); // look again then
/// assert_eq!(button.poll(true, 1030), Some(Pressed));
/// assert_eq!(button.poll(true, 5000), None); // held down is pressed once
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Button {
    down: bool,
    /// Since when the contact differs from `down`.
    differs_since_ms: Option<u64>,
}

impl Default for Button {
    fn default() -> Self {
        Self::new()
    }
}

impl Button {
    /// A button that is up. One that is held down from the start counts as pressed once.
    #[must_use]
    pub fn new() -> Self {
        Self { down: false, differs_since_ms: None }
    }

    /// Takes the contact as it is at `now_ms`.
    pub fn poll(&mut self, is_down: bool, now_ms: u64) -> Option<Pressed> {
        if is_down == self.down {
            self.differs_since_ms = None;
            return None;
        }
        let since_ms = *self.differs_since_ms.get_or_insert(now_ms);
        if now_ms.saturating_sub(since_ms) < BOUNCE_MS {
            return None;
        }
        self.down = is_down;
        self.differs_since_ms = None;
        is_down.then_some(Pressed)
    }

    /// When to look again, if the contact has moved and is not known to have settled.
    #[must_use]
    pub fn settles_at_ms(&self) -> Option<u64> {
        self.differs_since_ms.map(|since_ms| since_ms.saturating_add(BOUNCE_MS))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Presses seen when the contact is as `is_down` says at each millisecond.
    fn presses(is_down: impl Fn(u64) -> bool) -> usize {
        let mut button = Button::new();
        (0..2000).filter(|&ms| button.poll(is_down(ms), ms).is_some()).count()
    }

    #[test]
    fn bounces_and_sparks_are_no_presses() {
        assert_eq!(presses(|_| false), 0);
        assert_eq!(presses(|_| true), 1);
        assert_eq!(presses(|ms| (100..129).contains(&ms)), 0, "too short for a finger");
        assert_eq!(presses(|ms| (100..131).contains(&ms)), 1);
        assert_eq!(presses(|ms| ms % 20 < 10), 0, "a contact that never settles");
        // Both edges bounce for 20 ms.
        let bouncing = |ms: u64, edge: u64| (edge..edge + 20).contains(&ms) && ms.is_multiple_of(3);
        let press = |ms: u64| bouncing(ms, 500) || (520..900).contains(&ms) || bouncing(ms, 900);
        assert_eq!(presses(press), 1);
        assert_eq!(presses(|ms| press(ms) || press(ms + 400) || press(ms.wrapping_sub(600))), 2);
    }
}
