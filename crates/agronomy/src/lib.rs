//! guardrow-agronomy
