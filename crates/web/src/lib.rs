//! guardrow-web
