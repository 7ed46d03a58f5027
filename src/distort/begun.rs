//! A course of events followed half way, so that many ways to go on can be judged from there.

use super::model::{Model, Options};
use super::staged::State;
use super::{Event, Level};
use crate::fault::Fault;

/// The frame after some events. Cheap to go on from, compared with starting at the loose tubes.
#[derive(Clone)]
pub struct Begun<'m> {
    state: State<'m>,
}

impl Model {
    /// Follow the first events of a course. If they hold no tack, the frame starts with tacks laid
    /// evenly on every seam, as in [`Model::evaluate`].
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn begin(&self, events: &[Event], level: Level) -> Result<Begun<'_>, Fault> {
        Ok(Begun { state: self.course(events, self.level_for(level), &Options::default(), false)? })
    }
}

/// Thermal misfit of passes: (pass, mm in the three directions of its fibres).
pub type Warmth = Vec<(usize, [f64; 3])>;

impl Begun<'_> {
    /// Go on with more events.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn go_on(&mut self, events: &[Event]) -> Result<(), Fault> {
        self.state.follow(events)
    }

    /// The controls now, clamps as they are.
    pub fn controls_now(&self) -> Vec<f64> {
        self.state.controls()
    }

    /// How far the parts have moved apart where a tack is to be laid, along the way its gap closes, mm;
    /// negative where they have moved together.
    pub fn opening_mm(&self, tack: &super::Tack) -> f64 {
        self.state.opening_mm(tack)
    }

    /// The force that each clamp which is on would let go if it were taken off now, N, along each
    /// direction in which it holds.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn clamp_force_n(&self, clamp: usize) -> Result<Vec<f64>, Fault> {
        let mut ahead = self.clone();
        ahead.go_on(&[Event::Release { clamp }])?;
        Ok(ahead.state.released.iter().rev().find(|r| r.0 == clamp).map_or(vec![], |r| r.1.clone()))
    }

    /// The controls after these further events, cold and free; the course itself stays where it is.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn controls_after(&self, events: &[Event]) -> Result<Vec<f64>, Fault> {
        let mut ahead = self.state.ahead(events);
        ahead.follow(events)?;
        ahead.finish()?;
        Ok(ahead.controls())
    }

    /// As [`Begun::controls_after`], and what the warmth of the moment added to the gaps of each pass as
    /// it was laid, mm: (pass, along its three springs). For the coarse model, see [`super::Coarse::tau`].
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn warmth_after(&self, events: &[Event]) -> Result<(Vec<f64>, Warmth), Fault> {
        let mut ahead = self.state.ahead(events);
        ahead.follow(events)?;
        ahead.finish()?;
        Ok((ahead.controls(), ahead.tau))
    }

    /// The controls after these further events, cold and free, and for each pass named how much they
    /// would differ if that pass alone were laid the other way round. Costs a few times as much as
    /// [`Begun::controls_after`], however many passes are named.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn turned(&self, events: &[Event], passes: &[usize]) -> Result<(Vec<f64>, Vec<Vec<f64>>), Fault> {
        self.state.turned(events, passes)
    }
}
