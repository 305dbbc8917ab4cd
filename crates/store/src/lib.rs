//! guardrow-store
