//! guardrow-station
