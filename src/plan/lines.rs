//! From an order to the numbered lines of the sheet: passes, waits, turns, vents, clamps, holds.
