//! How hot, when: the network against closed forms, laws, and whole stepping.
mod clock;
mod energy;
mod frames;
mod loss;
mod plates;
mod rods;
mod superposition;
