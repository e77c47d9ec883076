//! Simulators, models and end-to-end tests.
